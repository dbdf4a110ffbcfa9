"""Moist air and boiling water: dew point, the pressure at an altitude, where water boils.

Responsible for the physics; not for what follows for chocolate (room).
"""

import math

from controller.core.thermal import MAGNUS_C, MAGNUS_KPA, MAGNUS_SLOPE, saturated_kpa

# The standard atmosphere (ISO 2533 = ICAO 1993), below 11 km.
SEA_LEVEL_HPA = 1013.25
LAPSE_PER_M = 2.25577e-5
LAPSE_POWER = 5.25588
HPA_PER_MPA = 1e4
K_AT_0_C = 273.15
# Saturation line of water: IAPWS-IF97, region 4, backward equation, coefficients n1 to n10.
IF97 = (
    *(0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5),
    *(-0.32325550322333e7, 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6),
    *(-0.23855557567849, 0.65017534844798e3),
)


def dew_point_c(air_c: float, humidity: float) -> float:
    """What is colder than this gets wet in air of that temperature and relative humidity (0 to 1).

    Magnus's form, Alduchov & Eskridge 1996.
    """
    exponent = math.log(humidity * saturated_kpa(air_c) / MAGNUS_KPA)
    return MAGNUS_C * exponent / (MAGNUS_SLOPE - exponent)


def standard_hpa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere, hPa."""
    return SEA_LEVEL_HPA * math.pow(1.0 - LAPSE_PER_M * altitude_m, LAPSE_POWER)


def boiling_c(pressure_hpa: float) -> float:
    """Where pure water boils at that pressure."""
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = IF97
    beta = math.sqrt(math.sqrt(pressure_hpa / HPA_PER_MPA))
    e = beta**2 + n3 * beta + n6
    f = n1 * beta**2 + n4 * beta + n7
    g = n2 * beta**2 + n5 * beta + n8
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    return (n10 + d - math.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d))) / 2.0 - K_AT_0_C
