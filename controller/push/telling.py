"""From what the machine's topics say to what a phone is told: each change once.

Responsible for what is new and for its words; not for time (silence), keeping (spool) or sending.
What was heard before is what tells a change from a repetition, so whoever keeps `facts` over a
restart together with the messages tells nothing twice and forgets nothing.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

from controller.core.interlock_rows import Priority
from controller.core.interlocks import PRIORITIES
from controller.core.profile import Verdict
from controller.core.state import EventName, Mode
from controller.core.tempering import Temper
from controller.link.temper_rows import NOTHING
from controller.link.tree import ASK_ID
from controller.push.message import Message, cleaned
from controller.push.settings import Kind

STATE, RUN_ID, RUN_STATE = "$state", "run/id", "run/state"
HEADLINE, REMAINING, HEARTBEAT = "run/headline", "run/remaining", "safety/heartbeat"
EARLY, LATE = "run/ready-early", "run/ready-late"
QUESTION, CHOICES, HEATING = "ask/question", "ask/choices", "ask/heating"
TRIPPED, VERDICT, SET_TEST = "safety/tripped", "temper/verdict", "temper/set-test"
NEWS = "$log/info"
ALERT = "$alert/"
TOLD_READY = "told/ready"  # no topic: the run that was told to be ready

# What must not be missed while nobody listens, in the order in which it is asked for: the run
# before what belongs to it, a question's words before its id, by which it is taken to be put.
FIRST = (STATE, RUN_ID, RUN_STATE, TRIPPED, VERDICT, SET_TEST, QUESTION, CHOICES, HEATING)
THEN = (ASK_ID, f"{ALERT}+", NEWS)
# What is of no use later.
FLEETING = (HEADLINE, EARLY, LATE, REMAINING, HEARTBEAT)
_WANTED = frozenset({*FIRST, *FLEETING, ASK_ID})

MOST_ALERTS = 64  # kept at a time: more is a liar at the broker; own engineering value
UNDER_WAY = frozenset({Mode.RUNNING, Mode.PAUSING, Mode.PAUSED, Mode.RESUMING})
_PAUSED = frozenset({Mode.PAUSING, Mode.PAUSED, Mode.RESUMING})
_ALERT = re.compile(r"\$alert/[a-z0-9-]{1,64}")
_TIMED = EventName.QUESTION_TIMED.value.replace("_", " ")

_LOST = {
    Temper.UNDER: "has too few good crystals",
    Temper.OVER: "has too many crystals and thickens",
    Temper.MELTED_OUT: "has lost its crystals",
}
_OVER = {
    Verdict.IN_TEMPER: "Finished: the set test said in temper.",
    Verdict.NOT_IN_TEMPER: "Finished, but the set test said not in temper. Temper it again.",
}

Facts = dict[str, str]


@dataclass(frozen=True, slots=True)
class Change:
    """One topic that says something else than before."""

    path: str
    before: str  # empty: it said nothing
    now: str


def is_kept(path: str) -> bool:
    """Whether what was heard there must be known after a restart."""
    return path not in FLEETING and path != NEWS


def is_under_way(facts: Facts) -> bool:
    """Whether a run goes on, as far as was heard."""
    return facts.get(RUN_STATE) in UNDER_WAY


def hear(facts: Facts, path: str, said: str, *, device: str, kept: bool) -> tuple[Message, ...]:
    """Take in what one topic says: `facts` is brought up to date, and what is new comes back.

    `kept` says that the broker had it from before.
    """
    if path == NEWS:
        return _timed(facts, said, device)
    if path not in _WANTED and not _is_welcome(facts, path):
        return ()
    text, before = cleaned(said), facts.get(path, "")
    if text:
        facts[path] = text
    else:
        facts.pop(path, None)
    if path == RUN_ID and text != before:
        _begin_anew(facts)
    if path in (EARLY, LATE, REMAINING):
        return _ready(facts, device)
    # The first that is ever heard of a run's state is no change.
    is_first = path == RUN_STATE and kept and not before
    if text in ("", before, NOTHING) or is_first:
        return ()
    tell = _alarmed if path.startswith(ALERT) else _TELLERS.get(path, _untold)
    return tell(facts, Change(path, before, text), device)


def _is_welcome(facts: Facts, path: str) -> bool:
    """Whether it is an alarm's topic, and not one too many."""
    known = sum(1 for one in facts if one.startswith(ALERT))
    return bool(_ALERT.fullmatch(path)) and (path in facts or known < MOST_ALERTS)


def _begin_anew(facts: Facts) -> None:
    """Another run: what belonged to the one before is no repetition any more."""
    for path in [one for one in facts if one.startswith((ALERT, "ask/")) or one in FLEETING]:
        del facts[path]


def _untold(_facts: Facts, _change: Change, _device: str) -> tuple[Message, ...]:
    """It is needed for others' words only."""
    return ()


def _alarmed(facts: Facts, change: Change, device: str) -> tuple[Message, ...]:
    has_tripped = facts.get(TRIPPED) == "true"
    cause = change.path.removeprefix(ALERT)
    priority = Priority.HIGH if has_tripped else PRIORITIES.get(cause, Priority.HIGH)
    word = "Alarm, act now" if priority is Priority.HIGH else "Alarm"
    message = Message(
        kind=Kind.ALARM,
        priority=priority,
        title=f"{word} - {device}",
        text=change.now,
        about=change.path,
        value=change.now,
    )
    return (message,)


def _asked(facts: Facts, change: Change, device: str) -> tuple[Message, ...]:
    return (_question(facts, facts.get(QUESTION, ""), change.now, device),)


def _timed(facts: Facts, line: str, device: str) -> tuple[Message, ...]:
    """What was asked for has had its time, which only a line of news tells."""
    id_ = facts.get(ASK_ID, NOTHING)
    if not line.startswith(f"{_TIMED}:") or id_ == NOTHING:
        return ()
    said = f"The time for it is over, look now. {facts.get(QUESTION, '')}"
    return (_question(facts, said, id_, device),)


def _question(facts: Facts, said: str, id_: str, device: str) -> Message:
    words, heating = facts.get(CHOICES, NOTHING), facts.get(HEATING, NOTHING)
    how = "" if words == NOTHING else f" Answer one of: {words}."
    if NOTHING not in (words, heating):
        how += f" What leads to heat ({heating}) may have to be answered at the machine."
    return Message(
        kind=Kind.QUESTION,
        priority=Priority.MEDIUM,
        title=f"Question - {device}",
        text=cleaned(f"{said}{how}"),
        about=ASK_ID,
        value=id_,
    )


def _state(
    facts: Facts, device: str, text: str, *, about: str = RUN_STATE, pressing: bool = False
) -> Message:
    return Message(
        kind=Kind.STATE,
        priority=Priority.MEDIUM if pressing else Priority.LOW,
        title=f"Run - {device}",
        text=cleaned(text),
        about=about,
        value=facts.get(about, ""),
    )


def _moved(facts: Facts, change: Change, device: str) -> tuple[Message, ...]:
    """A state that lasts; those on the way to one are not worth a phone's ringing."""
    before, mode = change.before, change.now
    if mode == Mode.RUNNING:
        text = "The run goes on." if before in _PAUSED else "A run has begun."
    elif mode == Mode.PAUSED:
        text = "Paused: the bowl is kept warm and stirred until somebody resumes the run."
    elif mode == Mode.STOPPED:
        text = "Stopped: heat is off. See to the chocolate before it sets in the bowl."
    elif mode == Mode.ABORTED:
        text = "The run ended early: heat is off. The alarm says why and what to do."
    elif mode == Mode.COMPLETE:
        tested = facts.get(SET_TEST, Verdict.NONE)
        text = _OVER.get(Verdict(tested), "") if tested in set(Verdict) else ""
        text = f"{text or 'Finished.'} Heat is off: what is still in the bowl gets cold."
    else:
        return ()
    return (_state(facts, device, text, pressing=mode != Mode.RUNNING),)


def _turned(facts: Facts, change: Change, device: str) -> tuple[Message, ...]:
    """Chocolate that was in temper and isn't any more."""
    before, verdict = change.before, change.now
    if before != Temper.IN_TEMPER or verdict not in _LOST or not is_under_way(facts):
        return ()
    text = (
        f"The chocolate seems to be out of temper: it {_LOST[Temper(verdict)]}. "
        "Make a set test before you go on."
    )
    return (_state(facts, device, text, about=VERDICT, pressing=True),)


def _ready(facts: Facts, device: str) -> tuple[Message, ...]:
    """The last target is reached: nothing is left, and early and late are the same."""
    run_id = facts.get(RUN_ID, "")
    is_ready = (
        facts.get(REMAINING) == "0"
        and facts.get(EARLY, "") == facts.get(LATE, NOTHING)
        and is_under_way(facts)
    )
    if not (run_id and is_ready) or facts.get(TOLD_READY) == run_id:
        return ()
    facts[TOLD_READY] = run_id
    text = f"Ready: the last target is reached. {facts.get(HEADLINE, '')}"
    return (_state(facts, device, text, about=TOLD_READY, pressing=True),)


_TELLERS: dict[str, Callable[[Facts, Change, str], tuple[Message, ...]]] = {
    ASK_ID: _asked,
    RUN_STATE: _moved,
    VERDICT: _turned,
}
