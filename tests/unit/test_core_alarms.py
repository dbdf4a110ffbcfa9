"""Alarms that are no trips, through the states of IEC 62682, and what a run says it can't see."""

import math
from typing import Any

import pytest

from controller.core.alarms import (
    Active,
    acknowledged,
    followed,
    latched,
    notice_of,
    noticed,
    trip_of,
)
from controller.core.blind_spots import (
    BLIND_SPOTS,
    WITHOUT_BATH,
    WITHOUT_BATH_AND_GUARD,
    WITHOUT_BOWL,
    WITHOUT_SECOND,
    declared,
    missed_on,
    unseen_without,
)
from controller.core.detector_rows import DETECTOR_ROWS
from controller.core.interlock_rows import Cause, Need, Priority
from controller.core.interlocks import INTERLOCKS, PRIORITIES
from controller.core.reasons import why
from controller.core.signals import Fault, Reading, Verb, missing
from controller.core.state import Alarm, Event, EventName, Notice, Trip
from controller.core.words import headline, notice_sentence, trip_sentence
from tests.helpers.records import replace
from tests.helpers.scene import STILL, Rig, asks, heating, machine, names, profile

SEEN = {row.cause: (row, "It is so.") for row in INTERLOCKS}
DISTURBED: Active = {Cause.BOWL_DISTURBED: SEEN[Cause.BOWL_DISTURBED]}


def states(notices: tuple[Notice, ...]) -> dict[str, Alarm]:
    """The state of each alarm."""
    return {notice.cause: notice.alarm for notice in notices}


def after(
    notices: tuple[Notice, ...], active: Active, *moments_s: float
) -> tuple[tuple[Notice, ...], list[Event]]:
    """The alarms after these moments, and all that was said."""
    said: list[Event] = []
    for now_s in moments_s:
        notices, events = followed(notices, active, now_s)
        said += events
    return notices, said


def test_what_is_seen_for_the_first_time_is_an_unacknowledged_alarm_and_said_once() -> None:
    notices, said = after((), DISTURBED, 10.0, 11.0, 12.0)
    assert states(notices) == {Cause.BOWL_DISTURBED: Alarm.UNACKNOWLEDGED}
    assert names(tuple(said)) == [EventName.ALARM_RAISED]
    assert said[0].facts["priority"] == "low"
    assert said[0].facts["heat_withheld"] is False
    assert notices[0].at_s == 10.0


@pytest.mark.parametrize("row", INTERLOCKS, ids=lambda row: str(row.cause))
def test_what_is_recorded_of_an_alarm_or_a_trip_says_as_much_as_the_alarm_itself(row: Any) -> None:  # noqa: ANN401 - a row
    (notice,), (raised,) = followed((), {row.cause: (row, "It is so.")}, 10.0)
    recorded = {key: raised.facts[key] for key in ("cause", "priority", "what", "why", "action")}
    assert recorded == {
        "cause": row.cause,
        "priority": row.priority,
        "what": "It is so.",
        "why": why(row.cause),
        "action": notice.action,
    }
    assert notice_of(raised.facts, 10.0) == replace(notice, why=why(row.cause))
    assert notice_sentence(notice_of(raised.facts, 10.0)) == notice_sentence(notice)
    trip = Trip(cause=row.cause, at_s=10.0, what="It is so.", action=row.action)
    facts = latched(trip).facts
    assert facts["priority"] == PRIORITIES[row.cause]
    assert trip_of(facts, 10.0) == replace(trip, why=why(row.cause))
    assert trip_sentence(trip_of(facts, 10.0)) == trip_sentence(trip)


def test_a_record_from_before_the_why_was_kept_is_told_with_that_of_this_version() -> None:
    old = {"cause": "level-lost", "what": "It is so.", "action": "Do it."}
    assert notice_sentence(notice_of(old, 1.0)) == (
        f"Heat is held back. It is so. {why('level-lost')} Do it."
    )
    assert f"It is so. {why('level-lost')} Do it." in trip_sentence(trip_of(old, 1.0))


def test_a_cause_of_a_newer_version_is_told_with_its_own_why() -> None:
    newer = {"cause": "moon-too-full", "what": "It is so.", "why": "It pulls.", "action": "Wait."}
    assert notice_sentence(notice_of(newer, 1.0)) == "Heat is held back. It is so. It pulls. Wait."
    assert trip_sentence(trip_of(newer, 1.0)) == "Heat is off. It is so. It pulls. Wait."


def test_an_alarm_whose_reason_is_gone_stays_until_somebody_has_seen_it() -> None:
    notices, _ = after((), DISTURBED, 10.0)
    still, said = after(notices, {}, 39.9)
    assert (states(still), said) == (states(notices), [])
    gone, said = after(still, {}, 40.0, 41.0, 9000.0)
    assert states(gone) == {Cause.BOWL_DISTURBED: Alarm.RETURNED}
    assert names(tuple(said)) == [EventName.ALARM_RETURNED]
    assert acknowledged(gone) == ()


def test_an_acknowledged_alarm_is_over_as_soon_as_its_reason_is_gone() -> None:
    notices, _ = after((), DISTURBED, 10.0)
    known, said = after(acknowledged(notices), DISTURBED, 11.0)
    assert states(known) == {Cause.BOWL_DISTURBED: Alarm.ACKNOWLEDGED}
    assert said == []
    over, said = after(known, {}, 41.0)
    assert over == ()
    assert names(tuple(said)) == [EventName.ALARM_RETURNED]


def test_a_reason_that_comes_back_is_told_by_what_is_seen_now() -> None:
    gone, _ = after(after((), DISTURBED, 10.0)[0], {}, 50.0)
    (row, before) = DISTURBED[Cause.BOWL_DISTURBED]
    notices, said = after(gone, {Cause.BOWL_DISTURBED: (row, "Seen now.")}, 60.0)
    assert before != "Seen now."
    assert [event.facts["what"] for event in said] == ["Seen now."]
    assert [(one.what, one.at_s, one.seen_s) for one in notices] == [("Seen now.", 10.0, 60.0)]


def test_a_reason_that_comes_back_wants_to_be_acknowledged_anew() -> None:
    notices, _ = after((), DISTURBED, 10.0)
    gone, _ = after(notices, {}, 50.0)
    again, said = after(gone, DISTURBED, 60.0)
    assert states(again) == {Cause.BOWL_DISTURBED: Alarm.UNACKNOWLEDGED}
    assert names(tuple(said)) == [EventName.ALARM_RAISED]


TRIP = Trip(cause=Cause.LEVEL_LOST, at_s=5.0, what="It is so.", action="Do it.")
LOST = Cause.BOWL_PROBE_MISSING


@pytest.mark.parametrize(("trips", "is_steered"), [((TRIP,), True), ((), False)])
def test_advice_ends_with_the_run_and_none_is_raised_after_it(
    trips: tuple[Trip, ...], is_steered: bool
) -> None:
    active: Active = {**DISTURBED, LOST: SEEN[LOST]}
    before, _ = noticed((), (), active, 10.0, is_steered=True)
    assert set(states(before)) == {Cause.BOWL_DISTURBED, LOST}
    after_it, told = noticed(before, trips, active, 11.0, is_steered=is_steered)
    assert set(states(after_it)) == {LOST}
    assert [(event.name, event.facts["cause"]) for event in told] == [
        (EventName.ALARM_RETURNED, Cause.BOWL_DISTURBED)
    ]
    assert noticed((), trips, DISTURBED, 12.0, is_steered=is_steered) == ((), ())


def test_once_tripped_an_alarm_returns_only_when_its_reason_is_gone_and_never_comes_back() -> None:
    still_there: Active = {LOST: SEEN[LOST]}
    notices, _ = noticed((), (), still_there, 10.0, is_steered=True)
    for now_s in (20.0, 60.0, 3600.0):
        notices, told = noticed(notices, (TRIP,), still_there, now_s, is_steered=False)
        assert (states(notices), told) == ({LOST: Alarm.UNACKNOWLEDGED}, ())
    notices, told = noticed(notices, (TRIP,), {}, 3630.0, is_steered=False)
    assert states(notices) == {LOST: Alarm.RETURNED}
    assert names(told) == [EventName.ALARM_RETURNED]
    notices, told = noticed(notices, (TRIP,), still_there, 3631.0, is_steered=False)
    assert (states(notices), told) == ({LOST: Alarm.RETURNED}, ())


def test_advice_that_had_returned_is_not_said_to_return_again_as_the_run_ends() -> None:
    raised, _ = after((), DISTURBED, 10.0)
    gone, _ = after(raised, {}, 50.0)
    assert noticed(gone, (TRIP,), {}, 60.0, is_steered=True) == ((), ())


def test_the_most_pressing_alarm_comes_first() -> None:
    causes = (Cause.BOWL_DISTURBED, Cause.LOAD_JUMPED, Cause.BATH_PROBES_DISAGREE)
    notices, _ = after((), {str(cause): SEEN[cause] for cause in causes}, 1.0)
    assert [notice.priority for notice in notices] == ["high", "medium", "low"]


def test_while_the_run_goes_on_nobody_is_told_to_start_again() -> None:
    for row in INTERLOCKS:
        (notice,), _ = after((), {row.cause: (row, "It is so.")}, 1.0)
        assert "start again" not in notice.action or row.cause in ENDS_ANYWAY
        assert notice.action.endswith(".")


# They trip at once, before anybody is told.
ENDS_ANYWAY = {row.cause for row in INTERLOCKS if row.trip_after_s(profile()) == 0.0}


def test_only_three_priorities_are_used_and_few_causes_are_high() -> None:
    assert {row.priority for row in INTERLOCKS} == set(Priority)
    high = {row.cause for row in INTERLOCKS if row.priority is Priority.HIGH}
    assert len(high) <= len(set(Cause)) / 4


# In a run


def lost(rig: Rig, seconds: int, **changes: Any) -> None:  # noqa: ANN401 - any field of the readings
    """So many ticks in which the bowl's probe gives no value."""
    for _ in range(seconds):
        rig.step(bowl=missing(Fault.NO_ANSWER), **changes)


def test_heat_that_is_held_back_for_five_seconds_is_told_with_what_to_do() -> None:
    rig = heating().run(30)
    lost(rig, 5)
    early = rig.state.notices
    lost(rig, 1)
    (notice,) = rig.state.notices
    assert early == ()
    assert (notice.cause, notice.alarm) == (Cause.BOWL_PROBE_MISSING, Alarm.UNACKNOWLEDGED)
    text = headline(rig.state, STILL)
    assert notice_sentence(notice) in text
    assert "Heat is held back." in text
    assert "check the bowl probe's plug and wire; replace the probe if that does not help." in text


def test_a_trip_takes_the_place_of_its_alarm() -> None:
    rig = heating()
    lost(rig, 12)
    assert [trip.cause for trip in rig.state.trips] == [Cause.BOWL_PROBE_MISSING]
    assert rig.state.notices == ()


def test_once_tripped_nothing_more_is_raised() -> None:
    rig = heating()
    lost(rig, 12)
    for _ in range(9):  # the bath's probe falls silent, too, for less than it takes to trip
        rig.step(bath=missing(Fault.NO_ANSWER), bowl=missing(Fault.NO_ANSWER))
    assert Cause.BATH_PROBE_MISSING in rig.state.withheld
    assert rig.state.notices == ()


def test_acknowledging_tells_that_somebody_knows_and_permits_no_heat() -> None:
    rig = heating().run(30)
    lost(rig, 6)
    events = rig.step(asks(Verb.ACKNOWLEDGE), bowl=missing(Fault.NO_ANSWER))
    assert EventName.ALARM_ACKNOWLEDGED in names(events)
    assert states(rig.state.notices) == {Cause.BOWL_PROBE_MISSING: Alarm.ACKNOWLEDGED}
    assert not rig.heater_on
    again = rig.step(asks(Verb.ACKNOWLEDGE), bowl=missing(Fault.NO_ANSWER))
    assert EventName.ALARM_ACKNOWLEDGED not in names(again)


def test_a_late_tick_or_a_single_wild_value_is_no_alarm() -> None:
    rig = heating()
    rig.step(late_s=9.0)
    rig.step(bath=Reading(80.0))
    assert not math.isnan(rig.state.run_s)
    assert rig.state.notices == ()
    assert EventName.ALARM_RAISED not in names(tuple(rig.events))


def test_a_run_begins_with_what_can_t_be_seen_on_its_machine() -> None:
    bare = Rig().start()
    told = [facts for facts in bare.facts(EventName.SIGHT_DECLARED) if "unseen" in facts]
    said = {facts["not_fitted"]: facts["unseen"] for facts in told}
    assert set(said) == set(Need) - {Need.BATH, Need.BOWL}  # for those there are lacks
    assert said[Need.LEVEL] == "low or lost water"

    assert [facts for facts in bare.facts(EventName.SIGHT_DECLARED) if "unseen" not in facts] == [
        {"not_fitted": "second switch", "means": WITHOUT_SECOND},
        {"may_miss": ", ".join(missed_on(machine()))},
    ]


FULL = {f"has_{one}": True for one in ("level", "shaft", "load", "guard", "mains", "current")}
FOUR_LINES = 4 * 80  # characters


def test_where_everything_is_fitted_a_run_begins_with_what_that_may_miss_alone() -> None:
    (event,) = declared(machine(**FULL, has_second=True))
    assert set(event.facts) == {"may_miss"}
    first, *_ = declared(machine(**FULL))
    assert first.facts["not_fitted"] == "second switch"


def test_what_a_run_may_miss_is_named_in_few_words() -> None:
    every = dict.fromkeys(spot.brief for spot in BLIND_SPOTS)
    unsighted = machine(has_level=True, has_second=True)
    assert missed_on(unsighted) == tuple(every)
    assert len(", ".join(every)) < FOUR_LINES


@pytest.mark.parametrize(
    ("flags", "brief"),
    [
        ({"has_level": False}, "a level switch that sticks"),
        ({"has_lid": True}, "a lid that is off"),
        ({"has_current": True}, "a heater of another power"),
        ({"has_second": False}, "one of two switches welded"),
        ({"has_stirrer": False}, "a stirrer that stands before the chocolate is soft"),
    ],
)
def test_what_is_seen_or_is_not_there_is_not_named(flags: dict[str, bool], brief: str) -> None:
    every = missed_on(machine(has_level=True, has_second=True))
    named = missed_on(machine(**{"has_level": True, "has_second": True, **flags}))
    assert set(every) - set(named) == {brief}


def test_without_the_bowl_s_thermometer_only_the_bath_s_is_looked_at() -> None:
    on_bath = [spot.on(machine(has_bowl=False, has_stirrer=False)) for spot in BLIND_SPOTS]
    named = [spot.what for spot, is_there in zip(BLIND_SPOTS, on_bath, strict=True) if is_there]
    assert [what for what in named if "bowl's thermometer" in what] == []
    assert [what for what in named if "a thermometer" in what] != []


@pytest.mark.parametrize(
    ("flags", "need", "words"),
    [
        ({"has_bath": False}, Need.BATH, (WITHOUT_BATH, WITHOUT_BATH_AND_GUARD)),
        ({"has_bath": False, "has_guard": True}, Need.BATH, (WITHOUT_BATH,)),
        ({"has_bowl": False}, Need.BOWL, (WITHOUT_BOWL,)),
    ],
)
def test_a_machine_without_a_thermometer_says_what_nobody_sees_then(
    flags: dict[str, bool], need: Need, words: tuple[str, ...]
) -> None:
    assert dict(unseen_without(machine(**flags)))[need] == ", ".join(words)
    assert need not in dict(unseen_without(machine()))


@pytest.mark.parametrize("row", [row for row in INTERLOCKS if row.sees], ids=lambda row: row.cause)
def test_what_a_row_sees_is_named_where_its_sensor_is_missing(row: Any) -> None:  # noqa: ANN401 - a row
    assert row.sees in dict(unseen_without(machine()))[row.needs]


def test_each_blind_spot_has_its_reason_and_what_to_do_instead() -> None:
    for spot in BLIND_SPOTS:
        assert all((spot.brief, spot.what, spot.why, spot.instead))
    assert len(DETECTOR_ROWS) < len(INTERLOCKS)
