"""How true a thermometer is: what it read at known temperatures, and what follows at 31 °C.

Responsible for the arithmetic and its uncertainty; not for reading (steady) or for files. Between
two points a thermometer is taken to be straight: nothing measured there can tell otherwise.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from controller.planning.air import boiling_c, standard_hpa

WORKING_C = 31.0  # where chocolate is worked, and an error counts
SURE = 1.96  # deviations that hold 95 % of a normal distribution
# One deviation of each reference; own engineering values, not published. Shaved ice of distilled
# water, packed and drained, is far better than that (ASTM E563, from memory, not checked).
ICE_SD_K = 0.01
# A rolling boil with the tip well off the bottom: water is a little over its boiling point there.
BOIL_SD_K = 0.04
BAROMETER_SD_HPA = 1.0
# What weather does to the pressure that belongs to an altitude: own engineering value.
WEATHER_SD_HPA = 8.0
# A thermometer's own slope, where only one point is known: the class B of IEC 60751 allows 0.005 K
# for each kelvin; taken as twice the deviation.
SLOPE_SD = 0.0025
NEAR_K = 10.0  # a single reference must be so near to the working temperature
MOST_OFF_K = 2.0  # as `probes` in a machine file: further off wants replacing, not correcting
APART_K = 15.0  # points nearer to each other than this make no line
DISAGREE_SD = 3.0  # points that leave more than so many deviations contradict each other


class Point(NamedTuple):
    """What a thermometer read where the temperature is known."""

    name: str  # ice, boiling, or beside
    true_c: float
    true_sd_k: float
    read_c: float
    read_sd_k: float

    @property
    def errs_k(self) -> float:
        """What it read too much."""
        return self.read_c - self.true_c

    @property
    def sd_k(self) -> float:
        """How sure that is: one deviation."""
        return math.hypot(self.true_sd_k, self.read_sd_k)


class Calibration(NamedTuple):
    """What follows from the points."""

    offset_k: float  # to be added to what it reads, right at the working temperature
    offset_sd_k: float
    slope: float  # what it errs more for each kelvin
    points: tuple[Point, ...]

    @property
    def sure_k(self) -> float:
        """Half the width of the band that holds the offset at the working temperature, 95 %."""
        return SURE * self.offset_sd_k

    def left_k(self, point: Point) -> float:
        """What it still reads too much at that point once the offset is added."""
        return point.errs_k + self.offset_k

    def residual_k(self, point: Point) -> float:
        """How far that point is off the line through all of them."""
        return point.errs_k + self.offset_k - self.slope * (point.true_c - WORKING_C)


def ice_point(read_c: float, read_sd_k: float) -> Point:
    """In melting ice: 0 °C, whatever the weather."""
    return Point("ice", 0.0, ICE_SD_K, read_c, read_sd_k)


def boiling_point(
    read_c: float, read_sd_k: float, *, pressure_hpa: float | None, altitude_m: float | None
) -> Point:
    """In boiling water, at a pressure that was measured there, or at an altitude.

    Raises:
        ValueError: neither is said.
    """
    if pressure_hpa is None and altitude_m is None:
        raise ValueError("boiling water is as hot as the pressure lets it")
    hpa, sd_hpa = pressure_hpa, BAROMETER_SD_HPA
    if hpa is None:
        hpa, sd_hpa = standard_hpa(altitude_m or 0.0), WEATHER_SD_HPA
    true_c = boiling_c(hpa)
    by_pressure_k = sd_hpa * (boiling_c(hpa + 1.0) - true_c)
    return Point("boiling", true_c, math.hypot(BOIL_SD_K, by_pressure_k), read_c, read_sd_k)


def beside_point(read_c: float, read_sd_k: float, *, true_c: float, sure_k: float) -> Point:
    """Beside another thermometer in the same stirred water; `sure_k` holds 95 %."""
    return Point("beside", true_c, sure_k / SURE, read_c, read_sd_k)


def is_enough(points: Sequence[Point]) -> bool:
    """Whether they say what it errs at the working temperature."""
    if any(abs(point.true_c - WORKING_C) <= NEAR_K for point in points):
        return True
    # Outside what was measured a line says little.
    below = [point.true_c for point in points if point.true_c < WORKING_C]
    above = [point.true_c for point in points if point.true_c > WORKING_C]
    return bool(below and above) and min(above) - max(below) >= APART_K


def calibrated(points: Sequence[Point]) -> Calibration:
    """The line through the points, each weighed by how sure it is.

    Raises:
        ValueError: the points contradict each other, or the thermometer is too far off; the
            sentence says so.
    """
    offset_k, slope, sd_k = _line(points)
    found = Calibration(offset_k, sd_k, slope, tuple(points))
    for point in points:
        if abs(found.residual_k(point)) > DISAGREE_SD * point.sd_k:
            raise ValueError(
                f"the points contradict each other: {point.name} lies "
                f"{abs(found.residual_k(point)):.2f} K off the line through all of them; take each "
                "of them anew"
            )
    if abs(offset_k) > MOST_OFF_K:
        raise ValueError(
            f"it is off by {-offset_k:+.2f} K at {WORKING_C:g} °C, more than the {MOST_OFF_K:g} K "
            "that may be corrected; replace it"
        )
    return found


def _line(points: Sequence[Point]) -> tuple[float, float, float]:
    """Offset and slope by weighted least squares, and the offset's deviation.

    What a thermometer's class says of its slope counts as one measurement more, so that a single
    point will do near the working temperature, and hardly matters beside two.
    """
    weights = [point.sd_k**-2 for point in points]
    overs_k = [point.true_c - WORKING_C for point in points]
    own = SLOPE_SD**-2 if len(points) == 1 else 0.0
    all_in = sum(weights)
    lever = sum(w * x for w, x in zip(weights, overs_k, strict=True))
    square = own + sum(w * x * x for w, x in zip(weights, overs_k, strict=True))
    errs = sum(w * p.errs_k for w, p in zip(weights, points, strict=True))
    turns = sum(w * x * p.errs_k for w, x, p in zip(weights, overs_k, points, strict=True))
    det = all_in * square - lever * lever
    at_working_k = (square * errs - lever * turns) / det
    slope = (all_in * turns - lever * errs) / det
    return -at_working_k, slope, math.sqrt(square / det)
