"""Following the profile: approach, settle, dwell, ask, and on to the next phase.

Responsible for where the run stands in its profile; not for temperatures (regulator) or safety.
"""

import math
from collections.abc import Callable
from typing import Protocol

from msgspec import Struct

from controller.core.moves import Trigger, move
from controller.core.profile import LateAction, Phase, Profile, Question, When
from controller.core.records import replace
from controller.core.requests import Outcome, answer
from controller.core.state import Event, EventName, Mode, Progress


class Amounts(Protocol):
    """Who works out the amounts of questions."""

    def put(self, question: Question, progress: Progress) -> Question | None:
        """The question as it is put; None where nothing is to be done."""
        ...

    def again(self, question: Question, progress: Progress) -> Question | None:
        """The same once more with another amount, where that pays."""
        ...

    def renewed(self, ask: Question, progress: Progress) -> Question | None:
        """An open question with another amount, where things have changed."""
        ...


class _Here(Struct, frozen=True):
    """What a step of the sequence may look at besides the run's progress."""

    bowl_c: float
    amounts: Amounts | None


def begin(profile: Profile, bowl_c: float, progress: Progress) -> Outcome:
    """Begin a run where `progress` says: at the first phase, or where a cut run is gone on with."""
    entered = enter(progress.phase, profile, bowl_c, progress)
    kept = replace(
        entered.progress,
        dwelled_s=progress.dwelled_s,
        ask=progress.ask,
        asked_s=progress.asked_s,
        answered=progress.answered,
        stir_from_c=progress.stir_from_c,
    )
    return replace(entered, progress=kept)


def enter(index: int, profile: Profile, bowl_c: float, progress: Progress) -> Outcome:
    """Begin a phase."""
    phase = profile.phases[index]
    event = Event(
        name=EventName.PHASE_ENTERED,
        facts={"phase": phase.name, "bowl_target_c": phase.bowl_target_c, "bowl_c": bowl_c},
    )
    progress = Progress(phase=index, start_bowl_c=bowl_c, verdict=progress.verdict)
    return Outcome(mode=Mode.RUNNING, progress=progress, events=(event,))


def advance(
    progress: Progress,
    profile: Profile,
    bowl_c: float,
    dt_s: float,
    amounts: Amounts | None = None,
) -> Outcome:
    """One tick of a running phase. The outcome's mode is RUNNING, STOPPING or COMPLETE.

    Each step says what it changes, or None. Without `amounts`, questions are put as they stand.
    """
    here = _Here(bowl_c, amounts)
    phase = profile.phases[progress.phase]
    progress, events = _count(progress, phase, bowl_c, dt_s)
    mode = _RUNNING
    for step in (_overrun, _ask, _leave):
        after = step(progress, profile, here)
        if after is not None:
            mode, progress, events = after.mode, after.progress, events + after.events
            if mode is not _RUNNING:
                break
    return Outcome(mode=mode, progress=progress, events=events)


_RUNNING = Mode.RUNNING  # looking up a member of an enumeration takes longer than a whole step


def _count(
    progress: Progress, phase: Phase, bowl_c: float, dt_s: float
) -> tuple[Progress, tuple[Event, ...]]:
    """Let the timers of the phase run: since entry, in tolerance, in dwell, since the question."""
    most_c = phase.bowl_target_c
    if phase.warm_to_c is not None and progress.reached:  # then it may be warmed in steps
        most_c = phase.warm_to_c
    off_k = max(phase.bowl_target_c - bowl_c, bowl_c - most_c)
    within = off_k <= phase.tolerance_k
    settled_s = progress.settled_s + dt_s if within else 0.0
    reached = progress.reached or settled_s >= phase.settle_s
    dwelled_s = progress.dwelled_s + (dt_s if progress.reached and within else 0.0)
    dwelled = progress.dwelled or (reached and dwelled_s >= phase.dwell_s)
    events: tuple[Event, ...] = ()
    if reached and not progress.reached:
        events = (_of(EventName.TARGET_REACHED, phase, bowl_c),)
    if dwelled and not progress.dwelled:
        events = (*events, _of(EventName.DWELL_ENDED, phase, bowl_c))
    asked_s = progress.asked_s + dt_s if progress.ask else 0.0
    if progress.ask is not None:
        events += _timed(progress.ask, progress.asked_s, asked_s)
    progress = Progress(
        phase=progress.phase,
        phase_s=progress.phase_s + dt_s,
        settled_s=settled_s,
        dwelled_s=dwelled_s,
        # A phase entered with no bowl reading ramps from the first one that comes.
        start_bowl_c=bowl_c if math.isnan(progress.start_bowl_c) else progress.start_bowl_c,
        reached=reached,
        dwelled=dwelled,
        overran=progress.overran,
        ask=progress.ask,
        asked_s=asked_s,
        unasked_s=0.0 if progress.ask else progress.unasked_s + dt_s,
        answered=progress.answered,
        verdict=progress.verdict,
        stir_from_c=progress.stir_from_c,
    )
    return progress, events


def _of(name: EventName, phase: Phase, bowl_c: float) -> Event:
    return Event(name=name, facts={"phase": phase.name, "bowl_c": bowl_c})


def _overrun(progress: Progress, profile: Profile, here: _Here) -> Outcome | None:
    """Say once that a phase has outlasted its time; an interlock trips where that is the action."""
    phase = profile.phases[progress.phase]
    if progress.overran or progress.phase_s <= phase.late_after_s:
        return None
    event = Event(
        name=EventName.PHASE_OVERRAN,
        facts={"phase": phase.name, "action": phase.late_action, "bowl_c": here.bowl_c},
    )
    mode = Mode.RUNNING
    if phase.late_action is LateAction.STOP:
        mode = move(mode, Trigger.STOP) or mode
    return Outcome(mode=mode, progress=replace(progress, overran=True), events=(event,))


def is_overdue(progress: Progress, phase: Phase) -> bool:
    """Whether the phase has outlasted its time and the profile calls that a trip."""
    return progress.phase_s > phase.late_after_s and phase.late_action is LateAction.TRIP


_IS_DUE: dict[When, Callable[[Question, Progress, float], bool]] = {
    When.START: lambda _question, _progress, _bowl_c: True,
    When.BOWL_AT_MOST: lambda question, _progress, bowl_c: (
        question.bowl_c is not None and bowl_c <= question.bowl_c
    ),
    When.REACHED: lambda _question, progress, _bowl_c: progress.reached,
    When.DWELLED: lambda _question, progress, _bowl_c: progress.dwelled,
}


def _ask(progress: Progress, profile: Profile, here: _Here) -> Outcome | None:
    """Open the next question that is due, or take the default of one left unanswered."""
    ask, amounts = progress.ask, here.amounts
    if ask is not None:
        if ask.unanswered_s is None or progress.asked_s < ask.unanswered_s:
            fresh = amounts.renewed(ask, progress) if amounts and ask.mass_kg else None
            return None if fresh is None else _opened(fresh, progress, progress.asked_s)
        choice = next(one for one in ask.choices if one.word == ask.unanswered)
        return answer(ask, choice, Mode.RUNNING, progress, by="time")
    for question in profile.phases[progress.phase].questions:
        if question.id not in progress.answered:
            if not _IS_DUE[question.when](question, progress, here.bowl_c):
                continue
            put = amounts.put(question, progress) if amounts else question
            if put is None:  # nothing is to be done
                answered = progress.answered | {question.id}
                return Outcome(mode=_RUNNING, progress=replace(progress, answered=answered))
            return _opened(put, progress)
        if amounts and question.is_computed and not progress.reached:
            again = amounts.again(question, progress)
            if again is not None:
                return _opened(again, progress)
    return None


def _timed(ask: Question, before_s: float, now_s: float) -> tuple[Event, ...]:
    """Said once: what was asked for has had its time, and can be judged."""
    takes_s = ask.takes_s
    if takes_s is None or not before_s < takes_s <= now_s:
        return ()
    choices = ", ".join(one.word for one in ask.choices)
    facts: dict[str, str | float | bool] = {"id": ask.id, "takes_s": takes_s, "choices": choices}
    return (Event(name=EventName.QUESTION_TIMED, facts=facts),)


def _opened(question: Question, progress: Progress, asked_s: float = 0.0) -> Outcome:
    """The run with this question open."""
    event = Event(
        name=EventName.QUESTION_ASKED,
        facts={
            "id": question.id,
            "text": question.text,
            "choices": ", ".join(one.word for one in question.choices),
        },
    )
    progress = replace(progress, ask=question, asked_s=asked_s)
    return Outcome(mode=Mode.RUNNING, progress=progress, events=(event,))


def _leave(progress: Progress, profile: Profile, here: _Here) -> Outcome | None:
    """Go on once the dwell is over and every question of the phase is answered."""
    if not progress.dwelled:
        return None
    if any(one.id not in progress.answered for one in profile.phases[progress.phase].questions):
        return None
    if progress.phase + 1 < len(profile.phases):
        return enter(progress.phase + 1, profile, here.bowl_c, progress)
    return Outcome(mode=move(Mode.RUNNING, Trigger.FINISH) or Mode.RUNNING, progress=progress)
