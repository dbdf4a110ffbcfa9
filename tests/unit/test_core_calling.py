"""Buzzer and lamp: what calls, how, and what silences it. Patterns are own engineering values."""

import pytest

from controller.core.calling import PATTERNS, Call, call_of, signals_of, still_calls
from controller.core.interlock_rows import Cause, Priority
from controller.core.interlocks import INTERLOCKS, PRIORITIES
from controller.core.state import Alarm, Mode, Notice, State, Trip
from tests.helpers.scene import question, state

AT_S = 1000.0  # when it came, s of the run
HOT = Trip(cause=Cause.BATH_OVER_LIMIT, at_s=AT_S, what="It is so.", action="Do it.")
STANDS = Trip(cause=Cause.STIRRER_STOPPED, at_s=AT_S, what="It is so.", action="Do it.")


def notice(priority: Priority, alarm: Alarm = Alarm.UNACKNOWLEDGED, at_s: float = AT_S) -> Notice:
    return Notice(
        cause=Cause.BOWL_DISTURBED,
        priority=priority,
        at_s=at_s,
        seen_s=at_s,
        what="It is so.",
        action="Do it.",
        is_advice=True,
        alarm=alarm,
    )


def known(trip: Trip) -> Trip:
    return Trip(
        cause=trip.cause,
        at_s=trip.at_s,
        what=trip.what,
        action=trip.action,
        alarm=Alarm.ACKNOWLEDGED,
    )


ASKED = state(run_s=AT_S, ask=question(), asked_s=0.0)
CALLS: tuple[tuple[State, Call], ...] = (
    (state(), Call.NOTHING),
    (state(trips=(HOT,)), Call.HIGH),
    (state(trips=(STANDS,)), Call.MEDIUM),
    (state(trips=(STANDS, HOT)), Call.HIGH),
    (state(notices=(notice(Priority.HIGH),)), Call.HIGH),
    (state(notices=(notice(Priority.MEDIUM),)), Call.MEDIUM),
    (state(notices=(notice(Priority.LOW),)), Call.LOW),
    (state(notices=(notice(Priority.LOW, Alarm.RETURNED),)), Call.LOW),
    (state(notices=(notice(Priority.HIGH, Alarm.ACKNOWLEDGED),)), Call.KNOWN),
    (state(trips=(known(HOT),)), Call.KNOWN),
    (state(trips=(known(HOT),), notices=(notice(Priority.LOW),)), Call.LOW),
    (ASKED, Call.QUESTION),
    (state(ask=question(), notices=(notice(Priority.LOW),)), Call.LOW),
    (state(ask=question(), notices=(notice(Priority.HIGH, Alarm.ACKNOWLEDGED),)), Call.QUESTION),
)

# seconds of the first minute in which each call sounds and shines
SECONDS: dict[Call, tuple[set[int], set[int]]] = {
    Call.HIGH: (set(range(0, 60, 2)), set(range(0, 60, 2))),
    Call.MEDIUM: (set(range(0, 60, 5)), {s for s in range(60) if s % 5 < 3}),
    Call.LOW: ({0, 30}, {*range(5), *range(30, 35)}),
    Call.QUESTION: ({0}, set(range(30))),
    Call.KNOWN: (set(), set(range(60))),
    Call.NOTHING: (set(), set()),
}


@pytest.mark.parametrize(("given", "call"), CALLS)
def test_the_most_pressing_that_nobody_acknowledged_calls(given: State, call: Call) -> None:
    assert call_of(given)[0] is call


@pytest.mark.parametrize(("given", "call"), [(CALLS[i]) for i in (0, 1, 2, 6, 9, 11)])
def test_each_call_has_its_own_pattern_which_begins_at_once(given: State, call: Call) -> None:
    sounds, shines = set(), set()
    for second in range(60):
        progress = given.progress
        now = state(
            run_s=AT_S + second,
            trips=given.trips,
            notices=given.notices,
            ask=progress.ask,
            asked_s=float(second),
        )
        told = signals_of(now)
        sounds |= {second} if told.buzzer_on else set()
        shines |= {second} if told.lamp_on else set()
    assert (sounds, shines) == SECONDS[call]


def test_every_call_has_a_pattern_of_whole_seconds_and_no_two_are_alike() -> None:
    assert set(PATTERNS) == set(Call) == set(SECONDS)
    assert len({str(SECONDS[call]) for call in Call}) == len(Call)


def test_of_two_alike_the_newer_one_begins_the_pattern() -> None:
    older, newer = notice(Priority.LOW), notice(Priority.LOW, at_s=AT_S + 7.0)
    assert call_of(state(notices=(older, newer)))[1] == AT_S + 7.0


def test_each_cause_calls_as_the_most_pressing_of_its_rows() -> None:
    assert PRIORITIES[Cause.TICK_LATE] is Priority.MEDIUM  # one of its rows is low
    assert set(PRIORITIES) == {str(row.cause) for row in INTERLOCKS}


@pytest.mark.parametrize(
    ("given", "calls"),
    [
        (state(mode=Mode.ABORTED, trips=(HOT,)), True),
        (state(mode=Mode.ABORTED, trips=(HOT,), ended_s=1800.0), True),
        (state(mode=Mode.ABORTED, trips=(HOT,), ended_s=1800.1), False),
        (state(mode=Mode.ABORTED, trips=(known(HOT),)), False),
        (state(mode=Mode.STOPPED), False),
        (state(mode=Mode.RUNNING, trips=(HOT,)), False),
    ],
)
def test_a_run_that_tripped_goes_on_calling_until_somebody_has_noticed(
    given: State, calls: bool
) -> None:
    assert still_calls(given) is calls
