"""Calling a person: what a buzzer and a lamp do, from the alarms and the time alone.

Responsible for the patterns, in one table; not for what is an alarm (alarms) or for driving
anything (daemon). What nobody has acknowledged yet calls, the most pressing priority first; once it
is acknowledged the buzzer is silent and the lamp stays on as long as its reason does. Patterns are
own engineering values, not published. One lamp has one colour for all: red would say danger to
persons (IEC 60073, from memory, not checked), and should not also say that a question waits.
"""

from enum import StrEnum

from msgspec import Struct

from controller.core.interlock_rows import Priority
from controller.core.interlocks import PRIORITIES
from controller.core.state import ENDED, Alarm, State

CALLS_S = 1800.0  # how long a run that has tripped goes on calling before it leaves


class Call(StrEnum):
    """What there is to call for, the most pressing first."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"
    QUESTION = "question"  # the run waits for an answer
    KNOWN = "known"  # somebody knows, and the reason is still there
    NOTHING = "nothing"


class Pattern(Struct, frozen=True, kw_only=True):
    """On for the first so many seconds of every `period_s`."""

    period_s: float = 1.0
    buzz_s: float
    shine_s: float


PATTERNS: dict[Call, Pattern] = {
    Call.HIGH: Pattern(period_s=2.0, buzz_s=1.0, shine_s=1.0),
    Call.MEDIUM: Pattern(period_s=5.0, buzz_s=1.0, shine_s=3.0),
    Call.LOW: Pattern(period_s=30.0, buzz_s=1.0, shine_s=5.0),
    Call.QUESTION: Pattern(period_s=60.0, buzz_s=1.0, shine_s=30.0),
    Call.KNOWN: Pattern(buzz_s=0.0, shine_s=1.0),
    Call.NOTHING: Pattern(buzz_s=0.0, shine_s=0.0),
}
_OF = {Priority.HIGH: Call.HIGH, Priority.MEDIUM: Call.MEDIUM, Priority.LOW: Call.LOW}
_RANK = tuple(Call)


class Signals(Struct, frozen=True, kw_only=True):
    """What buzzer and lamp are told now."""

    buzzer_on: bool
    lamp_on: bool


QUIET = Signals(buzzer_on=False, lamp_on=False)


def call_of(state: State) -> tuple[Call, float]:
    """What to call for now, and since when, s of the run."""
    calls = [(_call(_OF[PRIORITIES[trip.cause]], trip.alarm), trip.at_s) for trip in state.trips]
    calls += [(_call(_OF[Priority(one.priority)], one.alarm), one.at_s) for one in state.notices]
    if state.progress.ask is not None:
        calls.append((Call.QUESTION, state.run_s - state.progress.asked_s))
    if not calls:
        return Call.NOTHING, 0.0
    return min(calls, key=lambda call: (_RANK.index(call[0]), -call[1]))


def _call(call: Call, alarm: Alarm) -> Call:
    return Call.KNOWN if alarm is Alarm.ACKNOWLEDGED else call


def signals_of(state: State) -> Signals:
    """What buzzer and lamp are told after a tick; they begin with the newest of the most pressing.

    An alarm whose reason went before anybody acknowledged it calls on.
    """
    call, since_s = call_of(state)
    pattern = PATTERNS[call]
    at_s = (state.run_s - since_s) % pattern.period_s
    return Signals(buzzer_on=at_s < pattern.buzz_s, lamp_on=at_s < pattern.shine_s)


def still_calls(state: State) -> bool:
    """Whether a run that has ended by a trip has yet to be noticed, for half an hour at most."""
    return (
        state.mode in ENDED
        and state.ended_s <= CALLS_S
        and any(trip.alarm is Alarm.UNACKNOWLEDGED for trip in state.trips)
    )
