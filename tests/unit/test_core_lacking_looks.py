"""What is seen where a thermometer says nothing, for a moment or for good: all but its own."""

from typing import Any

import pytest

from tests.unit.test_core_consistency import (
    NAN,
    STEP_S,
    believed,
    known,
    loaded,
    looks,
    paths,
    sight,
)


@pytest.mark.parametrize("lost", ["bath_c", "bowl_c"])
def test_bath_and_bowl_are_compared_only_with_good_values_of_both(lost: str) -> None:
    fallen = looks(paths([33.0] * 2, [32.0, 29.0]), known(), believed())
    later = looks([sight(1010.0, **{lost: NAN})], fallen, believed(bath=9.0, ln_k=-0.7))
    assert (later.looks, later.fell_k, later.moved_k) == (fallen.looks, 3.0, -3.0)
    assert (later.unlike_k, later.learned) == (fallen.unlike_k, fallen.learned)


@pytest.mark.parametrize(
    "lacks", [{"bowl_c": NAN}, {"bath_c": NAN}, {"bowl_c": NAN, "bath_c": NAN}]
)
def test_a_machine_without_a_thermometer_watches_its_guards_all_the_same(
    lacks: dict[str, Any],
) -> None:
    still = [sight(1000.0 + STEP_S * n, guard_c=33.0, asked_s=0.1 * n, **lacks) for n in range(100)]
    assert looks(still).guard_frozen_s == pytest.approx(495.0)


def test_a_machine_without_a_thermometer_in_its_bowl_compares_those_in_its_bath() -> None:
    assert looks([sight(1000.0, bowl_c=NAN, guard_c=35.5)]).apart_k == pytest.approx(2.5)


def test_a_bath_value_that_is_missed_for_a_moment_brings_no_two_thermometers_together() -> None:
    apart = looks([sight(1000.0, guard_c=36.0)])
    assert looks([sight(1005.0, bath_c=NAN, guard_c=36.1)], apart).apart_k == pytest.approx(3.0)
    assert looks([sight(1000.0, bath_c=NAN, guard_c=36.0)]).apart_k == 0.0


@pytest.mark.parametrize("lacks", [{"bowl_c": NAN}, {"bath_c": NAN}])
def test_a_machine_without_a_thermometer_watches_its_stirrers_load_all_the_same(
    lacks: dict[str, Any],
) -> None:
    assert loaded(1.0, 0.9, 0.4, **lacks) == pytest.approx(0.4)
