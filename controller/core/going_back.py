"""A run that goes back to an earlier phase, because a person wants its batch tempered again.

Responsible for the question and for what its answer leads to; not for whether it is put (advising).
Nothing goes back by itself: unanswered, the batch is held as it was. What goes back goes through
the profile's own phases, with all their limits.
"""

from controller.core.actions import Act
from controller.core.advice import SILENT
from controller.core.machine import Machine
from controller.core.mishaps import Window
from controller.core.outlook import UNKNOWN
from controller.core.profile import Action, Choice, Profile, Question, Verdict, When
from controller.core.records import replace
from controller.core.sequencer import enter
from controller.core.stand_in import as_seen, bowl_of
from controller.core.state import Event, EventName, State

BACK_ID = "temper-again"
GO_ON = Choice(word="go-on", adds_energy=False)
MELT_AGAIN, COOL_AGAIN = "melt-again", "cool-again"
_PHASES = {MELT_AGAIN: 0, COOL_AGAIN: 1}
_WORDS = {Act.MELT: MELT_AGAIN, Act.MELT_SEED: MELT_AGAIN, Act.COOL: COOL_AGAIN}
_TEXTS = {
    MELT_AGAIN: "Shall this run melt all of it and temper it again, or go on as it is?",
    COOL_AGAIN: "Shall this run cool it and warm it again, or go on as it is?",
}
COLDER_K = 1.0  # own engineering value: a second phase that is so much colder is one that cools


def back_question(act: Act, window: Window, profile: Profile) -> Question | None:
    """What is asked where an action is the run's own phases over again; None where it is not."""
    word = _WORDS.get(act)
    if word is None or len(profile.phases) < len(_PHASES):
        return None
    cools_k = window.work_c - profile.phases[_PHASES[COOL_AGAIN]].bowl_target_c
    if word == COOL_AGAIN and cools_k < COLDER_K:
        return None
    return Question(
        id=BACK_ID,
        text=_TEXTS[word],
        when=When.REACHED,
        bowl_c=None,
        # First what changes nothing, for whoever answers without looking.
        choices=(GO_ON, Choice(word=word, adds_energy=True)),
        unanswered_s=None,
        unanswered=None,
        action=Action.NONE,
    )


def asked_back(state: State, question: Question, events: list[Event]) -> State:
    """The run with this question open, unless another is, or it was answered already."""
    progress = state.progress
    if progress.ask is not None or BACK_ID in progress.answered:
        return state
    words = ", ".join(one.word for one in question.choices)
    facts: dict[str, str | float | bool] = {"id": BACK_ID, "text": question.text, "choices": words}
    events.append(Event(name=EventName.QUESTION_ASKED, facts=facts))
    return replace(state, progress=replace(progress, ask=question, asked_s=0.0))


def gone_back(
    state: State,
    told: tuple[Event, ...],
    profile: Profile,
    machine: Machine,
    events: list[Event],
) -> State:
    """The run after answers: back in an earlier phase where somebody wants that."""
    for event in told:
        facts = event.facts
        if event.name is EventName.QUESTION_ANSWERED and facts["id"] == BACK_ID:
            index = _PHASES.get(str(facts["choice"]))
            if index is None:
                continue
            again = replace(state.progress, verdict=Verdict.NONE)
            outcome = enter(index, profile, bowl_of(state, machine), again)
            events += as_seen(outcome.events, machine)
            # What it was held warmer for melts: it would keep the first phase from its end.
            temper = replace(state.temper, warmed_k=0.0)
            state = replace(
                state, progress=outcome.progress, temper=temper, outlook=UNKNOWN, advice=SILENT
            )
    return state
