"""Cold water for the bath: what to add, to swap, or to make with ice.

Responsible for mixing; not for how cold the bath should be (the profile says so). What can't be
reached is infinite. The bath's heat capacity is with its vessel, J/K.
"""

import math

from controller.core.machine import WATER_J_PER_KG_K

ICE_J_PER_KG = 334_000.0  # melting at 0 °C: handbook value


def added_kg(bath_j_per_k: float, *, from_c: float, to_c: float, water_c: float) -> float:
    """Water of `water_c` that cools the bath when it is poured in and nothing is taken out, kg."""
    if from_c <= to_c:
        return 0.0
    if water_c >= to_c:
        return math.inf
    return bath_j_per_k * (from_c - to_c) / (WATER_J_PER_KG_K * (to_c - water_c))


def swapped_kg(bath_j_per_k: float, *, from_c: float, to_c: float, water_c: float) -> float:
    """Bath water to be taken out and replaced by as much of `water_c`, kg.

    It may be more than there is: then that water isn't cold enough.
    """
    if from_c <= to_c:
        return 0.0
    if water_c >= to_c:
        return math.inf
    return bath_j_per_k * (from_c - to_c) / (WATER_J_PER_KG_K * (from_c - water_c))


def ice_kg(bath_j_per_k: float, *, from_c: float, to_c: float) -> float:
    """Ice of 0 °C that cools the bath, all of it melting, kg."""
    return max(0.0, bath_j_per_k * (from_c - to_c)) / (ICE_J_PER_KG + WATER_J_PER_KG_K * to_c)


def ice_in_kg(mixed_kg: float, *, tap_c: float, to_c: float) -> float:
    """Ice in so much cold water in all, that makes tap water as cold as `to_c`, kg."""
    takes = ICE_J_PER_KG + WATER_J_PER_KG_K * tap_c
    return mixed_kg * WATER_J_PER_KG_K * max(0.0, tap_c - to_c) / takes
