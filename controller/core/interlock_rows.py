"""What one row of the interlocks is, and the rows that every thermometer has.

Responsible for the shape of a row, its causes and the rows by which a probe that says nothing
believable withholds heat; not for the rest of the table or for judging by it (interlocks).
"""

import math
import re
from collections.abc import Callable
from enum import StrEnum
from operator import attrgetter

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.evidence import Evidence, ProbeEvidence
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.records import replace
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
    BOWL_TOO_WARM = "bowl-too-warm"
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
    GUARD_PROBE_MISSING = "guard-probe-missing"
    GUARD_PROBE_FROZEN = "guard-probe-frozen"
    BATH_PROBES_DISAGREE = "bath-probes-disagree"
    PROBES_CROSSED = "probes-crossed"
    BOWL_UNLIKE_BATH = "bowl-unlike-bath"
    BOWL_FELL_ALONE = "bowl-fell-alone"
    BOWL_DISTURBED = "bowl-disturbed"
    STIRRER_UNLOADED = "stirrer-unloaded"
    LOAD_JUMPED = "load-jumped"
    HEAT_DEMAND_CHANGED = "heat-demand-changed"
    AMOUNT_UNLIKELY = "amount-unlikely"
    BATCH_SETTING = "batch-setting"
    MEMORY_SHORT = "memory-short"
    MEMORY_GROWING = "memory-growing"
    PART_ENDED = "part-ended"
    PARTS_PILING_UP = "parts-piling-up"
    COMPUTER_BUSY = "computer-busy"
    DISK_FULL = "disk-nearly-full"
    RECORD_BROKEN_OFF = "record-broken-off"
    CLOCK_JUMPED = "clock-jumped"
    SELF_WATCH_SILENT = "self-watch-silent"
    HEATER_LIVE_WHEN_OFF = "heater-live-when-off"
    HEATER_DEAD_WHEN_ON = "heater-dead-when-on"
    HEATER_POWER_WRONG = "heater-power-wrong"
    HEATER_UNSEEN = "heater-unseen"
    KIND_WRONG = "kind-wrong"
    PROBES_APART_COLD = "probes-apart-cold"
    BOWL_TOO_COLD = "bowl-too-cold"
    FIRST_SWITCH_STUCK = "first-switch-stuck"
    SECOND_SWITCH_STUCK = "second-switch-stuck"
    BOWL_NOT_WARMED = "bowl-not-warmed"


class Need(StrEnum):
    """What must be fitted for a row to see anything."""

    BATH = "thermometer in the bath"
    BOWL = "thermometer in the bowl"
    LEVEL = "level switch"
    SHAFT = "shaft pulses"
    LOAD = "load signal"
    GUARD = "guard"
    MAINS = "mains-live input"
    CURRENT = "heater current"


_FLAGS = {
    Need.BATH: attrgetter("has_bath"),
    Need.BOWL: attrgetter("has_bowl"),
    Need.LEVEL: attrgetter("has_level"),
    Need.SHAFT: attrgetter("has_shaft"),
    Need.LOAD: attrgetter("has_load"),
    Need.GUARD: attrgetter("has_guard"),
    Need.MAINS: attrgetter("has_mains"),
    Need.CURRENT: attrgetter("has_current"),
}


class Effect(StrEnum):
    """What a row does while it is not shown safe."""

    ADVICE = "advice"  # somebody is told
    INHIBIT = "inhibit"  # heat is withheld meanwhile
    TRIP = "trip"  # heat is withheld at once, and a trip latched after a wait


class Priority(StrEnum):
    """How soon a person must act, in the three steps that IEC 62682 asks for at most."""

    HIGH = "high"  # now: heat or water may hurt somebody or burn something
    MEDIUM = "medium"  # within minutes: the batch waits, or will be lost
    LOW = "low"  # when there is time


# How an action ends where a mended machine may go on.
AGAIN = "then start again."
# As the guard ends its own.
GUARD_REARM = "Then end any run and type `bainward rearm --machine FILE`."
# What comes last where trips are kept: no run heats before one is cleared, whatever was mended.
REARM = "Then end this run, type `bainward rearm --machine FILE`, and start again."
_NOT_A_NUMBER = re.compile(r"-?\b(?:nan|inf) ?(?=[%°A-Za-z])")

OWN_STUDY = "own study on simulated machines, not published"


def _nothing_told(_: Evidence) -> str:
    return ""


class Interlock(Struct, frozen=True, kw_only=True):
    """One row: heat is withheld while `safe` is false, and a trip latched after `trip_after_s`.

    A row that only gives `advice` withholds nothing. `compares`, `limit` and `source` are for
    people; `sees` is what goes unseen where what it `needs` is not fitted.
    """

    cause: Cause
    safe: Callable[[Evidence], bool]
    trip_after_s: Callable[[Profile], float]
    what: Callable[[Evidence], str]
    action: str
    told: Callable[[Evidence], str] = _nothing_told  # what somebody else says to do instead
    compares: str
    limit: str
    source: str = OWN_STUDY
    needs: Need | None = None
    sees: str = ""
    advice: bool = False
    priority: Priority = Priority.MEDIUM

    def fitted(self, machine: Machine) -> bool:
        """Whether this machine has what the row needs."""
        return self.needs is None or bool(_FLAGS[self.needs](machine))

    def says(self, evidence: Evidence) -> str:
        """What was seen, as one sentence, whatever of it has no number."""
        return in_words(self.what(evidence))

    def after_trip(self, machine: Machine, evidence: Evidence) -> str:
        """What to do once it has tripped: a guard that keeps trips is re-armed before a new run."""
        action = self.told(evidence) or self.action
        if not machine.keeps_trips:
            return action
        return f"{without_again(action)} {REARM.replace('FILE', machine.file)}"

    @property
    def effect(self) -> Effect:
        """What it does while it is not shown safe."""
        if self.advice:
            return Effect.ADVICE
        return Effect.INHIBIT if self.trip_after_s is never else Effect.TRIP


def without_again(action: str) -> str:
    """An action for while a run goes on, or nothing else is to be said of a new one."""
    return f"{action.removesuffix(f', {AGAIN}')}." if action.endswith(f", {AGAIN}") else action


def guard_c(evidence: Evidence) -> float:
    """What the guard's own thermometer says, °C; NaN where it says nothing."""
    return math.nan if evidence.permit is None else evidence.permit.bath_c


def in_words(sentence: str) -> str:
    """The same without the signs that a computer has for no number."""
    return _NOT_A_NUMBER.sub("an unknown number of ", sentence)


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


_REPLACED = f"replace the probe if that does not help, {AGAIN}"
_PLUG = f"Unplug; check the {{}} probe's plug and wire; {_REPLACED}"
_WIRE = f"Unplug; check the {{}} probe's wire as far as the computer; {_REPLACED}"
_WET = f"Unplug; dry the {{}} probe's plug, look along its wire; {_REPLACED}"
_LOOSE = f"Unplug; dry the {{}} probe's plug, press it in, see to its wire; {_REPLACED}"


def probe_rows(name: str, needs: Need, causes: tuple[Cause, ...]) -> tuple[Interlock, ...]:
    """The ways in which the thermometer `name` of the evidence says nothing to be believed.

    They are for machines that have it: one without it says so, and is none that has lost it.
    """
    pick: Callable[[Evidence], ProbeEvidence] = attrgetter(name)
    rows = _jumping_rows(name, pick, causes[-1]) + _silent_rows(name, pick, causes[:-1])
    return tuple(replace(row, needs=needs) for row in rows)


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
            action="Do nothing if it stays rare; else unplug after the run and see to its wire.",
            compares=f"two values of the {name} probe",
            limit=f"{th.JUMP_K:g} K, until it came {th.JUMP_BELIEVED_AFTER} times",
            priority=Priority.LOW,
        ),
        Interlock(
            cause=jumping,
            safe=lambda e: pick(e).jumps <= th.JUMPS_MAX,
            trip_after_s=at_once,
            what=lambda _: f"The {name} probe keeps jumping by more than {th.JUMP_K:.0f} K.",
            action=_LOOSE.format(name),
            compares=f"jumps of the {name} probe in {th.JUMP_WINDOW_S:g} s",
            limit=f"{th.JUMPS_MAX}",
        ),
    )


# What a fault of a sensor is to whoever stands before the machine.
_SAID = {
    Fault.NONE: "no fault is told",
    Fault.NO_ANSWER: "it does not answer",
    Fault.CHECKSUM: "its answers arrive garbled",
    Fault.POWER_ON_VALUE: "it starts anew again and again",
    Fault.ALL_ZERO: "it answers with nothing but zeros",
    Fault.DEVICE: "it says itself that it is broken",
}


def _silent_rows(
    name: str, pick: Callable[[Evidence], ProbeEvidence], causes: tuple[Cause, ...]
) -> tuple[Interlock, ...]:
    missing, not_a_number, stale, out_of_range = causes
    return (
        Interlock(
            cause=missing,
            safe=lambda e: pick(e).fault is _SOUND,
            trip_after_s=probe_wait,
            what=lambda e: f"The {name} probe gives no value ({_SAID[pick(e).fault]}).",
            action=_PLUG.format(name),
            compares=f"whether the {name} probe gives a value",
            limit="any fault",
        ),
        Interlock(
            cause=not_a_number,
            safe=lambda e: pick(e).fault is not _SOUND or math.isfinite(pick(e).raw_c),
            trip_after_s=probe_wait,
            what=lambda _: f"The {name} probe gives something that is not a number.",
            action=_PLUG.format(name),
            compares=f"whether the {name} probe's value is a number",
            limit="any that is not",
        ),
        Interlock(
            cause=stale,
            safe=lambda e: 0.0 <= pick(e).age_s <= th.PROBE_STALE_S,
            trip_after_s=probe_wait,
            what=lambda e: f"The {name} probe's last value is {pick(e).age_s:.0f} s old.",
            action=_WIRE.format(name),
            compares=f"age of the {name} probe's value",
            limit=f"{th.PROBE_STALE_S:g} s",
        ),
        Interlock(
            cause=out_of_range,
            safe=lambda e: (
                not math.isfinite(pick(e).raw_c)
                or th.PROBE_MIN_C <= pick(e).raw_c <= th.PROBE_MAX_C
            ),
            trip_after_s=after(th.OUT_OF_RANGE_TRIP_S),
            what=lambda e: f"The {name} probe says {pick(e).raw_c:.1f} °C, which can't be.",
            action=_WET.format(name),
            compares=f"the {name} probe's value",
            limit=f"{th.PROBE_MIN_C:g} to {th.PROBE_MAX_C:g} °C",
        ),
    )
