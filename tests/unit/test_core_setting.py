"""A batch that sets while a run goes on is told where the estimate is sure, whatever keeps it."""

from typing import Any

import pytest

from controller.core.batches import TemperState
from controller.core.interlock_rows import Cause, Priority
from controller.core.profile import Action, Kind, Profile
from controller.core.state import Alarm, Mode, Notice
from controller.core.surveillance import survey
from controller.core.tempering import Temper, Unseen
from tests.helpers.records import replace
from tests.helpers.scene import machine, phase, profile, question, readings, state

TESTED = profile(phase(questions=(question(action=Action.SET_TEST),)), kind=Kind.DARK)
THICK = TemperState(verdict=Temper.OVER, confidence=0.9, form_v=(0.061, 0.1, 0.15))


RAISED = Notice(
    cause=str(Cause.BATCH_SETTING),
    priority=Priority.MEDIUM,
    alarm=Alarm.ACKNOWLEDGED,
    at_s=1.0,
    seen_s=1.0,
    what="It has set.",
    action="Look.",
    is_advice=True,
)


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


@pytest.mark.parametrize("mode", [Mode.PAUSING, Mode.PAUSED, Mode.RESUMING])
def test_a_pause_keeps_it_warm_and_so_it_is_told_there_too(mode: Mode) -> None:
    assert is_told(mode=mode)


@pytest.mark.parametrize(
    ("changes", "goes_on"),
    [
        ({"form_v": (0.01, 0.061, 0.1)}, True),
        ({"form_v": (0.01, 0.06, 0.1)}, False),
        ({"form_v": (0.01, 0.061, 0.1), "confidence": 0.6}, True),
        ({"verdict": Temper.UNKNOWN}, False),
        ({"verdict": Temper.IN_TEMPER}, False),
        ({"unseen": Unseen.BLIND}, False),
    ],
)
def test_once_told_it_goes_on_until_the_middle_of_the_estimate_is_thin_again(
    changes: dict[str, Any], goes_on: bool
) -> None:
    assert is_told(replace(THICK, **changes), notices=(RAISED,)) is goes_on


def test_what_was_told_and_has_returned_is_raised_by_what_is_sure_alone() -> None:
    returned = replace(RAISED, alarm=Alarm.RETURNED)
    between = replace(THICK, form_v=(0.01, 0.061, 0.1))
    assert not is_told(between, notices=(returned,))
    assert not is_told(between, notices=(replace(RAISED, cause="lid-open"),))


def test_nothing_is_told_where_no_temper_is_aimed_at_or_no_run_goes_on() -> None:
    assert not is_told(curve=profile(phase(), kind=Kind.DARK))
    assert not is_told(mode=Mode.STOPPED)
