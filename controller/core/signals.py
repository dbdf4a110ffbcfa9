"""Readings and commands: what one tick takes from the machine and gives back.

Responsible for the shapes and for telling a good reading from a bad one; not for getting them.
"""

import math
from enum import StrEnum

from msgspec import Struct

from controller.core.announcement import Announcement
from controller.core.vitals import Vitals


class Fault(StrEnum):
    """Why a sensor gave no value. A fault is a value, never an exception."""

    NONE = "none"
    NO_ANSWER = "no-answer"  # open circuit, unplugged, nothing on the bus
    CHECKSUM = "checksum"
    POWER_ON_VALUE = "power-on-value"
    ALL_ZERO = "all-zero"
    DEVICE = "device"  # the device reports a fault of its own


class Quality(StrEnum):
    """Signal quality after the usual process-industry words."""

    GOOD = "good"
    UNCERTAIN = "uncertain"
    BAD = "bad"


STALE_AFTER_S = 5.0
# Looking up a member of an enumeration takes longer than all the rest of judging by it.
_SOUND = Fault.NONE
_GOOD = Quality.GOOD


class Reading(Struct, frozen=True):
    """One value from one sensor, in the unit that its owner names.

    `age_s` is how old the value was when the tick began. With a fault, `value` is NaN.
    """

    value: float
    age_s: float = 0.0
    fault: Fault = Fault.NONE

    @property
    def quality(self) -> Quality:
        """Good, uncertain (older than `STALE_AFTER_S`) or bad (a fault, or not a number)."""
        if self.fault is not _SOUND or not math.isfinite(self.value):
            return Quality.BAD
        return _GOOD if self.age_s <= STALE_AFTER_S else Quality.UNCERTAIN


def missing(fault: Fault = Fault.NO_ANSWER) -> Reading:
    """A reading that says why there is none."""
    return Reading(math.nan, 0.0, fault)


class Verb(StrEnum):
    """What a person may ask of a run. Names follow IEC 61512 where it has one."""

    START = "start"
    PAUSE = "pause"
    RESUME = "resume"
    STOP = "stop"
    ACKNOWLEDGE = "acknowledge"
    ANSWER = "answer"
    ANNOUNCE = "announce"
    LEAVE = "leave"  # asks whether the run may be left alone for a while


class Source(StrEnum):
    """Where a request came from. What adds energy is judged by it (core/requests)."""

    LOCAL = "local"  # a person at the machine (keyboard, button), or the bench's scripted cook
    LINK = "link"  # over MQTT, as plain words or with nothing to prove
    REMOTE = "remote"  # over MQTT, as a request that the machine file lets add energy


class Request(Struct, frozen=True, kw_only=True):
    """One wish of a person, judged by the tick and never trusted."""

    verb: Verb
    source: Source = Source.LOCAL
    ask_id: str = ""  # for ANSWER: which question; empty means the one that is open
    choice: str = ""  # for ANSWER: one of its choices' words
    announcement: Announcement | None = None  # for ANNOUNCE
    for_s: float = 0.0  # for LEAVE: how long
    id: str = ""  # given by whoever waits for what came of it


NOT_LATCHED = "none"
TRIP_LATCHED = "controller-tripped"  # what it latches once a run has told it of a trip


class Permit(Struct, frozen=True, kw_only=True):
    """What the guard of the heat last said."""

    latched: str  # a cause word of the guard's; `NOT_LATCHED` when it may permit heat
    age_s: float  # since it was said; infinite when it never spoke
    bath_c: float  # by the guard's own thermometer; NaN when that gives no value
    what: str = ""  # one sentence for the cause
    action: str = ""  # what to do about it
    live: bool | None = None  # whether voltage stands behind the switches; None: nobody sees it
    heat: bool = True  # whether it let through what was asked of it; it may withhold unlatched


class Readings(Struct, frozen=True, kw_only=True):
    """Everything read at the start of one tick. What is not fitted is None.

    `late_s` is how far behind its schedule the tick began.
    """

    bath: Reading  # °C, raw: probe offsets are applied by the core
    bowl: Reading  # °C, raw
    level: Reading | None = None  # 1.0 water covers the element, 0.0 it does not
    shaft: Reading | None = None  # stirrer shaft, rpm
    load: Reading | None = None  # stirrer load, W at the shaft
    current: Reading | None = None  # the element's, A
    lid: Reading | None = None  # 1.0 while the lid is on, 0.0 while it is off
    stop: Reading | None = None  # of the stop button: 1.0 while nobody presses it, 0.0 once pressed
    permit: Permit | None = None  # of the guard; heat goes through it
    vitals: Vitals | None = None  # of computer and process; None where nobody looks, as on a bench
    late_s: float = 0.0
    ahead_s: float = 0.0  # how much longer the tick was by a second clock
    requests: tuple[Request, ...] = ()


class Commands(Struct, frozen=True, kw_only=True):
    """What the machine is told at the end of one tick."""

    heater_on: bool
    stirrer_rpm: float
    cooling_on: bool = False
    bath_cut_c: float  # the limit in force: the phase's, never above the machine's
    alone: int = 0  # 1 or 2: without heat, only this of two switches closes, to be tested


SAFE = Commands(heater_on=False, stirrer_rpm=0.0, bath_cut_c=0.0)
