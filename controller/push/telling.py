"""From what the machine's topics say to what a phone is told: each change once.

Responsible for what is new and for its words; not for time (silence), keeping (spool) or sending.
What was heard before is what tells a change from a repetition, so whoever keeps `facts` over a
restart together with the messages tells nothing twice and forgets nothing.
"""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass

from controller.core.interlock_rows import Priority
from controller.core.interlocks import PRIORITIES
from controller.core.profile import Verdict
from controller.core.state import EventName, Mode
from controller.core.tempering import Temper
from controller.link.summary import ALARMS
from controller.link.temper_rows import NOTHING
from controller.link.tree import ASK_ID
from controller.push.message import Message, cleaned
from controller.push.settings import Kind

STATE, RUN_ID, RUN_STATE = "$state", "run/id", "run/state"
REMAINING, HEARTBEAT = "run/remaining", "safety/heartbeat"
EARLY, LATE = "run/ready-early", "run/ready-late"
QUESTION, CHOICES, HEATING = "ask/question", "ask/choices", "ask/heating"
TRIPPED, VERDICT, SET_TEST = "safety/tripped", "temper/verdict", "temper/set-test"
STOP = "stop/pressed"
NEWS = "$log/info"
ALERT = "$alert/"
# No topics: the run that was told to be there, to be ready, to be out of temper.
TOLD_THERE, TOLD_READY, TOLD_LOST = "told/there", "told/ready", "told/lost"

# What must not be missed while nobody listens, in the order in which it is asked for: the run
# before what belongs to it, a question's words before its id, by which it is taken to be put.
FIRST = (
    *(STATE, RUN_ID, RUN_STATE, TRIPPED, ALARMS, STOP, VERDICT, SET_TEST),
    *(QUESTION, CHOICES, HEATING),
)
THEN = (ASK_ID, f"{ALERT}+", NEWS)
# What is of no use later.
FLEETING = (EARLY, LATE, REMAINING, HEARTBEAT)
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
        return _arrived(facts, device)
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
    priority = _priority(facts, change.path.removeprefix(ALERT))
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


def _pressed(_facts: Facts, change: Change, device: str) -> tuple[Message, ...]:
    """The stop button, or its wire, has ended the run."""
    if change.now != "true":
        return ()
    message = Message(
        kind=Kind.ALARM,
        priority=Priority.HIGH,
        title=f"Stop button - {device}",
        text="The stop button was pressed, or couldn't be read: heat and stirrer are off. See that "
        "nobody is caught, release the button or mend its wire, then start a new run.",
        about=change.path,
        value=change.now,
    )
    return (message,)


def _priority(facts: Facts, cause: str) -> Priority:
    """The alarm's own (IEC 62682), as the machine says; else as pressing as it may be."""
    try:
        told = json.loads(facts.get(ALARMS, ""))
    except (ValueError, RecursionError):
        told = None
    word = told.get(cause) if isinstance(told, dict) else None
    if word in set(Priority):
        return Priority(word)
    return Priority.HIGH if facts.get(TRIPPED) == "true" else PRIORITIES.get(cause, Priority.HIGH)


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
        text = "The run ended early. The alarm says why and what to do: do that first."
    elif mode == Mode.COMPLETE:
        tested = facts.get(SET_TEST, Verdict.NONE)
        text = _OVER.get(Verdict(tested), "") if tested in set(Verdict) else ""
        text = f"{text or 'Finished.'} Heat is off: what is still in the bowl gets cold."
    else:
        return ()
    return (_state(facts, device, text, pressing=mode != Mode.RUNNING),)


def _turned(facts: Facts, change: Change, device: str) -> tuple[Message, ...]:
    """What the crystals are now, where that is more than was told."""
    run_id, verdict = facts.get(RUN_ID, ""), change.now
    if not is_under_way(facts):
        return ()
    if verdict == Temper.IN_TEMPER:
        facts.pop(TOLD_LOST, None)
        return _ready(facts, device)
    was_told = change.before == Temper.IN_TEMPER or facts.get(TOLD_THERE) == run_id
    if verdict not in _LOST or not was_told or facts.get(TOLD_LOST) == run_id:
        return ()
    facts[TOLD_LOST] = run_id
    text = (
        f"The chocolate seems to be out of temper: it {_LOST[Temper(verdict)]}. "
        "Make a set test before you go on."
    )
    return (_state(facts, device, text, about=VERDICT, pressing=True),)


def _arrived(facts: Facts, device: str) -> tuple[Message, ...]:
    """The last target is reached: nothing is left, and early and late are the same."""
    run_id, left = facts.get(RUN_ID, ""), facts.get(REMAINING, "")
    if left not in ("", "0"):  # it has gone back to an earlier phase
        facts.pop(TOLD_THERE, None)
        facts.pop(TOLD_READY, None)
    is_there = (
        left == "0" and facts.get(EARLY, "") == facts.get(LATE, NOTHING) and is_under_way(facts)
    )
    if not (run_id and is_there) or facts.get(TOLD_THERE) == run_id:
        return ()
    facts[TOLD_THERE] = run_id
    return _ready(facts, device) or (_not_ready(facts, device),)


def _ready(facts: Facts, device: str) -> tuple[Message, ...]:
    """It is where it is worked with, and nothing says that it is not in temper."""
    run_id, tested = facts.get(RUN_ID, ""), facts.get(SET_TEST)
    verdict = facts.get(VERDICT, Temper.NONE)
    is_good = verdict in (Temper.NONE, Temper.IN_TEMPER) or tested == Verdict.IN_TEMPER
    is_bad = verdict in _LOST or tested == Verdict.NOT_IN_TEMPER
    is_there = facts.get(TOLD_THERE) == run_id != facts.get(TOLD_READY)
    if not (is_there and is_good) or is_bad:
        return ()
    facts[TOLD_READY] = run_id
    seems = "" if verdict == Temper.NONE else ", and the chocolate seems in temper"
    text = f"Ready: the last target is reached{seems}."
    return (_state(facts, device, text, about=TOLD_READY, pressing=True),)


def _not_ready(facts: Facts, device: str) -> Message:
    verdict = facts.get(VERDICT, Temper.NONE)
    if facts.get(SET_TEST) == Verdict.NOT_IN_TEMPER:
        seems = "the set test said not in temper. Make another before you dip"
    elif verdict in _LOST:
        facts[TOLD_LOST] = facts[TOLD_THERE]
        seems = f"it {_LOST[Temper(verdict)]}. Make a set test before you go on"
    elif verdict == Temper.NOT_YET:
        seems = "it is not in temper yet. You are told when it is"
    else:
        seems = "nobody can say from here whether it is in temper. Make a set test before you dip"
    text = f"The chocolate is at its last target, but {seems}."
    return _state(facts, device, text, about=TOLD_THERE, pressing=True)


def _tested(facts: Facts, _change: Change, device: str) -> tuple[Message, ...]:
    """A clean test makes ready what nobody could judge."""
    return _ready(facts, device) if is_under_way(facts) else ()


_TELLERS: dict[str, Callable[[Facts, Change, str], tuple[Message, ...]]] = {
    ASK_ID: _asked,
    STOP: _pressed,
    RUN_STATE: _moved,
    VERDICT: _turned,
    SET_TEST: _tested,
}
