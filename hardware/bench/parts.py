"""The bench's sensors and drives: what stands between the plant and the ports.

Responsible for quantisation, noise, age and the way faults show; not for physics.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from controller.ports import Fault, Reading, missing
from hardware.bench.faults import Faults
from hardware.bench.parameters import WATER_J_PER_KG_K
from hardware.bench.plant import Plant
from hardware.bench.probes import Fit
from hardware.bench.upsets import Following, Held, Part

SECONDS_PER_MINUTE = 60.0
# Three even chances added make a bell of half their spread, which ends at three of its deviations.
NOISE_SPREAD = 2.0
NOISE_MIDDLE = 1.5
MAINS_V = 230.0  # nominal voltage after IEC 60038 (from memory, not checked)
LIVE_FROM_V = 100.0  # own engineering value: a detector that lights from there on
CURRENT_OFF = 0.03  # of a cheap transformer, and its noise: own engineering values, not published
CURRENT_NOISE = 0.01
# Before Python 3.12 looking up a member of an enumeration takes as long as a small function.
LEVEL, SHAFT, STIRRER, ELEMENT = Part.LEVEL, Part.SHAFT, Part.STIRRER, Part.ELEMENT
RELAY, SECOND_SWITCH, CURRENT = Part.RELAY, Part.SECOND_SWITCH, Part.CURRENT
MAINS, MAINS_LIVE, LOAD = Part.MAINS, Part.MAINS_LIVE, Part.LOAD
HAND_LAG_S = 8.0  # of a sleeve that is put elsewhere by hand: own engineering value
PUT_BACK_K = 0.005  # nearer to its own place than that, it is there
RPM_DIGITS = 1  # a pulse timer resolves far more; a tenth is plenty


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """What every part of one bench shares."""

    plant: Plant
    faults: Faults
    seed: int

    def random(self, name: str) -> Random:
        """A stream of chance of its own for each part, the same for the same seed."""
        return Random(f"{self.seed}/{name}")  # noqa: S311 - noise, not cryptography


class Shown:
    """What faults make of the readings of one sensor."""

    def __init__(self, bed: Bed, part: Part) -> None:
        """Nothing was read yet."""
        self._part, self._faults = part, bed.faults
        self._upset = bed.random(f"{part}/upset")
        self._good: Reading | None = None  # what it gave last before it broke
        self._good_s = math.nan

    def __call__(self, fresh: Reading, now_s: float) -> Reading:
        """The newest reading, or what the faults make of it."""
        distorting = self._faults.distorting(self._part)
        if not distorting:
            self._good, self._good_s = fresh, now_s
            return fresh
        if self._good is None:
            self._good, self._good_s = fresh, now_s
        held = Held(reading=self._good, at_s=self._good_s)
        for distort in distorting:
            fresh = distort(fresh, held, now_s, self._upset)
        # Where several faults meet, one that gives no value leaves none to the others.
        return fresh if fresh.fault is Fault.NONE else missing(fresh.fault)


class Probe:
    """A thermometer: lagging, stepped, a little noisy, off, and one conversion old."""

    def __init__(self, bed: Bed, part: Part, probe_c: Callable[[float], float], fit: Fit) -> None:
        """Read `probe_c`, which takes how long ago in s, of the bed's plant."""
        self._part, self._faults, self._plant = part, bed.faults, bed.plant
        self._probe_c = probe_c
        kind = fit.kind
        self._age_s, self._step_k = kind.conversion_s, kind.step_k
        self._off_k, self._gain = fit.off_k, 1.0 + fit.off_per_c
        self._spread_k = NOISE_SPREAD * kind.noise_k
        self._chance = bed.random(f"{part}/noise").random
        self._shown = Shown(bed, part)
        self._reading, self._read_s = missing(), math.nan
        self._held_c: float | None = None  # where a hand has put it; None: its own place
        self._moved: Following | None = None

    def hold(self, at_c: float | None) -> None:
        """Put it into something of that temperature by hand; None puts it back."""
        if at_c is not None and self._moved is None:
            self._moved = Following(HAND_LAG_S)
        self._held_c = at_c

    def _elsewhere_c(self, own_c: float, now_s: float, moved: Following) -> float:
        """The tip's temperature where a hand has moved it, or while it comes back."""
        towards_c = own_c if self._held_c is None else self._held_c
        tip_c = moved(towards_c, now_s, own_c)
        if self._held_c is None and abs(tip_c - own_c) < PUT_BACK_K:
            self._moved = None
        return tip_c

    def read(self, now_s: float) -> Reading:
        """The newest conversion, or what the faults make of it."""
        fresh = self._reading if now_s == self._read_s else self._convert(now_s)
        return self._shown(fresh, now_s)

    def _convert(self, now_s: float) -> Reading:
        """One conversion for one moment, however often it is asked for."""
        self._plant.advance(now_s)
        tip_c = self._probe_c(self._age_s)
        if self._moved is not None:
            tip_c = self._elsewhere_c(tip_c, now_s, self._moved)
        tip_c = self._faults.altered(self._part, tip_c, now_s)
        chance = self._chance
        bell = chance() + chance() + chance() - NOISE_MIDDLE
        shown_c = self._off_k + self._gain * tip_c + self._spread_k * bell
        reading = Reading(round(shown_c / self._step_k) * self._step_k, self._age_s)
        self._reading, self._read_s = reading, now_s
        return reading


class Level:
    """A float switch: 1.0 while water covers the element."""

    def __init__(self, bed: Bed) -> None:
        """Watch the bed's bath."""
        self._plant, self._faults = bed.plant, bed.faults
        self._shown = Shown(bed, LEVEL)

    def read(self, now_s: float) -> Reading:
        """1.0, or 0.0 with the level lost."""
        self._plant.advance(now_s)
        covered = 1.0 if self._plant.covered >= 1.0 else 0.0
        return self._shown(Reading(self._faults.altered(LEVEL, covered, now_s)), now_s)


class LidSwitch:
    """A switch under the lid: 1.0 while it is on."""

    def __init__(self, bed: Bed) -> None:
        """Watch the bed's lid."""
        self._plant, self._faults = bed.plant, bed.faults
        self._shown = Shown(bed, Part.LID)

    def read(self, now_s: float) -> Reading:
        """1.0, or 0.0 with the lid off."""
        self._plant.advance(now_s)
        on = 0.0 if self._plant.lid_open else 1.0
        return self._shown(Reading(self._faults.altered(Part.LID, on, now_s)), now_s)


class StopButton:
    """A button that latches where it is pressed: 1.0 until then."""

    def __init__(self, bed: Bed) -> None:
        """Nobody presses it."""
        self.is_pressed = False
        self._faults, self._shown = bed.faults, Shown(bed, Part.STOP)

    def read(self, now_s: float) -> Reading:
        """1.0, or 0.0 once pressed."""
        out = 0.0 if self.is_pressed else 1.0
        return self._shown(Reading(self._faults.altered(Part.STOP, out, now_s)), now_s)


class Shaft:
    """Pulses of the stirrer's shaft, timed one against the next."""

    def __init__(self, bed: Bed) -> None:
        """Watch the bed's stirrer."""
        self._plant, self._faults = bed.plant, bed.faults
        self._shown = Shown(bed, SHAFT)
        parameters = bed.plant.parameters
        longest_s = parameters.shaft_pulses_per_rev * parameters.shaft_patience_s
        self._slowest_rpm = SECONDS_PER_MINUTE / longest_s

    def read(self, now_s: float) -> Reading:
        """Speed in rpm; 0 when the next pulse is too long in coming."""
        self._plant.advance(now_s)
        # Pulses come alike whichever way it turns.
        rpm = self._faults.altered(SHAFT, abs(self._plant.rpm), now_s)
        shown_rpm = round(rpm, RPM_DIGITS) if rpm >= self._slowest_rpm else 0.0
        return self._shown(Reading(shown_rpm), now_s)


class Load:
    """The stirrer's load at the shaft, W, from its motor's current."""

    def __init__(self, bed: Bed) -> None:
        """Watch the bed's stirrer."""
        self._plant, self._faults = bed.plant, bed.faults
        self._chance = bed.random("load/noise").random
        self._spread = NOISE_SPREAD * bed.plant.parameters.load_noise
        self._shown = Shown(bed, LOAD)
        self._reading, self._read_s = missing(), math.nan

    def read(self, now_s: float) -> Reading:
        """Load in W with a little noise; one conversion for one moment."""
        if now_s != self._read_s:
            self._plant.advance(now_s)
            chance = self._chance
            bell = chance() + chance() + chance() - NOISE_MIDDLE
            true_w = self._faults.altered(LOAD, self._plant.load_w, now_s)
            self._reading = Reading(max(0.0, true_w * (1.0 + self._spread * bell)))
            self._read_s = now_s
        return self._shown(self._reading, now_s)


class Relay:
    """The heater's switch, perhaps a second one in series, and the element behind them."""

    def __init__(self, bed: Bed, *, has_second: bool = False) -> None:
        """Open."""
        self._plant, self._faults = bed.plant, bed.faults
        self._heater_w = bed.plant.parameters.heater_w
        self.has_second = has_second
        self._told = (False, False)  # the first switch and the second
        self._is_cut = False  # by the cut-out or the stop button, which are in series with both
        self.volts = 0.0  # behind the switches
        self.amperes = 0.0

    def drive(
        self,
        *,
        on: bool,
        now_s: float,
        cap_c: float = 0.0,  # noqa: ARG002 - a bare switch has no guard to ask
        good: bool = True,  # noqa: ARG002 - likewise
        alone: int = 0,
    ) -> None:
        """Open or close the switches at `now_s`, or only the first or second, as the port says."""
        self._plant.advance(now_s)
        self._told = (on and alone in (0, 1), on and alone in (0, 2))
        if alone and not self.has_second:
            self._told = (False, False)
        self.settle(now_s)

    def cut(self, *, off: bool, now_s: float) -> None:
        """Trip the cut-out or press the stop button, or undo both."""
        self._plant.advance(now_s)
        self._is_cut = off
        self.settle(now_s)

    def settle(self, now_s: float = 0.0) -> None:
        """Let the element follow the switch, as far as faults and the mains allow."""
        faults = self._faults
        first, second = map(float, self._told)
        closed = faults.altered(RELAY, first, now_s)
        if self.has_second:  # of another make
            closed *= faults.altered(SECOND_SWITCH, second, now_s)
        self.volts = 0.0 if self._is_cut else MAINS_V * closed * faults.altered(MAINS, 1.0, now_s)
        live_w = self._heater_w * self.volts / MAINS_V
        heat_w = faults.altered(ELEMENT, live_w, now_s)
        self.amperes = heat_w / MAINS_V
        self._plant.heat(heat_w)


class MainsLive:
    """An input of the guard's: 1.0 while voltage stands behind the switches."""

    def __init__(self, bed: Bed, relay: Relay) -> None:
        """Watch what is behind `relay`."""
        self._relay, self._faults = relay, bed.faults
        self._shown = Shown(bed, MAINS_LIVE)

    def read(self, now_s: float) -> Reading:
        """1.0, or 0.0 without voltage."""
        live = 1.0 if self._relay.volts >= LIVE_FROM_V else 0.0
        return self._shown(Reading(self._faults.altered(MAINS_LIVE, live, now_s)), now_s)


class Current:
    """The element's current, A, by a transformer around its wire."""

    def __init__(self, bed: Bed, relay: Relay) -> None:
        """Watch what flows behind `relay`."""
        self._relay, self._faults = relay, bed.faults
        chance = bed.random("current")
        self._gain = 1.0 + CURRENT_OFF * chance.uniform(-1.0, 1.0)
        self._chance = chance.random
        self._shown = Shown(bed, CURRENT)
        self._reading, self._read_s = missing(), math.nan

    def read(self, now_s: float) -> Reading:
        """Current in A, a little off and noisy; one conversion for one moment."""
        if now_s != self._read_s:
            noise = CURRENT_NOISE * (2.0 * self._chance() - 1.0)
            true_a = self._faults.altered(CURRENT, self._relay.amperes, now_s)
            self._reading = Reading(max(0.0, true_a * (self._gain + noise)))
            self._read_s = now_s
        return self._shown(self._reading, now_s)


class Cooler:
    """Pump or fan that takes heat from the bath. Standing until told."""

    def __init__(self, bed: Bed, *, is_fan: bool) -> None:
        """Standing."""
        self._plant, self._is_fan = bed.plant, is_fan
        self._on = False
        self._since_s = 0.0

    def drive(self, *, on: bool, now_s: float) -> None:
        """Run or stand from `now_s` on; what it took until then comes out of the bath now.

        A pump swaps a little water in each tick, as much in as out; a fan is counted as if it did,
        with water as warm as the room.
        """
        plant, parameters = self._plant, self._plant.parameters
        plant.advance(now_s)
        ran_s, self._since_s = max(0.0, now_s - self._since_s), now_s
        if self._on and plant.water_kg > 0.0:
            carries = parameters.fan_w_per_k if self._is_fan else parameters.pump_w_per_k
            sink_c = plant.room_c if self._is_fan else parameters.pump_water_c
            water_j_per_k = plant.water_kg * WATER_J_PER_KG_K
            share = -math.expm1(-carries * ran_s / water_j_per_k)
            plant.swap_water(share=share, water_c=sink_c)
        self._on = on


class Indicator:
    """A buzzer or a lamp, which does nothing to the plant. Off until told."""

    def __init__(self) -> None:
        """Off."""
        self.is_on = False
        self.on_s = 0.0  # how long it was on in all
        self._since_s = 0.0

    def drive(self, *, on: bool, now_s: float) -> None:
        """Sound or shine from `now_s` on."""
        self.on_s += max(0.0, now_s - self._since_s) if self.is_on else 0.0
        self.is_on, self._since_s = on, now_s


class Motor:
    """The stirrer's motor: standing until told."""

    def __init__(self, bed: Bed) -> None:
        """Standing."""
        self._bed = bed
        self._told_rpm = 0.0

    def drive(self, *, rpm: float, now_s: float) -> None:
        """Seek `rpm` from `now_s` on; what is no speed stops it."""
        self._bed.plant.advance(now_s)
        self._told_rpm = rpm if math.isfinite(rpm) and rpm > 0.0 else 0.0
        self._bed.faults.scene.told_rpm = self._told_rpm
        self.settle(now_s)

    def settle(self, now_s: float = 0.0) -> None:
        """Let the shaft follow the motor, as far as faults and the mains allow."""
        faults = self._bed.faults
        rpm = self._told_rpm * faults.altered(MAINS, 1.0, now_s)
        self._bed.plant.stir(faults.altered(STIRRER, rpm, now_s))
