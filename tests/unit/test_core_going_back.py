"""A run that goes back to an earlier phase: asked, never by itself, and only by who may heat."""

import pytest

from controller.core.actions import Act
from controller.core.advice import SILENT
from controller.core.chocolate import content_of
from controller.core.going_back import (
    BACK_ID,
    COOL_AGAIN,
    MELT_AGAIN,
    asked_back,
    back_question,
    gone_back,
)
from controller.core.listening import listen
from controller.core.mishaps import window_of
from controller.core.profile import Kind, Profile, Question, Verdict
from controller.core.signals import Reading, Readings, Request, Source, Verb
from controller.core.state import Event, EventName, Mode, Progress, State
from controller.files.profile_file import load_profile
from controller.wiring import machine_meant
from tests.helpers.records import replace

MACHINE = machine_meant(None).machine
DARK = load_profile("dark", MACHINE)
SEEDED = load_profile("dark-seeded", MACHINE)
HOLD = len(DARK.phases) - 1


def question(act: Act, profile: Profile = DARK) -> Question | None:
    """What is asked where this is advised."""
    window = window_of(profile, content_of(Kind.DARK).softer_k)
    return back_question(act, window, profile)


def held(act: Act = Act.MELT) -> State:
    """A run in its hold, asked whether it is to go back."""
    progress = Progress(
        phase=HOLD,
        reached=True,
        dwelled_s=100.0,
        verdict=Verdict.NOT_IN_TEMPER,
        ask=question(act),
        answered=frozenset({"set-test"}),
    )
    return State(run_s=9000.0, mode=Mode.RUNNING, bath_c=31.8, bowl_c=31.8, progress=progress)


def answered(state: State, choice: str, source: Source = Source.LOCAL) -> tuple[State, list[Event]]:
    """The run after an answer, and what was told."""
    events: list[Event] = []
    request = Request(verb=Verb.ANSWER, source=source, ask_id=BACK_ID, choice=choice)
    readings = Readings(bath=Reading(31.8), bowl=Reading(31.8), requests=(request,))
    return listen(state, DARK, MACHINE, readings, events), events


@pytest.mark.parametrize(
    ("act", "choice", "phase"), [(Act.MELT, MELT_AGAIN, 0), (Act.COOL, COOL_AGAIN, 1)]
)
def test_an_answer_leads_back_and_the_phase_begins_anew(act: Act, choice: str, phase: int) -> None:
    after, events = answered(held(act), choice)
    assert after.progress.phase == phase
    assert after.progress.answered == frozenset()
    assert after.progress.dwelled_s == 0.0
    assert after.progress.verdict is Verdict.NONE
    assert after.mode is Mode.RUNNING
    assert after.advice is SILENT
    assert [one.name for one in events][-1] is EventName.PHASE_ENTERED


@pytest.mark.parametrize(("choice", "warmed_k"), [(MELT_AGAIN, 0.0), ("go-on", 0.6)])
def test_what_melts_again_is_no_longer_held_warmer_for_its_thickness(
    choice: str, warmed_k: float
) -> None:
    # The first phase would never come to its end so much over its target.
    state = held()
    state = replace(state, temper=replace(state.temper, warmed_k=0.6))
    after, _ = answered(state, choice)
    assert after.temper.warmed_k == warmed_k


def test_whoever_goes_on_is_not_asked_again_in_this_phase() -> None:
    after, _ = answered(held(), "go-on")
    assert after.progress.phase == HOLD
    assert after.progress.ask is None
    ask = question(Act.MELT)
    assert ask is not None
    assert asked_back(after, ask, []) is after


def test_what_leads_to_heat_is_not_taken_from_afar_in_plain_words() -> None:
    after, events = answered(held(), MELT_AGAIN, Source.LINK)
    assert after.progress.phase == HOLD
    assert [one.name for one in events] == [EventName.REQUEST_REFUSED]


def test_what_changes_nothing_comes_first_and_no_time_answers() -> None:
    ask = question(Act.MELT)
    assert ask is not None
    assert [choice.word for choice in ask.choices] == ["go-on", MELT_AGAIN]
    assert [choice.adds_energy for choice in ask.choices] == [False, True]
    assert ask.unanswered_s is None


def test_only_what_the_profile_has_phases_for_is_asked() -> None:
    assert question(Act.SEED) is None
    assert question(Act.TOP_UP) is None
    assert question(Act.COOL, SEEDED) is None  # its second phase is as warm as its last
    assert question(Act.MELT_SEED, SEEDED) is not None
    assert question(Act.MELT, replace(DARK, phases=DARK.phases[:1])) is None


def test_another_open_question_comes_first() -> None:
    ask = question(Act.MELT)
    assert ask is not None
    busy = held()
    busy = replace(busy, progress=replace(busy.progress, ask=DARK.phases[HOLD].questions[0]))
    events: list[Event] = []
    assert asked_back(busy, ask, events) is busy
    assert not events


def test_an_answer_to_something_else_leads_nowhere() -> None:
    told = Event(name=EventName.QUESTION_ANSWERED, facts={"id": "set-test", "choice": MELT_AGAIN})
    state = held()
    assert gone_back(state, (told,), DARK, MACHINE, []) is state
