"""A second crystal law of another form: nuclei that are counted, and growth over their surface.

Responsible for the same three numbers as the first law (unstable, form V, memory) from other
mathematics, so that what is tuned on one can be judged on the other; not for temperature or heat.

Where they differ: the first law has tables, branches at fixed temperatures, growth in proportion to
what is there, and form V born with the root of shear. Here every dependence is smooth, growth goes
with the crystals' surface and the square of what may still solidify, form V is born in proportion
to shear, and the memory is the nuclei themselves, which breed under shear and die of heat.

What is published is the form (all from memory, not checked): births with exp(-B / undercooling²),
classical nucleation; growth over the surface of counted nuclei, Avrami, J. Chem. Phys. 7:1103
(1939); growth with the square of the supersaturation, Burton, Cabrera & Frank, Phil. Trans.
R. Soc. A 243:299 (1951); transfer to a small sphere with the third root of the shear rate. All
constants are own engineering values, not published, set so that the orders of the trade come out.
"""

import math
from functools import partial

from hardware.bench.crystals import Law, Rates, Shear

# Equilibrium: most * z³ / (1 + z³), z = (end - T) / span; within 0.05 of the first law's tables.
V_ENDS_C = 35.5
V_SPAN_K = 5.5
V_MOST = 0.85
UNSTABLE_ENDS_C = 28.5
UNSTABLE_SPAN_K = 5.2
UNSTABLE_MOST = 0.74

GROW_V_PER_S = 8.5e-4  # over the surface of all the nuclei that a melt can hold
NUCLEI_SOLID = 2e-3  # their size, fraction of the fat, where growth begins; not counted as solid
BORN_PER_S = 6e-4
BORN_K2 = 9.0  # B of classical nucleation
BORN_BELOW_C = 30.5  # edge of the zone where a clean melt stays clear; the same for every fat
BORN_PER_SHEAR_S = 0.5  # births under 1/s of shear over those at rest
BROKEN_PER_S = 2e-4  # nuclei broken off form V, at rest
BROKEN_PER_SHEAR_S = 1.0  # the same under 1/s of shear over those at rest
GROW_UNSTABLE_PER_S = 4e-3
UNSTABLE_NUCLEI = 1e-6  # always there: these forms need no help to be born
TURN_PER_S = 2e-3  # unstable into form V, over form V's surface
TURN_BEST_C = 27.0
TURN_WIDTH_K = 4.0
MELT_V_PER_S = 1 / 200.0
MELT_UNSTABLE_PER_S = 1 / 60.0
MELT_V_FASTER_ABOVE_C = 33.8  # Wille & Lutton, J. Am. Oil Chem. Soc. 43:491 (1966): form V
MELT_UNSTABLE_FASTER_ABOVE_C = 27.5  # the same: form IV
FASTER_PER_K = 0.5
MELTS_MOST_PER_S = 0.5  # gone in a moment, and never stiffer than a step of the plant
DIE_ABOVE_C = 34.0
DIE_SPAN_K = 6.0
DIE_PER_S = 1 / 600.0  # that far above; with the fourth power nearer or farther
DIE_POWER = 4
THIRD = 1 / 3.0


def shear(rate_per_s: float) -> Shear:
    """The factors of a shear rate in 1/s: itself, and growth over that at rest."""
    return Shear(rate_per_s, 1.0 + rate_per_s**THIRD)


def _hill(below: float, most: float) -> float:
    """Solid fraction so many spans below the end of melting."""
    if below <= 0.0:
        return 0.0
    cube = below * below * below
    return most * cube / (1.0 + cube)


def solid(shift_k: float, temp_c: float) -> tuple[float, float]:
    """Equilibrium fractions (unstable, form V) of the fat at a temperature."""
    dark_c = temp_c + shift_k
    return (
        _hill((UNSTABLE_ENDS_C - dark_c) / UNSTABLE_SPAN_K, UNSTABLE_MOST),
        _hill((V_ENDS_C - dark_c) / V_SPAN_K, V_MOST),
    )


def dying_per_s(dark_c: float) -> float:
    """How fast warmth destroys nuclei, 1/s."""
    over = max(0.0, dark_c - DIE_ABOVE_C) / DIE_SPAN_K
    return min(MELTS_MOST_PER_S, DIE_PER_S * over**DIE_POWER)


def _melting_per_s(per_s: float, over_k: float) -> float:
    """How fast crystals `over_k` above their melting point melt, 1/s of what is too much."""
    return min(MELTS_MOST_PER_S, per_s * (1.0 + FASTER_PER_K * max(0.0, over_k)))


def _breeding(temp_c: float, form_v: float, room: float, rate_per_s: float) -> float:
    """Nuclei born of the melt and broken off crystals, 1/s of the places still free."""
    breeding = BROKEN_PER_S * (1.0 + BROKEN_PER_SHEAR_S * rate_per_s) * form_v
    below_k = BORN_BELOW_C - temp_c
    if below_k > 0.0 and room > 0.0:
        born = BORN_PER_S * room * math.exp(-BORN_K2 / (below_k * below_k))
        breeding += born * (1.0 + BORN_PER_SHEAR_S * rate_per_s)
    return breeding


def rates(
    shift_k: float, temp_c: float, unstable: float, form_v: float, memory: float, sheared: Shear
) -> Rates:
    """Rates of change of (unstable, form V, nuclei), each 1/s; a fat softer by a shift in K."""
    dark_c = temp_c + shift_k
    rate_per_s, growth = sheared
    solid_u, solid_v = solid(shift_k, temp_c)
    total = unstable + form_v
    room_v = solid_v - total
    size = form_v + NUCLEI_SOLID * memory
    surface = growth * (memory * size * size) ** THIRD if memory > 0.0 and size > 0.0 else 0.0
    d_unstable = 0.0
    d_form_v = GROW_V_PER_S * surface * room_v * room_v if room_v > 0.0 else 0.0
    if total < solid_u:
        nuclei_u = max(0.0, unstable) + UNSTABLE_NUCLEI
        d_unstable = GROW_UNSTABLE_PER_S * nuclei_u ** (2.0 * THIRD) * (solid_u - total)
    if unstable > 0.0:
        cold = min(0.0, (dark_c - TURN_BEST_C) / TURN_WIDTH_K)
        turning = TURN_PER_S * surface * unstable * math.exp(cold)
        d_unstable -= turning
        d_form_v += turning
        if unstable > solid_u:
            over_k = dark_c - MELT_UNSTABLE_FASTER_ABOVE_C
            d_unstable -= (unstable - solid_u) * _melting_per_s(MELT_UNSTABLE_PER_S, over_k)
    if form_v > solid_v:
        over_k = dark_c - MELT_V_FASTER_ABOVE_C
        d_form_v -= (form_v - solid_v) * _melting_per_s(MELT_V_PER_S, over_k)
    d_memory = (1.0 - memory) * _breeding(temp_c, form_v, room_v, rate_per_s)
    if dark_c > DIE_ABOVE_C:
        d_memory -= memory * dying_per_s(dark_c)
    return d_unstable, d_form_v, d_memory


def seeded(memory: float, share: float) -> float:
    """Nuclei after seed: that share of the batch brings all that it can hold."""
    return memory + share * (1.0 - memory)


def counted_nuclei(shift_k: float) -> Law:
    """The second law, for a fat that melts `shift_k` lower than dark chocolate's."""
    return Law(shear, partial(solid, shift_k), partial(rates, shift_k), seeded)
