"""What a step test says of a machine: heat capacities, losses and delays, each with its band.

Responsible for the model and for honest bands; not for the test (step-test.toml), the search
(least_squares) or the record. It knows the literature and the machine file, never the bench.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

from controller.commissioning.least_squares import Found, hanging_together, minimised, spread
from controller.core.machine import WATER_J_PER_KG_K, Machine
from controller.core.thermal import (
    BATH_LAG_S,
    BOWL_LOSS_W_PER_K,
    DRY_LOSS_SHARE,
    ELEMENT_LAG_S,
    ROOM_HUMIDITY,
    TRANSFER_W_PER_K,
    VAPOUR_W_PER_KPA,
    saturated_kpa,
)
from controller.journal.records import Run

SURE = 1.96  # deviations that hold 95 % of a normal distribution
STEP_MAX_S = 2.5
# Order of the numbers that are sought: logarithms of the heat capacities of bath and bowl (J/K),
# of the transfer between them (W/K), of the losses over the machine file's, of the lags of element
# and bowl's thermometer (s); what bath and bowl began at (°C); what the bath's thermometer sees of
# the element at full power (K); what the bowl's reads more than the bath's would there (K).
LN_BATH, LN_BOWL, LN_K, LN_LOSS, LN_ELEMENT, LN_PROBE, BATH_0, BOWL_0, NEAR, APART = range(10)
# First beliefs where the test may say little: own engineering values, not published.
_SD = {
    LN_BATH: 0.5,
    LN_BOWL: 0.5,
    LN_K: 1.0,
    LN_LOSS: 1.0,
    LN_ELEMENT: 0.5,
    LN_PROBE: 0.6,
    NEAR: 0.4,
    APART: 0.1,
}
PROBE_LAG_S = 6.0  # a sleeve in stirred water
NEAR_K = 0.15
VESSEL_WITH_BATH = 0.55  # part of the machine file's vessel that is the pot's, not the bowl's
READING_SD_K = 0.05  # of one reading: steps and noise together
# What model and machine differ by, found on machines of the bench that this was tuned on
# (drawn-2001 to -2003; widened in view of drawn-1001 to -1003): own engineering values, one
# deviation each.
CAPACITY_OFF = 0.0095
LOSS_OFF = 0.0065
BATH_DELAY_OFF_S = 0.75
BOWL_DELAY_OFF = 0.013
BOWL_DELAY_OFF_S = 2.0
ROOM_SD_K = 0.25  # one of the machine's own, calibrated, in the air beside it
METER_SD = 0.01  # a plug-in energy meter
NAMEPLATE_SD = 0.05  # an element's power as its maker writes it, at the mains of the day


class Samples(NamedTuple):
    """A step test as the fit sees it."""

    at_s: tuple[float, ...]
    bath_c: tuple[float, ...]
    bowl_c: tuple[float, ...]
    duty: tuple[float, ...]  # part of full power from the sample before on


class Known(NamedTuple):
    """What is known beside the readings."""

    power_w: float
    power_sd: float  # as a share of it
    room_c: float
    room_sd_k: float


class Value(NamedTuple):
    """A number with the deviation that its band is made of."""

    value: float
    sd: float

    @property
    def sure(self) -> float:
        """Half the band that holds it, 95 %."""
        return SURE * self.sd


class Fit(NamedTuple):
    """What the test says."""

    capacity_j_per_k: Value  # bath, vessel, bowl and what is in it
    bath_j_per_k: Value
    bowl_j_per_k: Value
    loss_w_per_k: Value  # of all that is lost, at the bath's temperature while it held
    held_c: float  # that temperature
    transfer_w_per_k: Value
    bath_delay_s: Value  # from the switch to the bath's reading, as a steady rise shows it
    bowl_delay_s: Value  # from the bath to the bowl's reading
    left_k: float  # what the model leaves of the readings: their deviation


def samples_of(run: Run) -> Samples:
    """The readings of a record, without those that were not to be had."""
    found = [one for one in run.samples if math.isfinite(one.bath_c) and math.isfinite(one.bowl_c)]
    kept, last_s = [], -math.inf
    for one in found:
        if one.t_s > last_s:
            kept.append(one)
            last_s = one.t_s
    duty = [0.0]
    for before, after in pairwise(kept):
        span_j = run.header.heater_w * (after.t_s - before.t_s)
        duty.append((after.heat_j - before.heat_j) / span_j)
    return Samples(
        at_s=tuple(one.t_s for one in kept),
        bath_c=tuple(one.bath_c for one in kept),
        bowl_c=tuple(one.bowl_c for one in kept),
        duty=tuple(duty),
    )


class _Model:
    """The machine stepped through the test, and how far its readings are off."""

    def __init__(self, samples: Samples, known: Known, machine: Machine) -> None:
        self._samples, self._known = samples, known
        self._loss_w_per_k = DRY_LOSS_SHARE * machine.loss_w_per_k
        self._air_kpa = ROOM_HUMIDITY * saturated_kpa(known.room_c)
        vessel = machine.vessel_j_per_k
        pot_j_per_k = VESSEL_WITH_BATH * vessel
        self.start = [0.0] * (APART + 1)
        self.start[LN_BATH] = math.log(machine.water_kg * WATER_J_PER_KG_K + pot_j_per_k)
        self.start[LN_BOWL] = math.log(machine.batch_kg * WATER_J_PER_KG_K + vessel - pot_j_per_k)
        self.start[LN_K] = math.log(TRANSFER_W_PER_K)
        self.start[LN_ELEMENT] = math.log(ELEMENT_LAG_S)
        self.start[LN_PROBE] = math.log(PROBE_LAG_S)
        self.start[BATH_0], self.start[BOWL_0] = samples.bath_c[0], samples.bowl_c[0]
        self.start[NEAR] = NEAR_K

    def losses_w(self, values: Sequence[float], bath_c: float, bowl_c: float) -> float:
        """All that leaves bath and bowl."""
        room_c = self._known.room_c
        vapour_w = VAPOUR_W_PER_KPA * (saturated_kpa(bath_c) - self._air_kpa)
        bath_w = self._loss_w_per_k * (bath_c - room_c) + vapour_w
        return math.exp(values[LN_LOSS]) * bath_w + BOWL_LOSS_W_PER_K * (bowl_c - room_c)

    def residuals(self, values: Sequence[float]) -> list[float]:
        """Of each reading, and of each number from what is believed of it beforehand."""
        samples = self._samples
        bath_p, bowl_p = self._readings(values)
        found = [
            (here - read) / READING_SD_K for here, read in zip(bath_p, samples.bath_c, strict=True)
        ]
        found += [
            (here - read) / READING_SD_K for here, read in zip(bowl_p, samples.bowl_c, strict=True)
        ]
        return found + [(values[at] - self.start[at]) / sd for at, sd in _SD.items()]

    def _readings(self, values: Sequence[float]) -> tuple[list[float], list[float]]:
        """What both thermometers would show; midpoint rule for what lags, as in the estimator."""
        room_c, power_w = self._known.room_c, self._known.power_w
        bath_j, bowl_j, k, loss, lag_s, probe_s = map(math.exp, values[:BATH_0])
        bath = bath_p = values[BATH_0]
        bowl = bowl_p = values[BOWL_0]
        near, apart = values[NEAR], values[APART]
        dry, air_kpa = self._loss_w_per_k, self._air_kpa
        element = 0.0
        baths, bowls = [bath], [bowl + apart]
        before_s = self._samples.at_s[0]
        for at_s, duty in zip(self._samples.at_s[1:], self._samples.duty[1:], strict=True):
            parts = math.ceil((at_s - before_s) / STEP_MAX_S)
            step_s = (at_s - before_s) / parts
            half_s = 0.5 * step_s
            share = step_s / (lag_s + half_s)
            bath_share, bowl_share = step_s / (BATH_LAG_S + half_s), step_s / (probe_s + half_s)
            for _ in range(parts):
                gain = share * (duty - element)
                mid = element + 0.5 * gain
                lost_w = loss * (
                    dry * (bath - room_c) + VAPOUR_W_PER_KPA * (saturated_kpa(bath) - air_kpa)
                )
                across_w = k * (bath - bowl)
                bath_k = step_s * (power_w * mid - across_w - lost_w) / bath_j
                bowl_k = step_s * (across_w - BOWL_LOSS_W_PER_K * (bowl - room_c)) / bowl_j
                bath_p += bath_share * (bath + 0.5 * bath_k + near * mid - bath_p)
                bowl_p += bowl_share * (bowl + 0.5 * bowl_k - bowl_p)
                element, bath, bowl = element + gain, bath + bath_k, bowl + bowl_k
            before_s = at_s
            baths.append(bath_p)
            bowls.append(bowl_p + apart)
        return baths, bowls


def fitted(samples: Samples, known: Known, machine: Machine) -> Fit:
    """What the step test says of the machine.

    Args:
        samples: of a run of the step test with water in the bowl.
        known: power and room, with their deviations.
        machine: what its owner believes, from which the search begins.

    Raises:
        ZeroDivisionError: the readings say nothing.
    """
    model = _Model(samples, known, machine)
    found = minimised(model.residuals, model.start)
    readings = found.residuals[: 2 * len(samples.at_s)]
    scale = _scale(readings)

    def sd(slope: dict[int, float]) -> float:
        """Of what changes by `slope` with each number."""
        return scale * spread(found.cov, [slope.get(at, 0.0) for at in range(APART + 1)])

    def sized(value: float, slope: dict[int, float], off: float = CAPACITY_OFF) -> Value:
        """What hangs on the power, too; `slope` is of its logarithm."""
        return Value(value, value * math.hypot(sd(slope), known.power_sd, off))

    bath_j, bowl_j, k = (math.exp(found.values[at]) for at in (LN_BATH, LN_BOWL, LN_K))
    total_j = bath_j + bowl_j
    held_bath_c, held_bowl_c = _held(samples)
    loss_w = model.losses_w(found.values, held_bath_c, held_bowl_c)
    over_k = held_bath_c - known.room_c
    by_bath = 1.0 - BOWL_LOSS_W_PER_K * (held_bowl_c - known.room_c) / loss_w
    loss_off = math.hypot(LOSS_OFF, known.room_sd_k / over_k)
    return Fit(
        capacity_j_per_k=sized(total_j, {LN_BATH: bath_j / total_j, LN_BOWL: bowl_j / total_j}),
        bath_j_per_k=sized(bath_j, {LN_BATH: 1.0}),
        bowl_j_per_k=sized(bowl_j, {LN_BOWL: 1.0}),
        loss_w_per_k=sized(loss_w / over_k, {LN_LOSS: by_bath}, loss_off),
        held_c=held_bath_c,
        transfer_w_per_k=sized(k, {LN_K: 1.0}),
        bath_delay_s=_bath_delay_s(found, known, sd),
        bowl_delay_s=_bowl_delay_s(found, sd),
        left_k=READING_SD_K * math.sqrt(sum(one * one for one in readings) / len(readings)),
    )


def _bath_delay_s(found: Found, known: Known, sd: Callable[[dict[int, float]], float]) -> Value:
    """From the switch to the reading; a thermometer that sees the element runs ahead of it."""
    lag_s, bath_j = math.exp(found.values[LN_ELEMENT]), math.exp(found.values[LN_BATH])
    ahead_s = found.values[NEAR] * bath_j / known.power_w
    slope = {LN_ELEMENT: lag_s, LN_BATH: -ahead_s, NEAR: -bath_j / known.power_w}
    return Value(lag_s + BATH_LAG_S - ahead_s, math.hypot(sd(slope), BATH_DELAY_OFF_S))


def _bowl_delay_s(found: Found, sd: Callable[[dict[int, float]], float]) -> Value:
    """From the bath to the bowl's reading."""
    probe_s = math.exp(found.values[LN_PROBE])
    follow_s = math.exp(found.values[LN_BOWL] - found.values[LN_K])
    slope = {LN_BOWL: follow_s, LN_K: -follow_s, LN_PROBE: probe_s}
    off_s = math.hypot(BOWL_DELAY_OFF_S, BOWL_DELAY_OFF * follow_s)
    return Value(follow_s + probe_s, math.hypot(sd(slope), off_s))


def _scale(readings: Sequence[float]) -> float:
    """By how much deviations are larger than for chance alone of `READING_SD_K`."""
    half = len(readings) // 2
    together = max(hanging_together(readings[:half]), hanging_together(readings[half:]))
    square = sum(one * one for one in readings) / len(readings)
    return math.sqrt(square * together)


def _held(samples: Samples) -> tuple[float, float]:
    """Bath and bowl in the last third of the test, on the mean."""
    count = max(1, len(samples.at_s) // 3)
    return sum(samples.bath_c[-count:]) / count, sum(samples.bowl_c[-count:]) / count
