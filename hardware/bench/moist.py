"""Water vapour over the bath: its pressure and the heat it carries away.

Responsible for these laws only; not for the bath's temperature or the room's air.
"""

import math

# Magnus form: Alduchov & Eskridge, J. Appl. Meteorol. 35:601 (1996).
MAGNUS_KPA = 0.61094
MAGNUS_SLOPE = 17.625
MAGNUS_C = 243.04
# The pool form of the ASHRAE handbook (from memory, not checked): W/m² per kPa.
STILL_W_PER_M2_KPA = 89.0
DRAUGHT_W_PER_M2_KPA = 78.2  # per m/s of air over the water
# Latent heat, a line through IAPWS's 2501 kJ/kg at 0 °C and 2382 at 50 °C; 0.3 % high at 100 °C.
VAPOUR_AT_0_C_J_PER_KG = 2.501e6
VAPOUR_J_PER_KG_K = 2380.0
BOILS_C = 99.97  # IAPWS, at sea level
# Own engineering value, not published: 500 W hold a boiling bath a kelvin over that, 4 kW more.
BOILING_W_PER_K = 500.0


def vapour_kpa(temp_c: float) -> float:
    """Saturation pressure of water vapour, kPa; within 0.5 % up to 60 °C."""
    return MAGNUS_KPA * math.exp(MAGNUS_SLOPE * temp_c / (temp_c + MAGNUS_C))


def vapour_j_per_kg(temp_c: float) -> float:
    """Heat that turns water at a temperature into vapour, J/kg."""
    return VAPOUR_AT_0_C_J_PER_KG - VAPOUR_J_PER_KG_K * temp_c


def evaporation_w(bath_c: float, air_kpa: float, kpa_w: float) -> float:
    """Heat that leaves an open bath as vapour, W; negative where the room's moisture condenses.

    Args:
        bath_c: Temperature of the water, °C.
        air_kpa: Vapour pressure in the room, kPa.
        kpa_w: Heat per kPa of difference, W/kPa, from `per_kpa_w`.
    """
    open_w = kpa_w * (vapour_kpa(bath_c) - air_kpa)
    if bath_c <= BOILS_C:
        return open_w
    return open_w + BOILING_W_PER_K * (bath_c - BOILS_C)


def per_kpa_w(surface_m2: float, air_m_per_s: float) -> float:
    """Heat per kPa of difference in vapour pressure, W/kPa."""
    return surface_m2 * (STILL_W_PER_M2_KPA + DRAUGHT_W_PER_M2_KPA * air_m_per_s)
