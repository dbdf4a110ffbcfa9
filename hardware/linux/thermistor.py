"""Thermistors in a voltage divider: from volts to degrees.

Responsible for the divider and the law of Steinhart and Hart; not for how volts are measured.
"""

import math
from dataclasses import dataclass

ZERO_K = 273.15  # 0 °C, by definition


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermistor:
    """One thermistor, the resistor in series with it, and the voltage over both."""

    series_ohm: float
    supply_mv: float
    is_to_ground: bool  # else it is between supply and measuring point
    # 1/T = a + b·ln R + c·(ln R)³, K and ohm: I. S. Steinhart and S. R. Hart, "Calibration curves
    # for thermistors", Deep-Sea Research 15 (1968) 497-503.
    a: float
    b: float
    c: float


def resistance_ohm(thermistor: Thermistor, measured_mv: float) -> float:
    """Its resistance by the voltage at the measuring point; infinite when open, 0 when shorted."""
    share = measured_mv / thermistor.supply_mv
    over, under = (share, 1.0 - share) if thermistor.is_to_ground else (1.0 - share, share)
    if under <= 0.0:
        return math.inf
    return max(0.0, thermistor.series_ohm * over / under)


def temperature_c(thermistor: Thermistor, ohm: float) -> float:
    """The temperature of that resistance, °C; -inf when it is open, +inf when it is shorted."""
    if not 0.0 < ohm < math.inf:
        return -math.inf if ohm else math.inf
    log = math.log(ohm)
    inverse = thermistor.a + thermistor.b * log + thermistor.c * log**3
    return 1.0 / inverse - ZERO_K if inverse > 0.0 else math.inf
