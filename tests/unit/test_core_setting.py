"""A batch that sets while a run goes on is told where the estimate is sure, whatever keeps it."""

from typing import Any

import pytest

from controller.core.batches import TemperState
from controller.core.interlock_rows import Cause
from controller.core.profile import Action, Kind, Profile
from controller.core.state import Mode
from controller.core.surveillance import survey
from controller.core.tempering import Temper, Unseen
from tests.helpers.records import replace
from tests.helpers.scene import machine, phase, profile, question, readings, state

TESTED = profile(phase(questions=(question(action=Action.SET_TEST),)), kind=Kind.DARK)
THICK = TemperState(verdict=Temper.OVER, confidence=0.9, form_v=(0.061, 0.1, 0.15))


def is_told(temper: TemperState = THICK, curve: Profile = TESTED, **changes: Any) -> bool:  # noqa: ANN401 - any field of a state
    """Whether six seconds of it are told."""
    now = state(**{"mode": Mode.RUNNING, "temper": temper, **changes})
    first = survey(now, curve, machine(), readings(), 1.0)
    later = replace(now, watch=first.watch)
    return Cause.BATCH_SETTING in survey(later, curve, machine(), readings(), 6.0).active


def test_a_batch_that_sets_is_told() -> None:
    assert is_told()


@pytest.mark.parametrize(
    "changes",
    [
        {"verdict": Temper.IN_TEMPER},
        {"verdict": Temper.UNDER},
        {"confidence": 0.89},
        {"form_v": (0.06, 0.1, 0.15)},
        {"unseen": Unseen.BLIND},
        {"unseen": Unseen.LOAD},
    ],
)
def test_nothing_is_told_of_an_estimate_that_is_not_sure_of_it(changes: dict[str, Any]) -> None:
    assert not is_told(replace(THICK, **changes))


def test_nothing_is_told_where_no_temper_is_aimed_at_or_no_run_goes_on() -> None:
    assert not is_told(curve=profile(phase(), kind=Kind.DARK))
    assert not is_told(mode=Mode.STOPPED)
