"""A run that nobody hears of any more: the one thing that the machine can't tell itself.

Responsible for when silence counts and what is told of it; not for the connection (errand).
"""

from dataclasses import dataclass

from controller.core.interlock_rows import Priority
from controller.push.message import Message
from controller.push.settings import Kind
from controller.push.telling import HEARTBEAT, STATE, Facts, is_under_way

SILENT = "told/silent"  # no topic: whether the silence that lasts was told

# Own engineering values, not published. The machine's clock beats every 2 s; a broker says that
# it is lost after 23 s at most, and a cable that is plugged in again brings it back within seconds.
LOST_S = 30.0  # since the broker said so
STILL_S = 60.0  # since the last beat, with a broker that answers
ALONE_S = 120.0  # since the broker was there

_WHY = {
    "lost": "The machine has lost its connection: its program, computer or network has stopped.",
    "still": "The machine says nothing any more, though it is connected: its program hangs.",
    "alone": "The MQTT broker can't be reached, so no alarm of the machine can be told.",
}
_ACTION = "Go and look at the machine. If its program has stopped, its guard has ended heat."


@dataclass(slots=True)
class Hearing:
    """When what was last heard, by a clock that is never set."""

    heard_s: float  # a new beat of the machine
    broker_s: float  # the broker
    lost_s: float | None = None  # when the broker first said that the machine is lost
    is_live: bool = False  # whether the machine was heard on this connection

    def hears(self, path: str, said: str, now_s: float, *, kept: bool) -> None:
        """Something came in. Only a beat that no broker has kept for us says that it lives now."""
        if path == STATE:
            is_lost = said == "lost"
            self.lost_s = (self.lost_s or now_s) if is_lost else None
        if path == HEARTBEAT and not kept:
            self.heard_s, self.is_live = now_s, True

    def connects(self, now_s: float) -> None:
        """The broker is there: from now on something must be heard."""
        self.heard_s = self.broker_s = now_s
        self.is_live = False

    def stays(self, now_s: float) -> None:
        """The broker is still there."""
        self.broker_s = now_s


def listen(
    facts: Facts, hearing: Hearing, now_s: float, device: str, *, is_connected: bool
) -> tuple[Message, ...]:
    """What is to be told of silence now: once when it begins, once when it is over."""
    why = _silence(hearing, now_s, is_connected=is_connected) if is_under_way(facts) else ""
    if why and SILENT not in facts:
        facts[SILENT] = why
        return (_message(facts, device, f"{_WHY[why]} {_ACTION}", Priority.HIGH),)
    is_back = is_connected and hearing.lost_s is None and hearing.is_live
    if not why and SILENT in facts and is_back:
        message = _message(facts, device, "The machine is heard again.", Priority.MEDIUM)
        del facts[SILENT]
        return (message,)
    return ()


def _silence(hearing: Hearing, now_s: float, *, is_connected: bool) -> str:
    if not is_connected:
        return "alone" if now_s - hearing.broker_s >= ALONE_S else ""
    if hearing.lost_s is not None:
        return "lost" if now_s - hearing.lost_s >= LOST_S else ""
    return "still" if now_s - hearing.heard_s >= STILL_S else ""


def _message(facts: Facts, device: str, text: str, priority: Priority) -> Message:
    is_high = priority is Priority.HIGH
    return Message(
        kind=Kind.ALARM if is_high else Kind.STATE,
        priority=priority,
        title=f"{'Alarm, act now' if is_high else 'Run'} - {device}",
        text=text,
        about=SILENT,
        value=facts.get(SILENT, ""),
    )
