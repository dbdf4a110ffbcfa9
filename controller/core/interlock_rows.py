"""What one row of the interlocks is, and the rows that every thermometer has.

Responsible for the shape of a row, its causes and the rows by which a probe that says nothing
believable withholds heat; not for the rest of the table or for judging by it (interlocks).
"""

import math
from collections.abc import Callable
from enum import StrEnum
from operator import attrgetter

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.evidence import Evidence, ProbeEvidence
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.signals import Fault

_SOUND = Fault.NONE  # looking up a member of an enumeration takes longer than all the rest


class Cause(StrEnum):
    """Every cause for which a run can trip: the words on screens and topics."""

    RELAY_STUCK_ON = "relay-stuck-on"
    BATH_OVER_LIMIT = "bath-over-limit"
    BOWL_OVER_LIMIT = "bowl-over-limit"
    BATH_PROBE_MISSING = "bath-probe-missing"
    BATH_PROBE_NOT_A_NUMBER = "bath-probe-not-a-number"
    BATH_PROBE_STALE = "bath-probe-stale"
    BATH_PROBE_OUT_OF_RANGE = "bath-probe-out-of-range"
    BATH_PROBE_JUMPING = "bath-probe-jumping"
    BATH_PROBE_FROZEN = "bath-probe-frozen"
    BOWL_PROBE_MISSING = "bowl-probe-missing"
    BOWL_PROBE_NOT_A_NUMBER = "bowl-probe-not-a-number"
    BOWL_PROBE_STALE = "bowl-probe-stale"
    BOWL_PROBE_OUT_OF_RANGE = "bowl-probe-out-of-range"
    BOWL_PROBE_JUMPING = "bowl-probe-jumping"
    BOWL_PROBE_FROZEN = "bowl-probe-frozen"
    HEAT_WITHOUT_EFFECT = "heat-without-effect"
    LEVEL_LOST = "level-lost"
    STIRRER_STOPPED = "stirrer-stopped"
    TICK_LATE = "tick-late"
    PHASE_LATE = "phase-late"
    RUN_TOO_LONG = "run-too-long"
    CLOCKS_DISAGREE = "clocks-disagree"
    LIMITS_CHANGED = "limits-changed"
    GUARD_LATCHED = "guard-latched"
    GUARD_SILENT = "guard-silent"


class Interlock(Struct, frozen=True, kw_only=True):
    """One row: heat is withheld while `safe` is false, and a trip latched after `trip_after_s`."""

    cause: Cause
    safe: Callable[[Evidence], bool]
    trip_after_s: Callable[[Profile], float]
    what: Callable[[Evidence], str]
    action: str
    fitted: Callable[[Machine], bool] = lambda _: True


def at_once(_: Profile) -> float:
    """Trip in the first unsafe tick."""
    return 0.0


def never(_: Profile) -> float:
    """Only withhold heat."""
    return math.inf


def after(seconds: float) -> Callable[[Profile], float]:
    """Trip once it has been unsafe for so long, s."""
    return lambda _: seconds


def probe_wait(profile: Profile) -> float:
    """Trip after the profile's wait for a lost probe, s."""
    return profile.lost_probe_wait_s


def probe_rows(name: str, causes: tuple[Cause, ...]) -> tuple[Interlock, ...]:
    """The ways in which the thermometer `name` of the evidence says nothing to be believed."""
    pick: Callable[[Evidence], ProbeEvidence] = attrgetter(name)
    return _jumping_rows(name, pick, causes[-1]) + _silent_rows(name, pick, causes[:-1])


def _jumping_rows(
    name: str, pick: Callable[[Evidence], ProbeEvidence], jumping: Cause
) -> tuple[Interlock, ...]:
    return (
        Interlock(
            cause=jumping,
            # A sudden value is not believed until it has come again; heat waits for that.
            safe=lambda e: math.isfinite(pick(e).value_c) or not pick(e).is_plausible,
            trip_after_s=never,
            what=lambda e: f"The {name} probe jumped to {pick(e).raw_c:.1f} °C.",
            action="Nothing to do if it stays rare.",
        ),
        Interlock(
            cause=jumping,
            safe=lambda e: pick(e).jumps <= th.JUMPS_MAX,
            trip_after_s=at_once,
            what=lambda _: f"The {name} probe keeps jumping by more than {th.JUMP_K:.0f} K.",
            action=f"Look for a loose or wet contact of the {name} probe, then start again.",
        ),
    )


def _silent_rows(
    name: str, pick: Callable[[Evidence], ProbeEvidence], causes: tuple[Cause, ...]
) -> tuple[Interlock, ...]:
    missing, not_a_number, stale, out_of_range = causes
    return (
        Interlock(
            cause=missing,
            safe=lambda e: pick(e).fault is _SOUND,
            trip_after_s=probe_wait,
            what=lambda e: f"The {name} probe gives no value ({pick(e).fault}).",
            action=f"Check the {name} probe's plug and wire, then start again.",
        ),
        Interlock(
            cause=not_a_number,
            safe=lambda e: pick(e).fault is not _SOUND or math.isfinite(pick(e).raw_c),
            trip_after_s=probe_wait,
            what=lambda _: f"The {name} probe gives something that is not a number.",
            action=f"Check the {name} probe and its driver, then start again.",
        ),
        Interlock(
            cause=stale,
            safe=lambda e: 0.0 <= pick(e).age_s <= th.PROBE_STALE_S,
            trip_after_s=probe_wait,
            what=lambda e: f"The {name} probe's last value is {pick(e).age_s:.0f} s old.",
            action=f"Check the {name} probe's bus and wire, then start again.",
        ),
        Interlock(
            cause=out_of_range,
            safe=lambda e: (
                not math.isfinite(pick(e).raw_c)
                or th.PROBE_MIN_C <= pick(e).raw_c <= th.PROBE_MAX_C
            ),
            trip_after_s=after(th.OUT_OF_RANGE_TRIP_S),
            what=lambda e: f"The {name} probe says {pick(e).raw_c:.1f} °C, which can't be.",
            action=f"Check the {name} probe's wire and connector, then start again.",
        ),
    )
