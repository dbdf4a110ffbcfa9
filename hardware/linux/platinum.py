"""Platinum resistance thermometers: from ohms to degrees.

Responsible for the law of IEC 60751 and its inverse; not for how ohms are measured.
"""

import math
from dataclasses import dataclass

# IEC 60751, the same in all its editions since ITS-90: R = R0·(1 + A·t + B·t² + C·(t - 100)·t³),
# the last term below 0 °C only.
A_PER_C = 3.9083e-3
B_PER_C2 = -5.775e-7
C_PER_C4 = -4.183e-12
_BEND_C = 100.0
LOWEST_C, HIGHEST_C = -200.0, 850.0  # where the standard's law holds
# Newton's method from the law without its last term; one round leaves less than 0.001 K at -60 °C.
_ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Platinum:
    """One thermometer and the resistor that it is compared with."""

    zero_ohm: float  # its resistance at 0 °C: 100 for a Pt100
    reference_ohm: float


def ratio_at(temperature_c: float) -> float:
    """Resistance at that temperature over resistance at 0 °C."""
    below = C_PER_C4 * (temperature_c - _BEND_C) * temperature_c**3 if temperature_c < 0.0 else 0.0
    return 1.0 + A_PER_C * temperature_c + B_PER_C2 * temperature_c**2 + below


def temperature_at(ratio: float) -> float:
    """The temperature of that resistance over the one at 0 °C, °C; NaN outside the law's range."""
    root = A_PER_C**2 - 4.0 * B_PER_C2 * (1.0 - ratio)
    if not (ratio_at(LOWEST_C) <= ratio <= ratio_at(HIGHEST_C)) or root < 0.0:
        return math.nan
    temperature_c = (-A_PER_C + math.sqrt(root)) / (2.0 * B_PER_C2)
    for _ in range(_ROUNDS if temperature_c < 0.0 else 0):
        slope = A_PER_C + 2.0 * B_PER_C2 * temperature_c
        slope += C_PER_C4 * (4.0 * temperature_c - 3.0 * _BEND_C) * temperature_c**2
        temperature_c += (ratio - ratio_at(temperature_c)) / slope
    return temperature_c
