"""The heat balance of chocolate in a bowl: melting, seed, topping up.

Responsible for energy alone, all fat melting where it melts; not for crystals that live on (the
temper is judged in the run). Handbook values, where the core's own picture is a mean of samples.
"""

from controller.core.chocolate import content_of, solid_share
from controller.core.profile import Kind

# Beckett, Industrial Chocolate Manufacture and Use, 4th ed., pp. 667-668: 15 to 40, 40 to 60 °C.
COOL_J_PER_KG_K, WARM_J_PER_KG_K, WARM_FROM_C = 1590.0, 1670.0, 40.0
# Chevalley 1970, in Beckett, p. 668; white is taken to be as milk (own assumption).
LATENT_J_PER_KG = {Kind.DARK: 46e3, Kind.MILK: 44e3, Kind.WHITE: 44e3}
# The fat for which that is taken to hold, about the middle of 26-43, 26-36 and 30-36 % (from
# memory, not checked); latent heat goes with the fat. Own engineering values, not published.
USUAL_FAT = {Kind.DARK: 0.35, Kind.MILK: 0.31, Kind.WHITE: 0.33}
FIRST_PORTION = 2.0 / 3.0  # of the seed; own choice: the last third waits


def latent_j_per_kg(kind: Kind, fat: float | None, solid_c: float) -> float:
    """Latent heat of chocolate that has lain at `solid_c`; warm, some of its fat is soft."""
    part = 1.0 if fat is None else fat / USUAL_FAT[kind]
    return LATENT_J_PER_KG[kind] * part * solid_share(content_of(kind), solid_c)[0]


def warmth_j_per_kg(from_c: float, to_c: float) -> float:
    """Heat that warms it, without any melting; negative for cooling."""
    return _above_zero(to_c) - _above_zero(from_c)


def melting_j(mass_kg: float, from_c: float, to_c: float, latent: float) -> float:
    """Heat that melts so much and warms it from `from_c` to `to_c`, J."""
    return mass_kg * (warmth_j_per_kg(from_c, to_c) + latent)


def seed_kg(
    batch_kg: float,
    *,
    melt_c: float,
    work_c: float,
    seed_c: float,
    latent: float,
    bowl_j_per_k: float = 0.0,
) -> float:
    """Of a batch, seed that by itself cools the rest and the bowl from `melt_c` to `work_c`, kg."""
    gives = warmth_j_per_kg(work_c, melt_c)
    takes = warmth_j_per_kg(seed_c, work_c) + latent
    return (batch_kg * gives + bowl_j_per_k * (melt_c - work_c)) / (gives + takes)


def mixed_c(
    melt_kg: float,
    melt_c: float,
    *,
    seed_kg: float,
    seed_c: float,
    latent: float,
    bowl_j_per_k: float = 0.0,
) -> float:
    """Where melt, bowl and seed come together once all of the seed has melted."""
    heat_j = melt_kg * _above_zero(melt_c) + bowl_j_per_k * melt_c
    heat_j += seed_kg * (_above_zero(seed_c) - latent)
    mass_kg = melt_kg + seed_kg
    mixed = heat_j / (mass_kg * COOL_J_PER_KG_K + bowl_j_per_k)
    if mixed <= WARM_FROM_C:
        return mixed
    heat_j += mass_kg * (WARM_J_PER_KG_K - COOL_J_PER_KG_K) * WARM_FROM_C
    return heat_j / (mass_kg * WARM_J_PER_KG_K + bowl_j_per_k)


def top_up_kg(
    batch_kg: float, *, bowl_c: float, melt_c: float, most_c: float, bowl_j_per_k: float = 0.0
) -> float:
    """The most melt of `melt_c` that a bowl at `bowl_c` takes without passing `most_c`, kg."""
    room_j = batch_kg * warmth_j_per_kg(bowl_c, most_c) + bowl_j_per_k * (most_c - bowl_c)
    return max(0.0, room_j) / warmth_j_per_kg(most_c, melt_c)


def _above_zero(temp_c: float) -> float:
    """Heat in a kilogram over what it has at 0 °C, J."""
    warm_k = max(0.0, temp_c - WARM_FROM_C)
    return COOL_J_PER_KG_K * (temp_c - warm_k) + WARM_J_PER_KG_K * warm_k
