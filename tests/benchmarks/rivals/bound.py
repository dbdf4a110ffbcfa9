"""The least time in which physics lets a machine reach a temperature, by its own true plant.

Responsible for the bound alone: no thermometer, no noise, no controller. Heating by the fastest
way: full power, at the bath's ceiling where that bites, off at one moment, then trim. The moment is
found by bisection: the latest after which the bowl never goes too far over. That one switch is
enough is no assumption of ours alone: tests/reference/test_control_bound.py lets an independent
solver switch as often as it likes. Cooling by one swap of water with the heater catching the bowl.
"""

import copy
import math
from collections.abc import Callable
from dataclasses import dataclass

from hardware.bench.parameters import WATER_J_PER_KG_K
from hardware.bench.probes import fits_of
from tests.benchmarks.rivals.eye import Eye, Start

BAND_K = 0.1
MARK_EVERY_S = 30
GIVE_UP_S = 4 * 3600
FALLING_S = 30  # a bowl that has come down for so long has been at its peak
LUMPS_KG = 0.01  # fewer cold lumps than this turn no bowl around
SLICES = 8  # the last second of heat is cut in so many
STIR_RPM = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What is to be reached, in the words of a phase."""

    target_c: float
    ceiling_c: float  # of the bath, by its thermometer
    stir_from_c: float
    band_k: float = BAND_K  # so near to the target it has been reached
    beyond_k: float = BAND_K  # and so far beyond it the bowl may never go


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """The fastest way; NaN where the machine can't get there at all."""

    time_s: float  # until the bowl is in the band for good
    switch_s: float  # when the heater goes off


class Mover:
    """A plant that somebody who knows all of it moves second by second."""

    def __init__(self, start: Start, aim: Aim) -> None:
        """A copy of the plant at its start."""
        self.plant = start.again()
        self._now_s = self._began_s = start.now_s
        self._aim = aim
        self._look()
        self._was_c = self.plant.bath_c
        self._step_s = 1.0

    def _look(self) -> None:
        self.eye = Eye(self.plant)

    @property
    def elapsed_s(self) -> float:
        """Since the start."""
        return self._now_s - self._began_s

    def branch(self) -> "Mover":
        """Another that goes on from here."""
        other = copy.copy(self)
        other.plant = copy.deepcopy(self.plant)
        other._look()  # noqa: SLF001 - of its own kind
        return other

    def move(self, power_w: float, step_s: float = 1.0) -> float:
        """Heat for a second; the bowl's temperature after it, °C."""
        plant = self.plant
        self._was_c, self._step_s = plant.bath_c, step_s
        # As the profiles have it: no stirring in solid pieces.
        turning = plant.bowl_probe_c(0.0) >= self._aim.stir_from_c
        plant.stir(STIR_RPM if turning else 0.0)
        plant.heat(power_w)
        self._now_s += step_s
        plant.advance(self._now_s)
        return self.eye.seen_c()

    def full_w(self) -> float:
        """Full power, or what keeps the bath at its ceiling, W.

        The element holds heat that the bath will still get. Heat goes on while bath and element
        would settle under the ceiling; then the element is given just what the bath loses.
        """
        plant = self.plant
        parameters = plant.parameters
        fit = fits_of(parameters).bath
        top_c = (self._aim.ceiling_c - fit.off_k) / (1.0 + fit.off_per_c)
        bath_j_per_k = plant.water_kg * WATER_J_PER_KG_K + parameters.pot_j_per_k
        held_j = (plant.element_c - plant.bath_c) * parameters.element_j_per_k
        gives_w = held_j / parameters.heater_lag_s
        rise_w = bath_j_per_k * (plant.bath_c - self._was_c) / self._step_s
        takes_w = max(1.0, gives_w - rise_w)  # bowl and room together
        rests_j = takes_w * parameters.heater_lag_s
        then_j = held_j + parameters.heater_w - gives_w
        left_j = max(0.0, gives_w - takes_w)
        if then_j > rests_j:
            left_j += then_j - rests_j * (1.0 + math.log(then_j / rests_j))
        if plant.bath_c + left_j / bath_j_per_k <= top_c:
            return parameters.heater_w
        return min(max(takes_w + rests_j - held_j, 0.0), parameters.heater_w)


def coast(mover: Mover, aim: Aim, see: Callable[[float], object] = lambda _: None) -> bool:
    """Go on without heat until the bowl has been at its peak; whether that is not too far over."""
    most_c, since_s = -math.inf, 0
    while since_s < FALLING_S and mover.elapsed_s < GIVE_UP_S:
        seen_c = mover.move(0.0)
        see(seen_c)
        if seen_c > aim.target_c + aim.beyond_k:
            return False
        # While cold lumps dissolve, a bowl that falls has no peak behind it.
        since_s = 0 if seen_c > most_c or mover.plant.solid_kg > LUMPS_KG else since_s + 1
        most_c = max(most_c, seen_c)
    return True


def heating_bound(start: Start, aim: Aim) -> Bound:
    """The fastest way up."""
    last = _last_safe(start, aim)
    if last is None:
        return Bound(time_s=math.nan, switch_s=math.nan)
    switch_s, low_c = last.elapsed_s, aim.target_c - aim.band_k
    mover, entered_s, was_c = Mover(start, aim), math.nan, -math.inf

    def see(seen_c: float) -> None:
        nonlocal entered_s, was_c
        if was_c < low_c <= seen_c:
            entered_s = mover.elapsed_s
        was_c = seen_c

    # The whole way again, to see when it last comes into the band; trim keeps it there.
    while mover.elapsed_s < switch_s:
        see(mover.move(mover.full_w(), min(1.0, switch_s - mover.elapsed_s)))
    coast(mover, aim, see)
    return Bound(time_s=entered_s, switch_s=switch_s)


def _last_safe(start: Start, aim: Aim) -> Mover | None:
    """The latest moment at which the heater may go off, to an eighth of a second."""
    marks = _marks(start, aim)
    if marks is None:
        return None
    low, high = 0, len(marks)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if coast(marks[middle].branch(), aim) else (low, middle)
    last = marks[low]
    for count, step_s in ((MARK_EVERY_S, 1.0), (SLICES, 1.0 / SLICES)):
        low, high = 0, count
        while high - low > 1:
            middle = (low + high) // 2
            tried = _heated(last, middle, step_s)
            low, high = (middle, high) if coast(tried, aim) else (low, middle)
        last = _heated(last, low, step_s)
    return last


def _heated(mover: Mover, steps: int, step_s: float) -> Mover:
    """Another that heats for so many steps more."""
    other = mover.branch()
    for _ in range(steps):
        other.move(other.full_w(), step_s)
    return other


def _marks(start: Start, aim: Aim) -> list[Mover] | None:
    """The plant on its way up at full heat, every so often; None if it never gets there."""
    mover = Mover(start, aim)
    marks = [mover.branch()]
    for second in range(1, GIVE_UP_S):
        seen_c = mover.move(mover.full_w())
        if seen_c > aim.target_c + aim.beyond_k:
            return marks
        if second % MARK_EVERY_S == 0:
            marks.append(mover.branch())
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Swap:
    """The water that the cook has at hand, and how long he takes."""

    water_c: float
    after_s: float
    shares: tuple[float, ...]  # of the bath, each of which is tried


def cooling_bound(start: Start, aim: Aim, swap: Swap) -> Bound:
    """The fastest way down with one swap of water, the heater catching the bowl in time."""
    ways = [_cooled(start, aim, swap, share) for share in swap.shares]
    there = [way for way in ways if math.isfinite(way.time_s)]
    return min(there, key=lambda way: way.time_s, default=Bound(time_s=math.nan, switch_s=math.nan))


def _cooled(start: Start, aim: Aim, swap: Swap, share: float) -> Bound:
    """With one share: heat from the latest moment that leaves the bowl in the band."""
    free = _caught(start, aim, swap, share, math.inf)
    if math.isfinite(free):
        return Bound(time_s=free, switch_s=math.inf)
    low_s, high_s = swap.after_s, float(GIVE_UP_S)
    found_s = _caught(start, aim, swap, share, low_s)
    while high_s - low_s > 1.0:
        middle_s = (low_s + high_s) / 2
        there_s = _caught(start, aim, swap, share, middle_s)
        if math.isfinite(there_s):
            low_s, found_s = middle_s, there_s
        else:
            high_s = middle_s
    return Bound(time_s=found_s, switch_s=low_s)


def _caught(start: Start, aim: Aim, swap: Swap, share: float, heat_from_s: float) -> float:
    """When the bowl comes into the band, s; NaN if it falls through it or never comes."""
    mover = Mover(start, aim)
    while mover.elapsed_s < swap.after_s:
        mover.move(0.0)
    mover.plant.swap_water(share=share, water_c=swap.water_c)
    entered_s, least_c, since_s = math.nan, math.inf, 0
    while since_s < FALLING_S and mover.elapsed_s < GIVE_UP_S:
        catching = mover.elapsed_s >= heat_from_s and mover.plant.bath_c < aim.target_c
        seen_c = mover.move(mover.full_w() if catching else 0.0)
        if seen_c < aim.target_c - aim.beyond_k:
            return math.nan
        if math.isnan(entered_s) and seen_c <= aim.target_c + aim.band_k:
            entered_s = mover.elapsed_s
        since_s = 0 if seen_c < least_c else since_s + 1
        least_c = min(least_c, seen_c)
    return entered_s


def way_up(start: Start, aim: Aim, switch_s: float, span_s: int) -> list[float]:
    """The bowl each second on the fastest way, °C, for a picture."""
    mover = Mover(start, aim)
    return [mover.move(mover.full_w() if second < switch_s else 0.0) for second in range(span_s)]
