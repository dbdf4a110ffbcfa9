"""What a phone is told of what the machine's topics say, and that it is told once."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.core.interlock_rows import Priority
from controller.core.interlocks import PRIORITIES
from controller.core.profile import Verdict
from controller.core.state import Event, EventName
from controller.link.chronicle import line
from controller.link.fitted_rows import EVERY_PART
from controller.link.publisher import LONGEST
from controller.link.summary import priorities
from controller.link.temper_rows import NOTHING
from controller.link.tree import tree
from controller.push.message import LONGEST_BYTES, Message, cleaned
from controller.push.settings import Kind
from controller.push.telling import FIRST, FLEETING, MOST_ALERTS, NEWS, THEN, Facts, hear, is_kept
from tests.helpers.moments import TRIP, moment, profile, state
from tests.helpers.records import replace

LID = "Heat is held back. The lid is open. Chocolate dries. Close it."


def heard(facts: Facts, *said: tuple[str, str], kept: bool = False) -> list[Message]:
    """All that is told of these messages."""
    return [
        one for path, text in said for one in hear(facts, path, text, device="kitchen", kept=kept)
    ]


def running() -> Facts:
    facts: Facts = {}
    heard(facts, ("run/state", "running"), ("run/id", "a"))
    return facts


def test_every_topic_that_is_listened_to_is_one_that_the_machine_has() -> None:
    known = {row.path for row in tree(profile(), run_id="a", fitted=EVERY_PART)}
    listened = {*FIRST, *FLEETING, *THEN} - {"$state", "$alert/+", NEWS}
    assert listened
    assert listened <= known


def test_an_alarm_is_told_with_its_whole_sentence_once() -> None:
    facts = running()
    (told,) = heard(facts, ("$alert/level-lost", LID))
    assert (told.kind, told.text) == (Kind.ALARM, LID)
    assert told.title == "Alarm, act now - kitchen"
    assert told.priority is PRIORITIES["level-lost"] is Priority.HIGH
    assert heard(facts, ("$alert/level-lost", LID)) == []
    assert heard(facts, ("$alert/level-lost", LID), kept=True) == []


def test_an_alarm_that_comes_again_is_told_again() -> None:
    facts = running()
    again = [("$alert/lid-open", LID), ("$alert/lid-open", ""), ("$alert/lid-open", LID)]
    assert len(heard(facts, *again)) == 2


def test_an_alarm_is_as_pressing_as_the_machine_says() -> None:
    said = json.dumps(priorities(moment(state(trips=(replace(TRIP, cause="phase-late"),)))))
    assert said == '{"phase-late": "medium"}'
    facts = running()
    (told,) = heard(
        facts, ("safety/alarms", said), ("safety/tripped", "true"), ("$alert/phase-late", LID)
    )
    assert (told.priority, told.title) == (Priority.MEDIUM, "Alarm - kitchen")
    (told,) = heard(facts, ("safety/alarms", '{"lid-open": "high"}'), ("$alert/lid-open", LID))
    assert (told.priority, told.title) == (Priority.HIGH, "Alarm, act now - kitchen")


@pytest.mark.parametrize("said", ["", "[]", "[" * 3000, '{"x": 3}', '{"lid-open": "urgent"}', "{"])
def test_where_the_machine_says_nothing_an_alarm_is_as_pressing_as_its_row_and_a_trip_always(
    said: str,
) -> None:
    alarms = ("safety/alarms", said)
    low = next(cause for cause, known in PRIORITIES.items() if known is Priority.LOW)
    (told,) = heard(running(), alarms, (f"$alert/{low}", LID))
    assert (told.priority, told.title) == (Priority.LOW, "Alarm - kitchen")
    (told,) = heard(running(), alarms, ("safety/tripped", "true"), (f"$alert/{low}", LID))
    assert told.priority is Priority.HIGH
    (told,) = heard(running(), alarms, ("$alert/never-heard-of", LID))
    assert told.priority is Priority.HIGH


def test_the_priorities_come_before_the_alarms_whose_they_are() -> None:
    assert "safety/alarms" in FIRST
    assert "$alert/+" in THEN


def test_an_alarm_that_is_there_before_anybody_listens_is_told() -> None:
    assert len(heard({}, ("$alert/lid-open", LID), kept=True)) == 1


def test_a_stop_by_its_button_is_told_once_with_what_to_do() -> None:
    facts = running()
    assert heard(facts, ("stop/pressed", "false")) == []
    (told,) = heard(facts, ("stop/pressed", "true"))
    assert (told.kind, told.priority) == (Kind.ALARM, Priority.HIGH)
    assert told.title == "Stop button - kitchen"
    assert "See that nobody is caught" in told.text
    assert heard(facts, ("stop/pressed", "true"), kept=True) == []
    assert heard(facts, ("stop/pressed", "false"), ("run/id", "b")) == []  # another run
    assert len(heard(facts, ("stop/pressed", "true"))) == 1


def test_a_question_is_told_with_its_answers_once() -> None:
    facts = running()
    asked = [
        ("ask/question", "Is it set?"),
        ("ask/choices", "clean, streaked, longer"),
        ("ask/heating", "longer"),
        ("ask/id", "set-test"),
    ]
    (told,) = heard(facts, *asked)
    assert told.kind is Kind.QUESTION
    assert told.text == (
        "Is it set? Answer one of: clean, streaked, longer. What leads to heat (longer) may have "
        "to be answered at the machine."
    )
    assert heard(facts, *asked) == []  # said anew on a new connection
    assert heard(facts, ("ask/question", "Is it set now?")) == []  # an amount may be renewed
    assert len(heard(facts, ("ask/id", NOTHING), ("ask/id", "set-test"))) == 1


def test_a_question_without_heat_says_nothing_of_heat() -> None:
    (told,) = heard(
        running(),
        ("ask/question", "Done?"),
        ("ask/choices", "yes, no"),
        ("ask/heating", NOTHING),
        ("ask/id", "done"),
    )
    assert told.text == "Done? Answer one of: yes, no."


def test_the_end_of_the_time_that_something_takes_is_told() -> None:
    facts = running()
    heard(facts, ("ask/question", "Is it set?"), ("ask/choices", "yes"), ("ask/id", "set-test"))
    timed = Event(name=EventName.QUESTION_TIMED, facts={"id": "set-test", "takes_s": 300.0})
    (told,) = heard(facts, (NEWS, line(timed)))
    assert told.text.startswith("The time for it is over, look now. Is it set? Answer")
    other = Event(name=EventName.TARGET_REACHED, facts={"phase": "melt"})
    assert heard(facts, (NEWS, line(other))) == []
    assert heard(running(), (NEWS, line(timed))) == []  # nothing is asked any more


def test_another_run_makes_the_same_alarm_and_question_new() -> None:
    facts = running()
    said = [("$alert/lid-open", LID), ("ask/question", "Is it set?"), ("ask/id", "set-test")]
    assert len(heard(facts, *said)) == 2
    assert heard(facts, ("run/id", "a"), *said, kept=True) == []
    assert len(heard(facts, ("run/id", "b"), *said, kept=True)) == 2


@pytest.mark.parametrize(
    ("before", "now", "text"),
    [
        ("idle", "running", "A run has begun."),
        ("complete", "running", "A run has begun."),
        ("resuming", "running", "The run goes on."),
        ("pausing", "paused", "Paused: the bowl is kept warm"),
        ("stopping", "stopped", "Stopped: heat is off."),
        ("aborting", "aborted", "The run ended early. The alarm says"),
        ("running", "complete", "Finished. Heat is off"),
    ],
)
def test_a_state_that_lasts_is_told(before: str, now: str, text: str) -> None:
    facts = {"run/state": before}
    (told,) = heard(facts, ("run/state", now))
    assert told.text.startswith(text)
    assert heard(facts, ("run/state", now)) == []


@pytest.mark.parametrize("now", ["pausing", "stopping", "aborting", "resuming", "idle", "brewing"])
def test_a_state_on_the_way_is_not_told(now: str) -> None:
    assert heard(running(), ("run/state", now)) == []


def test_the_end_says_what_the_set_test_said() -> None:
    for verdict, text in (("in-temper", "in temper."), ("not-in-temper", "not in temper.")):
        facts = running()
        (told,) = heard(facts, ("temper/set-test", verdict), ("run/state", "complete"))
        assert text in told.text
    assert set(Verdict) == {"none", "in-temper", "not-in-temper"}


def test_the_first_state_ever_heard_is_no_change() -> None:
    assert heard({}, ("run/state", "running"), kept=True) == []
    assert len(heard({}, ("run/state", "running"))) == 1  # begun while somebody listens


THERE = (
    ("run/remaining", "0"),
    ("run/ready-early", "2031-01-01T10:00:00+00:00"),
    ("run/ready-late", "2031-01-01T10:00:00+00:00"),
)


def ready(facts: Facts) -> list[Message]:
    return heard(facts, *THERE)


def test_chocolate_that_is_ready_is_told_once_a_run() -> None:
    facts = running()
    heard(facts, ("temper/verdict", "in-temper"))
    (told,) = ready(facts)
    assert told.text == "Ready: the last target is reached, and the chocolate seems in temper."
    assert told.priority is Priority.MEDIUM
    assert ready(facts) == []
    assert ready({key: said for key, said in facts.items() if is_kept(key)}) == []
    heard(facts, ("run/id", "b"))
    assert len(ready(facts)) == 1


def test_what_is_not_tempered_is_ready_at_its_target() -> None:
    (told,) = ready(running())
    assert told.text == "Ready: the last target is reached."


@pytest.mark.parametrize(
    ("said", "text"),
    [
        (("temper/verdict", "over-tempered"), "it has too many crystals and thickens."),
        (("temper/verdict", "under-tempered"), "it has too few good crystals."),
        (("temper/verdict", "not-yet"), "it is not in temper yet."),
        (("temper/verdict", "unknown"), "nobody can say from here whether it is in temper."),
        (("temper/set-test", "not-in-temper"), "the set test said not in temper."),
    ],
)
def test_what_is_at_its_target_and_not_in_temper_is_not_called_ready(
    said: tuple[str, str], text: str
) -> None:
    facts = running()
    heard(facts, ("temper/verdict", "in-temper"), said)
    (told,) = ready(facts)
    assert told.text.startswith(f"The chocolate is at its last target, but {text}")
    assert "Ready" not in told.text
    assert ready(facts) == []


def test_what_comes_into_temper_at_its_target_is_told_as_ready_then() -> None:
    for good in (("temper/verdict", "in-temper"), ("temper/set-test", "in-temper")):
        facts = running()
        heard(facts, ("temper/verdict", "unknown"))
        assert len(ready(facts)) == 1
        (told,) = heard(facts, good)
        assert told.text.startswith("Ready: ")
        assert heard(facts, ("temper/verdict", "unknown"), ("temper/verdict", "in-temper")) == []


def test_what_went_back_to_an_earlier_phase_is_told_again_when_it_is_ready() -> None:
    facts = running()
    heard(facts, ("temper/verdict", "in-temper"))
    assert len(ready(facts)) == 1
    assert heard(facts, ("run/remaining", "1800")) == []
    assert len(ready(facts)) == 1


def test_what_turns_out_to_be_out_of_temper_after_it_arrived_is_told_once() -> None:
    facts = running()
    heard(facts, ("temper/verdict", "unknown"))
    ready(facts)
    turns = [("temper/verdict", "over-tempered"), ("temper/verdict", "unknown")]
    (told,) = heard(facts, *turns, *turns)
    assert "too many crystals and thickens. Make a set test" in told.text


def test_chocolate_that_is_nearly_ready_or_of_a_run_that_is_over_is_not_told() -> None:
    facts = running()
    late = ("run/ready-late", "2031-01-01T10:01:00+00:00")
    assert heard(facts, ("run/ready-early", "2031-01-01T10:00:00+00:00"), late) == []
    assert heard(facts, ("run/remaining", "0")) == []
    facts["run/state"] = "stopped"
    assert ready(facts) == []


def test_lost_temper_is_told_and_one_that_never_was_is_not() -> None:
    facts = running()
    assert heard(facts, ("temper/verdict", "not-yet"), ("temper/verdict", "under-tempered")) == []
    (told,) = heard(facts, ("temper/verdict", "in-temper"), ("temper/verdict", "melted-out"))
    assert "it has lost its crystals. Make a set test" in told.text
    assert heard(facts, ("temper/verdict", "in-temper"), ("temper/verdict", "unknown")) == []


def test_what_steers_a_screen_or_is_too_long_is_taken_out() -> None:
    (told,) = heard(running(), ("$alert/lid-open", "a\x1b[31m\nb\u202ec" + "ä" * LONGEST))
    assert told.text.startswith("a [31m b c")
    assert len(told.text.encode()) <= LONGEST_BYTES + 4
    assert told.text.endswith("ä ...")
    assert cleaned("\ud800a") == "a"


def test_a_liar_s_topics_are_not_kept_without_end() -> None:
    facts = running()
    for number in range(3 * MOST_ALERTS):
        heard(facts, (f"$alert/x-{number}", LID))
    assert sum(path.startswith("$alert/") for path in facts) == MOST_ALERTS
    for path in ("told/ready", "told/silent", "$alert/A\nB", "$alert/x/y", "other", ""):
        assert heard(facts, (path, "x")) == []
        assert path not in facts


CHANCES = [
    ("$alert/lid-open", LID),
    ("$alert/lid-open", ""),
    ("$alert/level-lost", LID),
    ("$alert/level-lost", ""),
    ("ask/id", "set-test"),
    ("ask/id", NOTHING),
    ("run/state", "running"),
    ("run/state", "paused"),
    ("run/state", "complete"),
    ("run/id", "a"),
    ("run/id", "b"),
    ("temper/verdict", "in-temper"),
    ("temper/verdict", "under-tempered"),
    ("temper/verdict", "unknown"),
    ("temper/set-test", "in-temper"),
    ("safety/alarms", '{"lid-open": "low"}'),
]


@given(st.lists(st.tuples(st.sampled_from(CHANCES), st.booleans()), max_size=40))
def test_a_restart_and_a_repetition_at_any_moment_change_nothing(
    said: list[tuple[tuple[str, str], bool]],
) -> None:
    """What the broker sends again after a kill is told once, and nothing is forgotten."""
    told = heard({}, *(one for one, _ in said))
    facts: Facts = {}
    told_with_kills = []
    for one, is_killed in said:
        told_with_kills += heard(facts, one)
        if is_killed:
            facts = {path: text for path, text in facts.items() if is_kept(path)}
            told_with_kills += heard(facts, one)
    assert told_with_kills == told
