"""The stop button and the lid's switch under the tick: what a press and an open lid lead to.

Responsible for what the core makes of their readings; not for how a line is read.
"""

import math
from io import StringIO

import pytest

from controller.core.hands import LID_OFF_LOSS
from controller.core.profile import StopStirrer
from controller.core.signals import STALE_AFTER_S, Fault, Reading, Verb, missing
from controller.core.state import ENDED, EventName, Mode
from controller.core.switches import LID_STEADY_S
from controller.core.thermal import LOSS
from controller.core.words import headline
from controller.ports import Moment
from controller.report.progress import ProgressLine
from tests.helpers.records import replace
from tests.helpers.scene import STILL, Rig, asks, heating, names

WELL, PRESSED = Reading(1.0), Reading(0.0)
ON, OFF = Reading(1.0), Reading(0.0)
STIRS_ON = replace(STILL, stop_stirrer=StopStirrer.KEEP)
TICKS = 20


def stirring() -> Rig:
    """A run that heats and stirs, and would stir on after a stop."""
    rig = Rig(profile=STIRS_ON, bath_c=38.0, bowl_c=38.0, is_live=False)
    rig.start().run(10)
    assert rig.heater_on
    assert rig.state.stirrer_rpm > 0.0
    return rig


def moment_of(rig: Rig) -> Moment:
    """The last tick, with all that has happened so far."""
    return Moment(
        now_s=0.0,
        state=rig.state,
        heater_on=False,
        stirrer_rpm=0.0,
        shaft_rpm=None,
        load_w=None,
        events=tuple(rig.events),
    )


def loss(rig: Rig) -> float:
    """The bath's losses, as believed."""
    assert rig.state.belief is not None
    return rig.state.belief.mean[LOSS]


def test_a_press_ends_heat_and_stirring_in_its_own_tick_and_the_run_for_good() -> None:
    rig = stirring()
    events = rig.step(stop=PRESSED)
    assert rig.heater_off
    assert rig.state.stirrer_rpm == 0.0
    assert EventName.BUTTON_PRESSED in names(events)
    rig.step(stop=PRESSED)
    assert rig.is_in(Mode.STOPPED)
    for _ in range(TICKS):
        assert names(rig.step(asks(Verb.START), asks(Verb.RESUME), stop=WELL)) == (
            [EventName.REQUEST_REFUSED] * 2
        )
        assert rig.heater_off
        assert rig.state.stirrer_rpm == 0.0
    assert rig.is_in(Mode.STOPPED)
    assert len(rig.facts(EventName.BUTTON_PRESSED)) == 1
    reasons = {one["reason"] for one in rig.facts(EventName.REQUEST_REFUSED)}
    assert reasons == {"the stop button was pressed"}
    assert rig.causes == []


def test_a_stop_from_the_keyboard_stirs_on_until_the_button_is_pressed() -> None:
    rig = stirring()
    for _ in range(5):
        rig.step(asks(Verb.STOP), stop=WELL)
    assert rig.state.mode in ENDED
    assert rig.state.stirrer_rpm > 0.0
    rig.step(stop=PRESSED)
    assert rig.state.stirrer_rpm == 0.0
    assert len(rig.facts(EventName.BUTTON_PRESSED)) == 1


@pytest.mark.parametrize("verb", [None, Verb.PAUSE])
def test_a_press_is_heeded_before_a_start_and_in_a_pause(verb: Verb | None) -> None:
    rig = Rig()
    if verb is not None:
        rig = stirring()
        for _ in range(3):
            rig.step(asks(verb), stop=WELL)
        assert rig.is_in(Mode.PAUSED)
    rig.step(asks(Verb.START), stop=PRESSED)
    rig.step(stop=WELL)
    assert rig.is_in(Mode.STOPPED)
    assert rig.heater_off


def test_a_button_that_can_not_be_read_is_pressed_after_five_seconds_and_not_before() -> None:
    rig = stirring()
    rig.step(stop=WELL)
    for _ in range(math.floor(STALE_AFTER_S)):
        rig.step(stop=missing())
        assert rig.is_in(Mode.RUNNING)
    rig.step(stop=missing())
    assert rig.is_in(Mode.STOPPING)
    assert "couldn't be read for 5 s" in str(rig.facts(EventName.BUTTON_PRESSED)[0]["what"])


@pytest.mark.parametrize("bad", [missing(Fault.DEVICE), Reading(math.nan), Reading(1.0, 5.5)])
def test_a_good_word_of_the_button_begins_the_five_seconds_anew(bad: Reading) -> None:
    rig = stirring()
    for second in range(3 * TICKS):
        rig.step(stop=WELL if second % 4 == 0 else bad)
    assert rig.is_in(Mode.RUNNING)


def test_a_button_that_answers_ever_later_is_pressed_when_its_word_is_five_seconds_old() -> None:
    rig = stirring()
    for age_s in range(6):
        rig.step(stop=Reading(1.0, float(age_s)))
    assert rig.is_in(Mode.RUNNING)
    rig.step(stop=Reading(1.0, 6.0))
    assert rig.is_in(Mode.STOPPING)


def test_a_lid_that_is_off_is_believed_once_it_is_so_for_two_seconds_and_put_back_likewise() -> (
    None
):
    rig = heating()
    rig.step(lid=ON)
    before = loss(rig)
    while not rig.facts(EventName.DEED_ANNOUNCED):
        rig.step(lid=OFF)
    assert loss(rig) == pytest.approx(LID_OFF_LOSS * before, rel=0.02)
    for _ in range(TICKS):
        rig.step(lid=OFF)
    for _ in range(TICKS):
        rig.step(lid=ON)
    deeds = [(one["deed"], one["by"]) for one in rig.facts(EventName.DEED_ANNOUNCED)]
    assert deeds == [("lid open", "switch"), ("lid closed", "switch")]
    assert loss(rig) == pytest.approx(before, rel=0.15)  # a still bath teaches something meanwhile
    assert rig.is_in(Mode.RUNNING)


def test_a_lid_that_rattles_or_can_not_be_read_changes_nothing() -> None:
    rig = heating()
    rig.step(lid=ON)
    for second in range(3 * TICKS):
        rig.step(lid=OFF if second % math.ceil(LID_STEADY_S) == 0 else ON)
    for _ in range(TICKS):
        rig.step(lid=missing())
    assert rig.facts(EventName.DEED_ANNOUNCED) == []


@pytest.mark.parametrize(
    ("stop", "says"),
    [
        (PRESSED, "The stop button is pressed: heat and stirrer are off. See that nobody is"),
        (missing(), "The stop button couldn't be read for 5 s, which counts as pressed: heat and"),
    ],
)
def test_where_the_run_stands_is_that_its_button_ended_it(stop: Reading, says: str) -> None:
    rig = stirring()
    rig.step(stop=WELL)
    for _ in range(math.floor(STALE_AFTER_S) + 3):
        rig.step(stop=stop)
    assert rig.is_in(Mode.STOPPED)
    assert headline(rig.state, rig.profile).startswith(says)
    assert headline(rig.state, rig.profile).endswith("then start a new run.")


def test_both_are_told_in_a_sentence() -> None:
    rig = stirring()
    for _ in range(5):
        rig.step(lid=OFF, stop=WELL)
    rig.step(stop=PRESSED)
    rig.step(stop=PRESSED)
    shown = StringIO()
    screen = ProgressLine(shown, profile=STIRS_ON, clock_s=lambda: 0.0)
    screen.tell(moment_of(rig))
    lines = shown.getvalue()
    assert "taken into account: lid open (seen by its switch)" in lines
    assert "The stop button is pressed: heat and stirrer are off." in lines
    assert "stopped: heat and stirrer are off" in lines
