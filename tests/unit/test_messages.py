"""Every alarm, trip and question read as a stranger would: what, why, what to do now.

Responsible for all sentences of alarms, trips and questions; what is plain says helpers/wording.
"""

import math
import re
from typing import Any

import pytest
from msgspec import Struct

from controller.core.interlock_rows import (
    GUARD_REARM,
    Cause,
    Effect,
    Interlock,
    Need,
    without_again,
)
from controller.core.interlocks import INTERLOCKS, judge
from controller.core.profile import Profile, Question
from controller.core.proof import Proof, Step
from controller.core.reasons import CALL_OFF, WHY, call_off, fate, why
from controller.core.self_rows import SELF_ROWS
from controller.core.signals import Fault, Permit
from controller.core.state import Notice, Trip
from controller.core.vitals import Vitals
from controller.core.words import heat_after, notice_sentence, trip_sentence
from controller.files.profile_file import load_profile, shipped_profiles
from controller.guard.decision import Cause as GuardCause
from controller.guard.resets import RULES
from controller.guard.words import REARM, WORDS
from tests.helpers.records import replace
from tests.helpers.scene import evidence, machine, probe, profile
from tests.helpers.wording import JARGON, faults_of

SICK = Vitals(
    age_s=90.0,
    memory_grown_mb=100.0,
    memory_left_mb=5.0,
    threads=40,
    ended=("link",),
    disk_left_mb=1.0,
    record_fault="No space left on device",
    clock_jump_s=99.0,
    late_s=3.0,
)
HOT = Permit(
    latched="bath-over-cap", age_s=9.0, bath_c=66.0, what="the bath was hotter than its limit"
)
SEEN = evidence(vitals=SICK, permit=HOT)


# What a real machine shows of a trip's action, whatever its own file is called.
WHOLE = 190  # signs
KEEPS = machine(keeps_trips=True)


def sentences_of(text: str) -> list[str]:
    return re.split(r"(?<=[.!?]) (?=[A-Z])", text)


def parts_of(row: Interlock) -> dict[str, str]:
    return {"what": row.what(SEEN), "why": why(row.cause), "action": row.action}


@pytest.mark.parametrize("row", INTERLOCKS, ids=lambda row: str(row.cause))
def test_every_alarm_says_what_why_and_what_to_do_now(row: Interlock) -> None:
    assert {part: wrong for part, text in parts_of(row).items() if (wrong := faults_of(text))} == {}


def blanked(value: Any, number: float) -> Any:  # noqa: ANN401 - any field
    """A record with `number` for each of its numbers."""
    if isinstance(value, Struct):
        changes = {name: blanked(getattr(value, name), number) for name in value.__struct_fields__}
        return type(value)(**changes)
    return number if isinstance(value, float) else value


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("row", INTERLOCKS, ids=lambda row: str(row.cause))
def test_what_has_no_number_is_said_in_words(row: Interlock, number: float) -> None:
    blank = blanked(replace(SEEN, proof=Proof(step=Step.HEAT)), number)
    for seen in (blank, replace(blank, permit=None)):
        assert re.search(r"\b(nan|inf)", row.says(seen)) is None
        assert [wrong for wrong in faults_of(row.says(seen)) if wrong != "is too long"] == []


def test_a_number_is_left_as_it_is() -> None:
    assert [row.says(SEEN) for row in INTERLOCKS] == [row.what(SEEN) for row in INTERLOCKS]


# How a person knows when heat may come again: at once, after a repair, or by another choice.
EXITS = re.compile(r"start again|before (it|anything) heats", re.IGNORECASE)


@pytest.mark.parametrize(
    "row",
    [row for row in INTERLOCKS if row.effect is Effect.TRIP],
    ids=lambda row: str(row.cause),
)
def test_every_trip_says_when_heat_may_come_again(row: Interlock) -> None:
    assert EXITS.search(row.action)


@pytest.mark.parametrize(
    ("keeps_trips", "end"),
    [
        (False, "then start again."),
        (True, "Then end this run, type `bainward rearm --machine FILE`, and start again."),
    ],
)
def test_a_trip_that_the_guard_keeps_is_to_be_re_armed_first(
    *, keeps_trips: bool, end: str
) -> None:
    (trip,) = judge(
        (),
        evidence(limits_intact=False),
        machine=machine(keeps_trips=keeps_trips),
        profile=profile(),
        latched=frozenset(),
        now_s=100.0,
        dt_s=1.0,
    ).new_trips
    assert trip.action.endswith(f" {end}")
    assert trip.action.count("start again") == 1


def assert_a_real_machine_says_it_well(shown: str) -> None:
    """What to do in one sentence, how heat comes back in another, and both of them short."""
    assert [wrong for one in sentences_of(shown) for wrong in faults_of(one)] == []
    assert len(sentences_of(shown)) == 2
    assert len(shown) <= WHOLE
    assert shown.count("`bainward rearm --machine FILE`") == 1


@pytest.mark.parametrize(
    "row",
    [row for row in INTERLOCKS if row.effect is Effect.TRIP],
    ids=lambda row: str(row.cause),
)
def test_a_real_machine_says_what_to_do_and_how_heat_comes_back(row: Interlock) -> None:
    assert_a_real_machine_says_it_well(row.after_trip(KEEPS, evidence()))


@pytest.mark.parametrize("latched", [one for one in GuardCause if one is not GuardCause.NONE])
def test_a_real_machine_says_so_of_all_that_the_guard_latches(latched: GuardCause) -> None:
    what, action = WORDS[latched]
    permit = Permit(latched=str(latched), age_s=0.0, bath_c=30.0, what=what, action=action)
    (row,) = [row for row in INTERLOCKS if row.cause is Cause.GUARD_LATCHED]
    assert_a_real_machine_says_it_well(row.after_trip(KEEPS, evidence(permit=permit)))


def test_a_trip_names_the_machine_file_that_is_to_be_typed() -> None:
    (row,) = [row for row in INTERLOCKS if row.cause is Cause.LEVEL_LOST]
    shown = row.after_trip(machine(keeps_trips=True, file="kitchen.toml"), SEEN)
    assert "`bainward rearm --machine kitchen.toml`" in shown


def test_a_late_phase_says_which_way_the_bowl_has_to_go() -> None:
    (row,) = [row for row in INTERLOCKS if row.cause is Cause.PHASE_LATE]
    assert row.says(replace(SEEN, bowl=probe(31.0))) == (
        "Phase melt has lasted 10 min, longer than its profile allows; the bowl is at 31.0 °C and "
        "should be at 40.0 °C."
    )
    assert row.says(replace(SEEN, bowl=probe(math.nan))).endswith(
        "; the bowl should be at 40.0 °C."
    )


def test_a_part_that_ended_is_called_by_what_it_does() -> None:
    (row,) = [row for row in SELF_ROWS if row.cause is Cause.PART_ENDED]
    what = row.says(replace(SICK, ended=("bus w1", "journal", "link")))
    assert what == (
        "A part of this program has ended: what reads the thermometers of w1, "
        "what writes the record, what talks to the broker."
    )


@pytest.mark.parametrize("row", INTERLOCKS, ids=lambda row: str(row.cause))
def test_no_alarm_says_the_same_twice(row: Interlock) -> None:
    assert len(set(parts_of(row).values())) == len(parts_of(row))


def test_every_cause_that_ends_a_run_says_when_to_call_the_batch_off_and_no_other() -> None:
    trips = {str(row.cause) for row in INTERLOCKS if row.effect is Effect.TRIP}
    latched = {str(one) for one in GuardCause} - {"none", "controller-tripped"}
    assert set(CALL_OFF) == trips | latched
    assert {cause: wrong for cause, text in CALL_OFF.items() if (wrong := faults_of(text))} == {}
    assert call_off(Cause.BOWL_DISTURBED) == ""


def test_every_cause_has_its_reason_and_no_other() -> None:
    assert set(WHY) == {str(cause) for cause in Cause}
    assert why("a-word-of-a-newer-version") == ""


@pytest.mark.parametrize("fault", [fault for fault in Fault if fault is not Fault.NONE])
def test_a_sensor_s_fault_is_said_in_words(fault: Fault) -> None:
    row = next(row for row in INTERLOCKS if row.cause is Cause.BATH_PROBE_MISSING)
    what = row.what(replace(SEEN, bath=probe(fault=fault)))
    assert faults_of(what) == []
    assert str(fault) not in what


@pytest.mark.parametrize("row", SELF_ROWS, ids=lambda row: str(row.cause))
def test_what_keeps_a_run_from_starting_is_said_as_well(row: object) -> None:
    (one,) = [self_row for self_row in SELF_ROWS if self_row is row]
    texts = (one.what(SICK), why(one.cause), one.action)
    assert [wrong for text in texts for wrong in faults_of(text)] == []


def test_a_trip_and_an_alarm_are_shown_with_their_sentences_in_order() -> None:
    trip = Trip(cause=Cause.LEVEL_LOST, at_s=1.0, what="It is so.", action="Do it.")
    assert trip_sentence(trip) == (
        f"Heat is off. It is so. {why('level-lost')} Do it. {fate('level-lost')}"
    )
    notice = Notice(
        cause=Cause.BOWL_DISTURBED,
        priority="low",
        at_s=1.0,
        seen_s=1.0,
        what="It is so.",
        action="Do it.",
        is_advice=True,
    )
    assert notice_sentence(notice) == f"It is so. {why('bowl-disturbed')} Do it."


# What sends no hand to water, wiring or stirrer: other programs, another profile, a look, a word.
HANDS_OFF = {
    Cause.KIND_WRONG,
    Cause.BOWL_TOO_COLD,
    Cause.TICK_LATE,
    Cause.PHASE_LATE,
    Cause.RUN_TOO_LONG,
    Cause.GUARD_LATCHED,
}


@pytest.mark.parametrize(
    "row",
    [row for row in INTERLOCKS if row.effect is Effect.TRIP and row.cause not in HANDS_OFF],
    ids=lambda row: str(row.cause),
)
def test_a_trip_that_sends_hands_to_the_machine_says_first_to_unplug_it(row: Interlock) -> None:
    assert row.action.startswith("Unplug")


def test_what_the_guard_has_latched_is_told_with_what_it_says_to_do() -> None:
    what, action = WORDS[GuardCause.HEATER_LIVE_WHEN_OFF]
    permit = Permit(
        latched="heater-live-when-off", age_s=0.0, bath_c=30.0, what=what, action=action
    )
    (row,) = [row for row in INTERLOCKS if row.cause is Cause.GUARD_LATCHED]
    seen = evidence(permit=permit)
    assert row.says(seen) == (
        "The guard forbids heat: the heater is live though it is told to be off."
    )
    own = action.removesuffix(f". {REARM}")
    assert row.after_trip(machine(), seen) == f"{own}, then start again."
    assert row.after_trip(KEEPS, seen).startswith(f"{own}. Then end this run")
    assert row.after_trip(machine(), evidence(permit=None)) == row.action
    assert GUARD_REARM == REARM  # so that it is said once, in the run's own way


def test_guard_and_controller_say_the_same_of_a_heater_that_is_live_or_dead() -> None:
    for cause in (GuardCause.HEATER_LIVE_WHEN_OFF, GuardCause.HEATER_DEAD_WHEN_ON):
        own = next(row for row in INTERLOCKS if row.cause == str(cause) and row.needs is Need.MAINS)
        assert WORDS[cause][1] == f"{without_again(own.action)} {REARM}"


def test_heat_is_not_called_off_where_the_guard_says_that_it_may_be_on() -> None:
    told = {cause: f"The guard forbids heat: {WORDS[cause][0]}." for cause in GuardCause}
    may_be_on = {
        cause
        for cause, what in told.items()
        if "may be ON" in heat_after((Trip(cause="guard-latched", at_s=1.0, what=what, action=""),))
    }
    assert may_be_on == {GuardCause.HEATER_LIVE_WHEN_OFF, GuardCause.BATH_OVER_CAP}


def test_of_a_guard_that_is_silent_nobody_says_that_heat_is_held_back() -> None:
    notice = Notice(
        cause=Cause.GUARD_SILENT,
        priority="high",
        at_s=1.0,
        seen_s=1.0,
        what="It is so.",
        action="",
        is_advice=False,
    )
    assert notice_sentence(notice).startswith("Heat was told to be off and may be ON. It is so.")
    late = replace(notice, cause=Cause.TICK_LATE)
    assert notice_sentence(late).startswith("Heat is held back. It is so.")


@pytest.mark.parametrize("cause", [one for one in GuardCause if one is not GuardCause.NONE])
def test_the_guard_says_what_was_seen_and_what_to_do(cause: GuardCause) -> None:
    what, action = WORDS[cause]
    assert faults_of(f"{what[:1].upper()}{what[1:]}.") == []
    assert [wrong for one in sentences_of(action) for wrong in faults_of(one)] == []
    assert action.endswith(f" {REARM}")


def test_every_rule_for_clearing_a_trip_reads_as_plainly() -> None:
    wrong = {word: faults_of(rule.must) for word, rule in RULES.items() if faults_of(rule.must)}
    assert wrong == {}


def questions_of(profile: Profile) -> list[Question]:
    return [question for phase in profile.phases for question in phase.questions]


@pytest.mark.parametrize("name", shipped_profiles())
def test_every_question_of_a_shipped_profile_is_a_request_or_a_question_with_answers(
    name: str,
) -> None:
    for question in questions_of(load_profile(name, machine())):
        assert question.text.endswith((".", "?"))
        assert JARGON.search(question.text) is None
        assert question.choices
        assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", choice.word) for choice in question.choices)
