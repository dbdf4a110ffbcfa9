"""Who may ask what, and what an answer leads to."""

import pytest

from controller.core.profile import Action, Verdict
from controller.core.requests import consider
from controller.core.signals import Request, Source, Verb
from controller.core.state import ENDED, EventName, Mode, Progress
from tests.helpers.scene import answers, asks, names, question

OPEN = Progress(phase=1, phase_s=50.0, ask=question("look"), asked_s=20.0)
AT_WORK = sorted(set(Mode) - ENDED)
GRANTED = {
    Verb.START: {Mode.IDLE: Mode.RUNNING},
    Verb.PAUSE: {Mode.RUNNING: Mode.PAUSING, Mode.RESUMING: Mode.PAUSING},
    Verb.RESUME: {Mode.PAUSED: Mode.RESUMING},
    Verb.STOP: {
        mode: Mode.ABORTING if mode is Mode.ABORTING else Mode.STOPPING for mode in AT_WORK
    },
}


def reason(request: Request, mode: Mode = Mode.RUNNING, progress: Progress = OPEN) -> str:
    """Why a request was refused; nothing may have changed."""
    outcome = consider(request, mode, progress)
    assert (outcome.mode, outcome.progress, outcome.acknowledge) == (mode, progress, False)
    (event,) = outcome.events
    assert event.name is EventName.REQUEST_REFUSED
    assert event.facts["verb"] == request.verb
    assert event.facts["source"] == request.source
    return str(event.facts["reason"])


@pytest.mark.parametrize("verb", GRANTED)
@pytest.mark.parametrize("mode", Mode)
def test_a_person_at_the_machine_may_ask_for_every_move_of_the_table(
    verb: Verb, mode: Mode
) -> None:
    expected = GRANTED[verb].get(mode)
    if expected is None:
        assert reason(asks(verb), mode) == f"a run that is {mode} can't {verb}"
    else:
        outcome = consider(asks(verb), mode, OPEN)
        assert (outcome.mode, outcome.events, outcome.progress) == (expected, (), OPEN)


@pytest.mark.parametrize("verb", [Verb.START, Verb.RESUME])
@pytest.mark.parametrize("mode", Mode)
def test_what_adds_energy_is_refused_over_the_link_in_every_mode(verb: Verb, mode: Mode) -> None:
    said = reason(asks(verb, Source.LINK), mode)
    assert said == f"{verb} adds energy and is taken only at the machine"


def test_a_request_that_proved_itself_goes_on_with_a_run_and_begins_none() -> None:
    request = Request(verb=Verb.RESUME, source=Source.REMOTE, id="a7")
    outcome = consider(request, Mode.PAUSED, OPEN)
    assert outcome.mode is Mode.RESUMING
    (event,) = outcome.events  # so that the record shows who it was
    assert event.name is EventName.REQUEST_GRANTED
    assert event.facts == {"verb": "resume", "source": "remote", "id": "a7"}
    said = reason(asks(Verb.START, Source.REMOTE), Mode.IDLE)
    assert said == "start adds energy and is taken only at the machine"


def test_a_refusal_names_the_request_that_somebody_waits_for() -> None:
    request = Request(verb=Verb.RESUME, source=Source.REMOTE, id="a7")
    (event,) = consider(request, Mode.RUNNING, OPEN).events
    assert event.facts["id"] == "a7"
    (event,) = consider(asks(Verb.RESUME), Mode.RUNNING, OPEN).events
    assert "id" not in event.facts


@pytest.mark.parametrize("mode", AT_WORK)
@pytest.mark.parametrize("source", Source)
def test_a_stop_is_granted_to_anybody_until_the_run_has_ended(mode: Mode, source: Source) -> None:
    outcome = consider(asks(Verb.STOP, source), mode, OPEN)
    assert outcome.events == ()
    assert outcome.mode in {Mode.STOPPING, Mode.ABORTING}


def test_a_pause_over_the_link_is_granted() -> None:
    assert consider(asks(Verb.PAUSE, Source.LINK), Mode.RUNNING, OPEN).mode is Mode.PAUSING


@pytest.mark.parametrize("mode", Mode)
@pytest.mark.parametrize("source", Source)
def test_an_acknowledgement_is_taken_in_every_mode(mode: Mode, source: Source) -> None:
    outcome = consider(asks(Verb.ACKNOWLEDGE, source), mode, OPEN)
    assert outcome.acknowledge
    assert (outcome.mode, outcome.progress, outcome.events) == (mode, OPEN, ())


@pytest.mark.parametrize(
    ("request_", "said"),
    [
        (answers("done", "taste"), "taste is not what is asked now"),
        (answers("perhaps"), "the choices are done, longer, firm, soft, give-up"),
        (answers(""), "the choices are done, longer, firm, soft, give-up"),
        (
            answers("longer", source=Source.LINK),
            "longer adds energy and is taken only at the machine",
        ),
    ],
)
def test_an_answer_that_does_not_fit_is_refused_with_the_reason(
    request_: Request, said: str
) -> None:
    assert reason(request_) == said


def test_an_answer_to_nothing_is_refused() -> None:
    assert reason(answers("done"), progress=Progress()) == "nothing is asked"


@pytest.mark.parametrize("ask_id", ["", "look"])
@pytest.mark.parametrize("source", Source)
def test_an_answer_closes_the_question(ask_id: str, source: Source) -> None:
    outcome = consider(answers("done", ask_id, source), Mode.RUNNING, OPEN)
    assert outcome.mode is Mode.RUNNING
    assert outcome.progress.ask is None
    assert outcome.progress.asked_s == 0.0
    assert outcome.progress.answered == {"look"}
    assert (outcome.progress.phase, outcome.progress.phase_s) == (1, 50.0)
    assert names(outcome.events) == [EventName.QUESTION_ANSWERED]
    assert outcome.events[0].facts == {
        "id": "look",
        "choice": "done",
        "by": source,
        "action": Action.NONE,
    }


def test_dwelling_again_begins_the_dwell_anew_and_leaves_the_question_to_be_asked_again() -> None:
    before = Progress(
        ask=question("look"),
        reached=True,
        dwelled=True,
        dwelled_s=600.0,
        answered=frozenset({"other"}),
    )
    after = consider(answers("longer"), Mode.RUNNING, before).progress
    assert (after.reached, after.dwelled, after.dwelled_s) == (True, False, 0.0)
    assert after.ask is None
    assert after.answered == {"other"}


def test_giving_up_stops_the_run() -> None:
    outcome = consider(answers("give-up", source=Source.LINK), Mode.RUNNING, OPEN)
    assert outcome.mode is Mode.STOPPING
    assert outcome.progress.answered == {"look"}


def test_giving_up_a_run_that_is_aborting_leaves_it_aborting() -> None:
    assert consider(answers("give-up"), Mode.ABORTING, OPEN).mode is Mode.ABORTING


def test_giving_up_a_run_that_has_ended_leaves_it_ended() -> None:
    assert consider(answers("give-up"), Mode.STOPPED, OPEN).mode is Mode.STOPPED


@pytest.mark.parametrize(
    ("choice", "before", "after"),
    [
        ("firm", Verdict.NONE, Verdict.IN_TEMPER),
        ("soft", Verdict.IN_TEMPER, Verdict.NOT_IN_TEMPER),
        ("done", Verdict.IN_TEMPER, Verdict.IN_TEMPER),
    ],
)
def test_the_latest_verdict_of_a_set_test_counts(
    choice: str, before: Verdict, after: Verdict
) -> None:
    progress = Progress(ask=question("look"), verdict=before)
    assert consider(answers(choice), Mode.RUNNING, progress).progress.verdict is after
