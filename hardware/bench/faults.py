"""The faults that a bench can be given, as one table.

Responsible for which faults there are and which are in at the moment; not for what they do
(upsets) or for the parts they sit in. To add a fault, add its row.
"""

import errno
import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

from controller.ports import Fault
from hardware.bench import upsets as does
from hardware.bench.upsets import Deed, Distort, Part, Scene, Upset, forced, gone


@dataclass(frozen=True, slots=True)
class Size:
    """How big a fault usually is, and how big it may be: in K, s or kg, or a share (1 is 100 %)."""

    usual: float
    unit: str  # "K", "s", "kg" or "%"
    least: float
    most: float


OFF = Size(-5.0, "K", -20.0, 20.0)  # low is what heats too far
SLOW = Size(120.0, "s", 5.0, 3600.0)
LOST = Size(0.3, "%", 0.01, 1.0)
SHARE = Size(0.5, "%", 0.01, 1.0)
LATE = Size(1800.0, "s", 1.0, 28_800.0)
JUMP = Size(60.0, "s", 0.1, 86_400.0)
MAINS = {Part.MAINS: forced(0.0)}
SWAPPED = {Part.BATH_PROBE: does.in_the_bowl, Part.BOWL_PROBE: does.in_the_bath}
BELT_OFF = {Part.STIRRER: forced(0.0), Part.SHAFT: does.as_told}
BATH, BOWL, GUARD = Part.BATH_PROBE, Part.BOWL_PROBE, Part.GUARD_PROBE


class BenchFault(StrEnum):
    """Everything that can be broken: a word, what it sits in and does there, a sentence.

    Perhaps a size; `once` says that it happens in a moment, so that it has no end. Sizes are own
    engineering values, not published.
    """

    acts: Mapping[Part, Deed]
    says: str
    size: Size | None
    once: bool

    def __new__(
        cls,
        word: str,
        acts: Mapping[Part, Deed],
        says: str,
        size: Size | None = None,
        once: bool = False,
    ) -> Self:
        """One row."""
        row = str.__new__(cls, word)
        row._value_ = word
        row.acts, row.says, row.size, row.once = acts, says, size, once
        return row

    # Switches and heater
    RELAY_WELDED = "relay-welded", {Part.RELAY: forced(1.0)}, "The heater's switch stays closed."
    RELAY_OPEN = "relay-open", {Part.RELAY: forced(0.0)}, "The heater's switch stays open."
    RELAY_CHATTERING = (
        "relay-chattering",
        {Part.RELAY: does.chattering},
        "The heater's switch, told to close, closes only now and then.",
    )
    SECOND_SWITCH_WELDED = (
        "second-switch-welded",
        {Part.SECOND_SWITCH: forced(1.0)},
        "The second switch stays closed, which shows only once the first is welded, too.",
    )
    HEATER_DEAD = "heater-dead", {Part.ELEMENT: forced(0.0)}, "The element is burnt out."
    HEATER_HALF = (
        "heater-half",
        {Part.ELEMENT: does.scaled},
        "The element gives only this share of its power.",
        SHARE,
    )
    HEATER_WRONG = (
        "heater-wrong",
        {Part.ELEMENT: does.scaled},
        "Another element is fitted, of so much of the power that the owner wrote down.",
        Size(1.6, "%", 0.1, 4.0),
    )
    # What sees the heater
    MAINS_LIVE_STUCK = (
        "mains-live-stuck",
        {Part.MAINS_LIVE: forced(1.0)},
        "The mains-live input always says that there is voltage.",
    )
    MAINS_LIVE_DEAD = (
        "mains-live-dead",
        {Part.MAINS_LIVE: forced(0.0)},
        "The mains-live input never sees voltage.",
    )
    CURRENT_FROZEN = (
        "current-frozen",
        {Part.CURRENT: does.frozen},
        "The heater's current sensor repeats its last value.",
    )
    CURRENT_DEAD = (
        "current-dead",
        {Part.CURRENT: forced(0.0)},
        "The heater's current sensor sees none.",
    )
    CURRENT_LOST = (
        "current-lost",
        {Part.CURRENT: gone(Fault.NO_ANSWER)},
        "The heater's current sensor gives no value.",
    )
    # Water, lid and bowl
    LEVEL_LOST = "level-lost", {Part.LEVEL: forced(0.0)}, "The level switch sees no water."
    LEVEL_STUCK = "level-stuck", {Part.LEVEL: forced(1.0)}, "The level switch always sees water."
    WATER_LOW = (
        "water-low",
        {Part.BATH: does.left},
        "Only this share of the water is in the bath.",
        SHARE,
        True,
    )
    WATER_EMPTY = "water-empty", {Part.BATH: does.left}, "The bath has run dry.", None, True
    WATER_SPILLED = (
        "water-spilled",
        {Part.BATH: does.lost},
        "This share of the water slops over the edge.",
        LOST,
        True,
    )
    WATER_SWAPPED = (
        "water-swapped",
        {Part.BATH: does.swapped},
        "Somebody swaps this share of the bath for water from the tap, unasked.",
        SHARE,
        True,
    )
    WATER_BOILING = (
        "water-boiling",
        {Part.BATH: does.boiling},
        "Somebody swaps this share of the bath for boiling water.",
        Size(0.9, "%", 0.01, 1.0),
        True,
    )
    LID_OFF = "lid-off", {Part.BATH: does.lid_off}, "The lid is off."
    STOP_PRESSED = "stop-pressed", {Part.STOP: forced(0.0)}, "Somebody presses the stop button."
    BOWL_LIFTED = "bowl-lifted", {Part.BOWL: does.lifted}, "The bowl is lifted out of the bath."
    WATER_SPLASHED = (
        "water-splashed",
        {Part.BOWL: does.splashed},
        "So much water of the bath gets into the bowl.",
        Size(0.01, "kg", 0.001, 0.5),
        True,
    )
    CHOCOLATE_ADDED = (
        "chocolate-added",
        {Part.BOWL: does.topped_up},
        "Somebody adds so much melted chocolate, untempered and unasked.",
        Size(0.3, "kg", 0.01, 2.0),
        True,
    )
    # Stirrer
    STIRRER_STOPPED = "stirrer-stopped", {Part.STIRRER: forced(0.0)}, "The stirrer stands."
    STIRRER_REVERSED = "stirrer-reversed", {Part.STIRRER: does.turned}, "It turns the wrong way."
    STIRRER_BLOCKED = (
        "stirrer-blocked",
        {Part.STIRRER: does.wedged},
        "A lump of set chocolate, so much of it, wedges under the paddle until half is melted.",
        Size(0.15, "kg", 0.01, 1.0),
    )
    BELT_OFF = "belt-off", BELT_OFF, "The motor and its pulses go on, the paddle stands."
    SHAFT_LOST = "shaft-lost", {Part.SHAFT: forced(0.0)}, "The shaft's pulses do not come."
    # The bath's thermometer
    BATH_PROBE_OPEN = "bath-probe-open", {BATH: gone(Fault.NO_ANSWER)}, "A wire is off."
    BATH_PROBE_SHORT = "bath-probe-short", {BATH: gone(Fault.DEVICE)}, "Two wires touch."
    BATH_PROBE_CHECKSUM = (
        "bath-probe-checksum",
        {BATH: gone(Fault.CHECKSUM)},
        "No answer passes its checksum.",
    )
    BATH_PROBE_POWER_ON = (
        "bath-probe-power-on",
        {BATH: gone(Fault.POWER_ON_VALUE)},
        "It gives the value that it has before it has measured anything.",
    )
    BATH_PROBE_ALL_ZERO = (
        "bath-probe-all-zero",
        {BATH: gone(Fault.ALL_ZERO)},
        "It gives nothing but zeros, whose checksum is right.",
    )
    BATH_PROBE_NAN = "bath-probe-nan", {BATH: does.not_a_number}, "Its driver gives no number."
    BATH_PROBE_OUT_OF_RANGE = (
        "bath-probe-out-of-range",
        {BATH: does.out_of_range},
        "It gives what no kitchen has.",
    )
    BATH_PROBE_FROZEN = "bath-probe-frozen", {BATH: does.frozen}, "It repeats its last value."
    BATH_PROBE_STALE = "bath-probe-stale", {BATH: does.stale}, "Its last value grows old."
    BATH_PROBE_JUMPING = "bath-probe-jumping", {BATH: does.jumping}, "It is off, each time anew."
    BATH_PROBE_DRIFT = (
        "bath-probe-drift",
        {BATH: does.drifting},
        "It creeps away by so much within ten minutes.",
        OFF,
    )
    BATH_PROBE_OFFSET = "bath-probe-offset", {BATH: does.added}, "It is off by so much.", OFF
    BATH_PROBE_SLOW = "bath-probe-slow", {BATH: does.slow}, "It follows so much later.", SLOW
    BATH_PROBE_INTERMITTENT = (
        "bath-probe-intermittent",
        {BATH: does.intermittent},
        "This share of its values does not come.",
        LOST,
    )
    BATH_PROBE_WET = "bath-probe-wet", {BATH: does.wet}, "Water in its plug: some values are off."
    BATH_PROBE_OUT = "bath-probe-out", {BATH: does.in_the_air}, "It hangs out of the water."
    # The bowl's thermometer
    BOWL_PROBE_OPEN = "bowl-probe-open", {BOWL: gone(Fault.NO_ANSWER)}, "A wire is off."
    BOWL_PROBE_SHORT = "bowl-probe-short", {BOWL: gone(Fault.DEVICE)}, "Two wires touch."
    BOWL_PROBE_CHECKSUM = (
        "bowl-probe-checksum",
        {BOWL: gone(Fault.CHECKSUM)},
        "No answer passes its checksum.",
    )
    BOWL_PROBE_POWER_ON = (
        "bowl-probe-power-on",
        {BOWL: gone(Fault.POWER_ON_VALUE)},
        "It gives the value that it has before it has measured anything.",
    )
    BOWL_PROBE_ALL_ZERO = (
        "bowl-probe-all-zero",
        {BOWL: gone(Fault.ALL_ZERO)},
        "It gives nothing but zeros, whose checksum is right.",
    )
    BOWL_PROBE_NAN = "bowl-probe-nan", {BOWL: does.not_a_number}, "Its driver gives no number."
    BOWL_PROBE_OUT_OF_RANGE = (
        "bowl-probe-out-of-range",
        {BOWL: does.out_of_range},
        "It gives what no kitchen has.",
    )
    BOWL_PROBE_FROZEN = "bowl-probe-frozen", {BOWL: does.frozen}, "It repeats its last value."
    BOWL_PROBE_STALE = "bowl-probe-stale", {BOWL: does.stale}, "Its last value grows old."
    BOWL_PROBE_JUMPING = "bowl-probe-jumping", {BOWL: does.jumping}, "It is off, each time anew."
    BOWL_PROBE_DRIFT = (
        "bowl-probe-drift",
        {BOWL: does.drifting},
        "It creeps away by so much within ten minutes.",
        OFF,
    )
    BOWL_PROBE_OFFSET = "bowl-probe-offset", {BOWL: does.added}, "It is off by so much.", OFF
    BOWL_PROBE_SLOW = "bowl-probe-slow", {BOWL: does.slow}, "It follows so much later.", SLOW
    BOWL_PROBE_INTERMITTENT = (
        "bowl-probe-intermittent",
        {BOWL: does.intermittent},
        "This share of its values does not come.",
        LOST,
    )
    BOWL_PROBE_WET = "bowl-probe-wet", {BOWL: does.wet}, "Water in its plug: some values are off."
    BOWL_PROBE_OUT = "bowl-probe-out", {BOWL: does.in_the_air}, "It hangs out of the chocolate."
    BOWL_PROBE_AT_WALL = "bowl-probe-at-wall", {BOWL: does.at_the_wall}, "It touches the bowl."
    PROBES_SWAPPED = "probes-swapped", SWAPPED, "Each thermometer stands in the other's place."
    # The guard's thermometer
    GUARD_PROBE_OPEN = "guard-probe-open", {GUARD: gone(Fault.NO_ANSWER)}, "A wire is off."
    GUARD_PROBE_FROZEN = "guard-probe-frozen", {GUARD: does.frozen}, "It repeats its last value."
    GUARD_PROBE_OUT = "guard-probe-out", {GUARD: does.in_the_air}, "It hangs out of the water."
    # The cook
    PROFILE_WRONG = (
        "profile-wrong",
        {Part.FILLING: does.before_the_run},
        "The bowl holds another chocolate than the profile is for.",
    )
    AMOUNT_WRONG = (
        "amount-wrong",
        {Part.BATCH: does.before_the_run},
        "The bowl holds so much of what the owner wrote down.",
        Size(1.5, "%", 0.2, 3.0),
    )
    SEED_FORGOTTEN = (
        "seed-forgotten",
        {Part.SEEDING: forced(0.0)},
        "The cook says that the seed is in, and it is not.",
    )
    SEED_EARLY = (
        "seed-early",
        {Part.SEEDING: does.seeded_early},
        "The cook adds seed, this share of the batch, now, and none when asked.",
        Size(0.1, "%", 0.01, 0.5),
        True,
    )
    SWAP_FORGOTTEN = (
        "swap-forgotten",
        {Part.SWAPPING: forced(0.0)},
        "The cook says that the water is swapped, and it is not.",
    )
    ANSWER_LATE = "answer-late", {Part.ANSWERING: does.added}, "Answers come so much later.", LATE
    ANSWER_NEVER = "answer-never", {Part.ANSWERING: forced(math.inf)}, "No answer comes."
    ANSWER_WRONG = "answer-wrong", {Part.CHOOSING: forced(1.0)}, "The set test is misjudged."
    # Power
    POWER_CUT = (
        "power-cut",
        {**MAINS, Part.COMPUTER: forced(0.0)},
        "All power goes, the computer's too: the run is cut off.",
    )
    POWER_DIP = "power-dip", MAINS, "Heater and stirrer lose their power; the computer does not."
    # Clock and computer
    CLOCK_FORWARD = (
        "clock-forward",
        {Part.CLOCK: does.added},
        "The clock jumps forward by so much.",
        JUMP,
        True,
    )
    CLOCK_BACK = "clock-back", {Part.CLOCK: does.taken}, "The clock jumps back.", JUMP, True
    CLOCK_STALL = (
        "clock-stall",
        {Part.SLEEP: does.added},
        "The computer sleeps for so long, and its clock stands still.",
        JUMP,
        True,
    )
    TICK_LATE = (
        "tick-late",
        {Part.TICK: does.added},
        "The computer is overworked: each tick comes so much late.",
        Size(3.0, "s", 0.01, 60.0),
    )
    DISK_FULL = "disk-full", {Part.DISK: forced(errno.ENOSPC)}, "The disk has no room left."
    DISK_READ_ONLY = "disk-read-only", {Part.DISK: forced(errno.EROFS)}, "The disk is read-only."
    MEMORY_BIT = (
        "memory-bit",
        {Part.MEMORY: forced(1.0)},
        "One bit of the bath's limit turns over in memory.",
        None,
        True,
    )
    # Broker
    BROKER_AWAY = "broker-away", {Part.BROKER: forced(0.0)}, "The MQTT broker is away."
    BROKER_FLOOD = (
        "broker-flood",
        {Part.INBOX: forced(20.0)},
        "Somebody floods the broker with answers that nobody asked for, twenty a second.",
    )


BY_WORD: Mapping[str, BenchFault] = {str(fault): fault for fault in BenchFault}


class Faults:
    """The faults that are in at the moment, oldest first."""

    def __init__(self, scene: Scene) -> None:
        """Nothing is broken."""
        self.scene = scene
        self._active: list[tuple[BenchFault, Mapping[Part, Upset]]] = []

    def inject(self, fault: BenchFault, size: float | None = None) -> None:
        """Break something, by its usual size if none is given.

        What is broken already stays as it is; what happens in a moment happens again.
        """
        if not fault.once and any(fault is active for active, _ in self._active):
            return
        usual = 0.0 if fault.size is None else fault.size.usual
        by = usual if size is None else size
        acts = {part: deed(self.scene, by) for part, deed in fault.acts.items()}
        self._active.append((fault, acts))

    def clear(self, fault: BenchFault) -> None:
        """Mend it; what is whole stays whole."""
        ended = [acts for active, acts in self._active if active is fault]
        self._active = [pair for pair in self._active if pair[0] is not fault]
        for upset in (upset for acts in ended for upset in acts.values()):
            if upset.ends is not None:
                upset.ends()

    def altered(self, part: Part, would: float, now_s: float = 0.0) -> float:
        """The state that a part is in, where without faults it would be in another."""
        if not self._active:
            return would
        for upset in self._at(part):
            if upset.alters is not None:
                would = upset.alters(would, now_s)
        return would

    def distorting(self, part: Part) -> tuple[Distort, ...]:
        """What distorts the readings of a part, oldest fault first."""
        if not self._active:
            return ()
        return tuple(upset.distorts for upset in self._at(part) if upset.distorts is not None)

    def _at(self, part: Part) -> tuple[Upset, ...]:
        """What is at work in a part, oldest fault first."""
        return tuple(acts[part] for _, acts in self._active if part in acts)
