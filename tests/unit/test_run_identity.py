"""Who a run is: by what is in force, wherever its files lie."""

from typing import Any

import pytest

from controller.wiring import identity
from tests.helpers.records import replace
from tests.helpers.scene import machine, profile


def made_of(**changes: Any) -> str:  # noqa: ANN401 - any field of a machine
    """The hash of a machine with these changes."""
    changed = replace(machine(), **changes)
    return identity("run", "2026-01-01T06:00:00+00:00", profile(), changed).machine_made_of


def test_a_machine_file_is_the_same_wherever_it_is_named_from() -> None:
    assert made_of(file="kitchen.toml") == made_of(file="/srv/kitchen.toml") == made_of()


@pytest.mark.parametrize("changes", [{"heater_w": 501.0}, {"has_second": True}])
def test_a_machine_with_other_values_is_another(changes: dict[str, object]) -> None:
    assert made_of(**changes) != made_of()
