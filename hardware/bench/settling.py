"""What a machine's parameters, its lid, its bowl and its water level make of the equations.

Responsible for the constants that a plant's motion runs on; not for the motion or for hands.
"""

from dataclasses import replace

from hardware.bench import moist
from hardware.bench.crystals import Law
from hardware.bench.motion import Motion
from hardware.bench.parameters import WATER_J_PER_KG_K, Filling, Parameters

# Own engineering values, not published.
PUDDLE_KG = 0.05  # less water than this wets only part of the pot's floor
LAST_DROP_S = 5.0  # no water on a hot floor is gone sooner
HANGING_SHARE = 0.08  # of the coupling to the bath is left to a bowl that hangs in the dry pot
SOFTENS_C = 29.0  # lumps of dark chocolate begin to come apart
CLEAR_FROM_C = 30  # whole degrees are tried from here for where no crystal can be
DRY_FROM_KG = 1e-9


def filling_of(table: Filling, parameters: Parameters) -> Filling:
    """The table's chocolate as this machine has it; water stays water."""
    if not table.fat:
        return table
    return replace(
        table,
        cool_j_per_kg_k=table.cool_j_per_kg_k * parameters.heat_ratio,
        warm_j_per_kg_k=table.warm_j_per_kg_k * parameters.heat_ratio,
        latent_ratio=parameters.latent_ratio,
        shift_k=table.shift_k + parameters.softer_k,
    )


def _clear_c(filling: Filling, law: Law) -> float:
    """Above this nothing solid can be, °C; below any temperature for what never is solid."""
    if not filling.fat:
        return float("-inf")
    clear_c = CLEAR_FROM_C
    while law.solid(float(clear_c)) != (0.0, 0.0):
        clear_c += 1
    return float(clear_c)


def settle(motion: Motion, parameters: Parameters, filling: Filling, law: Law) -> None:
    """Give the motion what never changes while a machine runs."""
    motion.heater_lag_s = parameters.heater_lag_s
    quiet_j_per_k = parameters.quiet_share * parameters.water_kg * WATER_J_PER_KG_K
    motion.pot_j_per_k = parameters.pot_j_per_k - motion.quiet_j_per_k
    motion.hush(quiet_j_per_k)
    motion.quiet_w_per_k = parameters.quiet_w_per_k
    motion.bowl_j_per_k = parameters.bowl_j_per_k
    motion.pot_room_w_per_k = parameters.pot_room_w_per_k
    motion.latent_j_per_kg = filling.latent_j_per_kg
    motion.cool_j_per_kg_k = filling.cool_j_per_kg_k
    motion.warm_j_per_kg_k = filling.warm_j_per_kg_k
    motion.film_share = parameters.film_share if filling.fat else 0.0
    motion.law_rates, motion.law_solid = law.rates, law.solid
    motion.clear_c = _clear_c(filling, law)
    motion.softens_c = SOFTENS_C - filling.shift_k
    per_k = parameters.element_j_per_k
    motion.dry_pot_per_s = parameters.element_pot_w_per_k / per_k
    motion.dry_air_per_s = parameters.element_air_w_per_k / per_k


def _part(level: float, none_at: float, all_at: float) -> float:
    """How far a level has come from where there is nothing to where there is all."""
    return min(1.0, max(0.0, (level - none_at) / (all_at - none_at)))


def water_for(level: float, parameters: Parameters, *, bowl_in: bool) -> float:
    """Water that makes a level, kg; a level of 1 is the nominal water with the bowl in it."""
    bowl = parameters.bowl_displaces if bowl_in else 0.0
    return parameters.water_kg * max(0.0, level - bowl) / (1.0 - parameters.bowl_displaces)


def enough_kg(parameters: Parameters, *, bowl_in: bool) -> float:
    """With at least so much water, all is covered that should be."""
    covers = parameters.element_covered_from
    level = max(covers, parameters.bowl_wet_from) if bowl_in else covers
    return max(2.0 * PUDDLE_KG, water_for(level, parameters, bowl_in=bowl_in))


def _wet(motion: Motion, kpa_w: float) -> float:
    """How much of the pot's floor the water still wets; a last drop takes seconds to go."""
    water_kg = motion.water_kg
    if water_kg >= PUDDLE_KG:
        return 1.0
    steam_w = moist.evaporation_w(motion.bath_c, motion.air_kpa, kpa_w)
    steam = max(0.0, steam_w) / moist.vapour_j_per_kg(motion.bath_c)
    return max(0.0, min(water_kg / PUDDLE_KG, water_kg / (LAST_DROP_S * steam + PUDDLE_KG)))


def cover(motion: Motion, parameters: Parameters, *, lid_open: bool, bowl_in: bool) -> float:
    """Settle what hangs on lid, bowl and level; the share of the element that is under water."""
    filled = (1.0 - parameters.bowl_displaces) * motion.water_kg / parameters.water_kg
    level = filled + (parameters.bowl_displaces if bowl_in else 0.0)
    surface_m2 = parameters.water_surface_m2
    if lid_open or not bowl_in:
        surface_m2 *= parameters.lid_off_surface
    kpa_w = moist.per_kpa_w(surface_m2, parameters.air_m_per_s)
    wet = _wet(motion, kpa_w)
    motion.kpa_w = wet * kpa_w
    motion.boil_w_per_k = wet * moist.BOILING_W_PER_K
    motion.mass_air_w_per_k = parameters.mass_air_w_per_k
    if lid_open:
        motion.mass_air_w_per_k *= parameters.lid_off_air
    motion.wall_air_w_per_k = 0.0 if bowl_in else parameters.bowl_air_w_per_k
    bowl_wet = _part(level, parameters.bowl_dry_from, parameters.bowl_wet_from)
    coupled = HANGING_SHARE + (1.0 - HANGING_SHARE) * bowl_wet if bowl_in else 0.0
    motion.bath_bowl_w_per_k = coupled * parameters.bath_bowl_w_per_k
    if motion.water_kg <= DRY_FROM_KG:
        return 0.0
    return _part(level, parameters.element_dry_from, parameters.element_covered_from)
