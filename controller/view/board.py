"""What was heard of a machine so far, and how fresh that is.

Responsible for keeping the newest text of each topic, in bounded memory, and for never passing off
an old value as a live one; not for the connection (link) nor for what the texts mean (facts).
"""

import re
from dataclasses import dataclass
from enum import StrEnum

from controller.view.curve import Curve, Sample
from controller.view.facts import ALERTS, DESCRIPTION, ELAPSED, HEARTBEAT, STATE, Facts, facts_of

# Own engineering values, not published. The heartbeat comes every 2 s: when so much has gone by,
# one was missed and the next is late.
OLD_AFTER_S = 3.5
SETTLES_S = 1.0  # after a connection, until what the broker has kept has come
_LONGEST = 4_000  # characters of a text; the machine itself sends no more
_LONGEST_DESCRIPTION = 65_536
_MOST_ALERTS = 64
_PATH = re.compile(r"[a-z0-9-]{1,40}/[a-z0-9-]{1,40}|\$alert/[a-z0-9-]{1,60}|\$state|\$description")
_NODES = frozenset({"bowl", "bath", "heater", "stirrer", "lid", "run", "temper", "ask", "safety"})
_MOST_PATHS = 128  # below those nodes; a tree has about 40


class Standing(StrEnum):
    """How far what is shown may be believed."""

    LIVE = "live"
    OLD = "old"  # the machine said that it is there, and has gone silent
    OFF = "off"  # it took its leave: no run goes on
    LOST = "lost"  # it went without taking leave
    NO_MACHINE = "no-machine"  # the broker knows of none
    NO_BROKER = "no-broker"


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """All that can be shown at one moment."""

    facts: Facts
    standing: Standing
    age_s: float | None  # since the machine was last heard live; None: never heard live
    samples: tuple[Sample, ...]

    @property
    def is_live(self) -> bool:
        """Whether what is shown is what the machine says now."""
        return self.standing is Standing.LIVE


class Board:
    """Filled by whoever listens, read by whoever shows. Times are of one clock, in seconds."""

    def __init__(self, base: str) -> None:
        """Nothing has been heard; `base` is the machine's own topic, without a slash at its end."""
        self._base = f"{base}/"
        self._told: dict[str, str] = {}
        self._facts: Facts | None = None
        self._found_s: float | None = None
        self._pulse_s: float | None = None
        self._curve = Curve()

    def found(self, now_s: float) -> None:
        """The broker is there, and tells anew all that it has kept."""
        self._found_s = now_s
        self._told.clear()
        self._facts = None

    def lost(self) -> None:
        """The broker is gone; what was heard stays, as something old."""
        self._found_s = None

    def hear(self, topic: str, payload: bytes, *, retained: bool, now_s: float) -> None:
        """Take in one message. What is none of the machine's own, or too much, is let go.

        `retained` says that the broker had kept it: nobody knows how old such a value is.
        """
        path = topic.removeprefix(self._base)
        if path == topic or not self._is_wanted(path):
            return
        text = payload.decode(errors="replace")
        text = text[: _LONGEST_DESCRIPTION if path == DESCRIPTION else _LONGEST]
        self._keep(path, text)
        if path == HEARTBEAT and not retained:
            self._pulse_s = now_s
        if path in {ELAPSED, HEARTBEAT}:
            self._curve.add(self._read())

    def view(self, now_s: float) -> View:
        """All that can be shown at this moment."""
        age_s = None if self._pulse_s is None else max(0.0, now_s - self._pulse_s)
        return View(
            facts=self._read(),
            standing=self._standing(age_s, now_s),
            age_s=age_s,
            samples=self._curve.samples,
        )

    def _standing(self, age_s: float | None, now_s: float) -> Standing:
        if self._found_s is None:
            return Standing.NO_BROKER
        state = self._told.get(STATE)
        if state == "lost":
            return Standing.LOST
        if state == "disconnected":
            return Standing.OFF
        if state is None:
            settled = now_s - self._found_s >= SETTLES_S
            return Standing.NO_MACHINE if settled else Standing.NO_BROKER
        # A pulse of before this connection says nothing of what was told since.
        is_new = self._pulse_s is not None and self._pulse_s >= self._found_s
        is_fresh = age_s is not None and age_s <= OLD_AFTER_S
        return Standing.LIVE if is_new and is_fresh else Standing.OLD

    def _is_wanted(self, path: str) -> bool:
        if path in self._told:
            return True
        if not _PATH.fullmatch(path):
            return False
        if path.startswith(ALERTS):
            return sum(one.startswith(ALERTS) for one in self._told) < _MOST_ALERTS
        is_ours = path.startswith("$") or path.partition("/")[0] in _NODES
        return is_ours and len(self._told) < _MOST_PATHS + _MOST_ALERTS

    def _keep(self, path: str, text: str) -> None:
        """An empty text takes a value off the broker."""
        if self._told.get(path, "") == text:
            return
        if text:
            self._told[path] = text
        else:
            self._told.pop(path, None)
        self._facts = None

    def _read(self) -> Facts:
        if self._facts is None:
            self._facts = facts_of(self._told)
        return self._facts
