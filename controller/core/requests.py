"""Judging what people ask of a run: which wish is granted, which is refused and why.

Responsible for the rules on who may ask what; not for carrying it out beyond the answer's record.
"""

from msgspec import Struct

from controller.core.moves import Trigger, move
from controller.core.profile import Choice, Question, Then, Verdict
from controller.core.records import replace
from controller.core.signals import Request, Source, Verb
from controller.core.state import Event, EventName, Mode, Progress

TRIGGERS: dict[Verb, Trigger] = {
    Verb.START: Trigger.START,
    Verb.PAUSE: Trigger.PAUSE,
    Verb.RESUME: Trigger.RESUME,
    Verb.STOP: Trigger.STOP,
}
# Who may ask for what adds energy: a run is begun by somebody who stands before the machine.
ADDS_ENERGY = {
    Verb.START: frozenset({Source.LOCAL}),
    Verb.RESUME: frozenset({Source.LOCAL, Source.REMOTE}),
}
_MAY_WARM = ADDS_ENERGY[Verb.RESUME]  # an answer that leads to heat is no more than going on


class Outcome(Struct, frozen=True, kw_only=True):
    """What came of one request."""

    mode: Mode
    progress: Progress
    events: tuple[Event, ...] = ()
    acknowledge: bool = False


def refusal(request: Request, reason: str) -> Event:
    """The event that says why a request was not granted."""
    return Event(name=EventName.REQUEST_REFUSED, facts={**_facts(request), "reason": reason})


def _facts(request: Request) -> dict[str, str | float | bool]:
    facts: dict[str, str | float | bool] = {"verb": request.verb, "source": request.source}
    return {**facts, "id": request.id} if request.id else facts


def consider(request: Request, mode: Mode, progress: Progress) -> Outcome:
    """Grant or refuse one request."""
    if request.verb is Verb.ACKNOWLEDGE:
        return Outcome(mode=mode, progress=progress, acknowledge=True)
    if request.verb is Verb.ANSWER:
        return _consider_answer(request, mode, progress)
    if request.source not in ADDS_ENERGY.get(request.verb, Source):
        reason = f"{request.verb} adds energy and is taken only at the machine"
        return Outcome(mode=mode, progress=progress, events=(refusal(request, reason),))
    after = move(mode, TRIGGERS[request.verb])
    if after is None:
        reason = f"a run that is {mode} can't {request.verb}"
        return Outcome(mode=mode, progress=progress, events=(refusal(request, reason),))
    events: tuple[Event, ...] = ()
    if request.verb in ADDS_ENERGY and request.source is Source.REMOTE:
        # The record must show that it was nobody at the machine.
        events = (Event(name=EventName.REQUEST_GRANTED, facts=_facts(request)),)
    return Outcome(mode=after, progress=progress, events=events)


def _consider_answer(request: Request, mode: Mode, progress: Progress) -> Outcome:
    ask = progress.ask
    if ask is None:
        return _refused(request, mode, progress, "nothing is asked")
    if request.ask_id and request.ask_id != ask.id:
        return _refused(request, mode, progress, f"{request.ask_id} is not what is asked now")
    choice = next((one for one in ask.choices if one.word == request.choice), None)
    if choice is None:
        words = ", ".join(one.word for one in ask.choices)
        return _refused(request, mode, progress, f"the choices are {words}")
    is_near = request.source is Source.LOCAL
    if choice.at_machine and not is_near:
        reason = f"{choice.word} is taken only at the machine"
        return _refused(request, mode, progress, reason)
    if choice.adds_energy and request.source not in _MAY_WARM:
        reason = f"{choice.word} adds energy and is taken only at the machine"
        return _refused(request, mode, progress, reason)
    return answer(ask, choice, mode, progress, by=request.source)


def _refused(request: Request, mode: Mode, progress: Progress, reason: str) -> Outcome:
    return Outcome(mode=mode, progress=progress, events=(refusal(request, reason),))


def answer(ask: Question, choice: Choice, mode: Mode, progress: Progress, *, by: str) -> Outcome:
    """Close the open question with one of its choices."""
    is_soon = ask.takes_s is not None and progress.asked_s < ask.takes_s
    soon = {"soon": True} if is_soon else {}
    progress = replace(
        progress,
        ask=None,
        asked_s=0.0,
        answered=progress.answered | {ask.id},
        verdict=progress.verdict if choice.verdict is Verdict.NONE else choice.verdict,
    )
    if choice.then is Then.DWELL_AGAIN:
        # The whole dwell again, and with it the questions that come at its end.
        progress = replace(
            progress,
            dwelled=False,
            dwelled_s=0.0,
            answered=progress.answered - {ask.id},
        )
    event = Event(
        name=EventName.QUESTION_ANSWERED,
        facts={"id": ask.id, "choice": choice.word, "by": by, "action": ask.action, **soon},
    )
    if choice.then is Then.STOP:
        mode = move(mode, Trigger.STOP) or mode
    return Outcome(mode=mode, progress=progress, events=(event,))
