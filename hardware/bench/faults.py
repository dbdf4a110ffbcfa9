"""The faults that a bench can be given, as one table.

Responsible for what each fault does to a switch or to a reading; not for the parts themselves.
To add a fault, add its word and its row.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum, auto
from random import Random

from controller.ports import Fault, Reading, missing, replace

JUMP_K = 10.0  # own engineering value: a slack contact, each reading somewhere else
BROKEN_C = (-127.0, 120.0)  # what drivers report for a lost sensor, and a short in a bridge


class BenchFault(StrEnum):
    """Everything that can be broken on a bench."""

    RELAY_WELDED = "relay-welded"
    HEATER_DEAD = "heater-dead"
    STIRRER_STOPPED = "stirrer-stopped"
    LEVEL_LOST = "level-lost"
    BATH_PROBE_OPEN = "bath-probe-open"
    BATH_PROBE_FROZEN = "bath-probe-frozen"
    BATH_PROBE_STALE = "bath-probe-stale"
    BATH_PROBE_OUT_OF_RANGE = "bath-probe-out-of-range"
    BATH_PROBE_JUMPING = "bath-probe-jumping"
    BATH_PROBE_NAN = "bath-probe-nan"
    GUARD_PROBE_OPEN = "guard-probe-open"
    BOWL_PROBE_OPEN = "bowl-probe-open"
    BOWL_PROBE_FROZEN = "bowl-probe-frozen"
    BOWL_PROBE_STALE = "bowl-probe-stale"
    BOWL_PROBE_OUT_OF_RANGE = "bowl-probe-out-of-range"
    BOWL_PROBE_JUMPING = "bowl-probe-jumping"
    BOWL_PROBE_NAN = "bowl-probe-nan"


class Part(StrEnum):
    """What a fault sits in."""

    RELAY = auto()
    ELEMENT = auto()
    STIRRER = auto()
    LEVEL = auto()
    BATH_PROBE = auto()
    GUARD_PROBE = auto()
    BOWL_PROBE = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The last reading that a probe gave before it broke, and when."""

    reading: Reading
    at_s: float


Distort = Callable[[Reading, Held, float, Random], Reading]


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What a fault does: it forces its part to a state, or distorts what its part reads."""

    part: Part
    forces: float | None = None
    distorts: Distort | None = None


def _opened(_fresh: Reading, _held: Held, _now_s: float, _random: Random) -> Reading:
    return missing(Fault.NO_ANSWER)


def _frozen(_fresh: Reading, held: Held, _now_s: float, _random: Random) -> Reading:
    return held.reading


def _stale(_fresh: Reading, held: Held, now_s: float, _random: Random) -> Reading:
    return replace(held.reading, age_s=held.reading.age_s + now_s - held.at_s)


def _out_of_range(fresh: Reading, _held: Held, _now_s: float, random: Random) -> Reading:
    return replace(fresh, value=random.choice(BROKEN_C))


def _jumping(fresh: Reading, _held: Held, _now_s: float, random: Random) -> Reading:
    return replace(fresh, value=fresh.value + random.uniform(-JUMP_K, JUMP_K))


def _not_a_number(fresh: Reading, _held: Held, _now_s: float, _random: Random) -> Reading:
    return replace(fresh, value=math.nan)


EFFECTS: dict[BenchFault, Effect] = {
    BenchFault.RELAY_WELDED: Effect(part=Part.RELAY, forces=1.0),
    BenchFault.HEATER_DEAD: Effect(part=Part.ELEMENT, forces=0.0),
    BenchFault.STIRRER_STOPPED: Effect(part=Part.STIRRER, forces=0.0),
    BenchFault.LEVEL_LOST: Effect(part=Part.LEVEL, forces=0.0),
    BenchFault.BATH_PROBE_OPEN: Effect(part=Part.BATH_PROBE, distorts=_opened),
    BenchFault.BATH_PROBE_FROZEN: Effect(part=Part.BATH_PROBE, distorts=_frozen),
    BenchFault.BATH_PROBE_STALE: Effect(part=Part.BATH_PROBE, distorts=_stale),
    BenchFault.BATH_PROBE_OUT_OF_RANGE: Effect(part=Part.BATH_PROBE, distorts=_out_of_range),
    BenchFault.BATH_PROBE_JUMPING: Effect(part=Part.BATH_PROBE, distorts=_jumping),
    BenchFault.BATH_PROBE_NAN: Effect(part=Part.BATH_PROBE, distorts=_not_a_number),
    BenchFault.GUARD_PROBE_OPEN: Effect(part=Part.GUARD_PROBE, distorts=_opened),
    BenchFault.BOWL_PROBE_OPEN: Effect(part=Part.BOWL_PROBE, distorts=_opened),
    BenchFault.BOWL_PROBE_FROZEN: Effect(part=Part.BOWL_PROBE, distorts=_frozen),
    BenchFault.BOWL_PROBE_STALE: Effect(part=Part.BOWL_PROBE, distorts=_stale),
    BenchFault.BOWL_PROBE_OUT_OF_RANGE: Effect(part=Part.BOWL_PROBE, distorts=_out_of_range),
    BenchFault.BOWL_PROBE_JUMPING: Effect(part=Part.BOWL_PROBE, distorts=_jumping),
    BenchFault.BOWL_PROBE_NAN: Effect(part=Part.BOWL_PROBE, distorts=_not_a_number),
}


class Faults:
    """The faults that are in at the moment, oldest first."""

    def __init__(self) -> None:
        """Nothing is broken."""
        self._active: dict[BenchFault, Effect] = {}

    def inject(self, fault: BenchFault) -> None:
        """Break something; twice is as once."""
        self._active.setdefault(fault, EFFECTS[fault])

    def clear(self, fault: BenchFault) -> None:
        """Mend it; what is whole stays whole."""
        self._active.pop(fault, None)

    def forced(self, part: Part, otherwise: float) -> float:
        """The state that a part is forced to, or the one it would be in."""
        for effect in self._active.values():
            if effect.part is part and effect.forces is not None:
                return effect.forces
        return otherwise

    def distorting(self, part: Part) -> tuple[Distort, ...]:
        """What distorts the readings of a part, oldest fault first."""
        if not self._active:
            return ()
        return tuple(
            effect.distorts
            for effect in self._active.values()
            if effect.part is part and effect.distorts is not None
        )
