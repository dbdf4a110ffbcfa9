"""The first crystal law: two pools of solid fat and a memory, after what the trade observes.

Responsible for how fast form V and the unstable forms grow, change and melt at a temperature
and a shear rate, and for what every crystal law offers (`Law`); not for temperature, heat or flow.

The two-pool idea: Le Révérend, Fryer & Bakalis, Soft Matter 5:891 (2009), title only. The growth
law: Foubert et al., Food Res. Int. 35:945 (2002) with order 2, the logistic. All constants are
own engineering values, not published, fitted to the behaviour that the trade knows.
"""

import math
from collections.abc import Callable
from functools import partial
from itertools import pairwise
from typing import NamedTuple

GROW_V_PER_S = 6.6e-4
GROW_UNSTABLE_PER_S = 5e-3
BIRTH_V_PER_S = 1.2e-6
BIRTH_UNSTABLE_PER_S = 1e-5
TURN_TO_V_PER_S = 2e-4
MEMORY_PER_S = 1.5e-5
MELT_V_PER_S = 1 / 90.0
MELT_UNSTABLE_PER_S = 1 / 45.0

GROWTH_ENDS_C = 34.5  # above it form V doesn't grow
GROWTH_SPAN_K = 7.5  # so far below that, growth has its nominal rate
GROWTH_MOST = 1.3
BIRTH_V_BELOW_C = 29.0
BIRTH_V_BEST_C = 26.0
BIRTH_V_WIDTH_K = 2.5
MEMORY_BELOW_C = 30.0
BIRTH_UNSTABLE_BELOW_C = 27.5
BIRTH_UNSTABLE_C = 27.0
BIRTH_UNSTABLE_WIDTH_K = 3.0
TURN_ABOVE_C = 18.0
TURN_BELOW_C = 28.5
TURN_ELSEWHERE = 0.05
UNSTABLE_BECOMES_V = 0.10  # of what melts
REMEMBERS_FROM = 1e-4  # form V, fraction of the fat
LEARNS_PER_S = 1 / 60.0
FORGETS_ABOVE_C = 34.0
FORGETS_PER_S = 1 / 600.0  # at 40 °C
FORGETS_C = 40.0
FORGETS_WIDTH_K = 3.1
FORGETS_MOST_PER_S = 1.0  # reached near 60 °C: gone in a moment, and never stiffer than a step

# Equilibrium solid fraction of the fat at °C, in dark chocolate; straight lines between.
EQUILIBRIUM_V = (
    (15.0, 0.86),
    (20.0, 0.78),
    (25.0, 0.72),
    (28.0, 0.60),
    (30.0, 0.45),
    (31.0, 0.33),
    (32.0, 0.18),
    (33.0, 0.08),
    (34.0, 0.03),
    (35.0, 0.006),
    (36.0, 0.0),
)
EQUILIBRIUM_UNSTABLE = (
    (15.0, 0.72),
    (20.0, 0.60),
    (22.0, 0.48),
    (24.0, 0.30),
    (26.0, 0.10),
    (27.5, 0.02),
    (28.5, 0.0),
)
GRID_PER_K = 2  # every corner of both curves lies on a half kelvin
GRID_FROM_C = 15.0
GRID_TO_C = 36.0


class Shear(NamedTuple):
    """What stirring does to crystals: both factors of one shear rate, worked out once."""

    root: float  # of the shear rate over 1/s
    growth: float


Rates = tuple[float, float, float]  # of unstable, form V and memory, 1/s


class Law(NamedTuple):
    """A crystal law for one kind of fat, as the plant uses it.

    The state is unstable, form V (fractions of the fat) and a memory of 0 to 1. Temperatures are in
    °C. The plant owes a law nothing but the latent heat of all that becomes or ceases to be solid.
    """

    shear: Callable[[float], Shear]  # from a shear rate in 1/s; to be asked once per speed
    solid: Callable[[float], tuple[float, float]]  # equilibrium (unstable, form V) at °C
    rates: Callable[[float, float, float, float, Shear], Rates]  # at °C, from the state and shear
    seeded: Callable[[float, float], float]  # memory after seed, from the memory and seed's share


class Curves(NamedTuple):
    """Both equilibrium curves on one half-kelvin grid, for speed."""

    from_c: float
    last: int
    unstable: tuple[float, ...]
    form_v: tuple[float, ...]


def shear(rate_per_s: float) -> Shear:
    """The factors of a shear rate in 1/s."""
    root = math.sqrt(rate_per_s)
    return Shear(root, 1.0 + root)


def _line(points: tuple[tuple[float, float], ...], temp_c: float) -> float:
    """The value at `temp_c` of straight lines through `points`, level beyond the last one."""
    for (low_c, low), (high_c, high) in pairwise(points):
        if temp_c <= high_c:
            return low + (high - low) * (temp_c - low_c) / (high_c - low_c)
    return points[-1][1]


def curves(shift_k: float) -> Curves:
    """The equilibrium curves of a chocolate whose fat melts `shift_k` lower than dark's."""
    last = round((GRID_TO_C - GRID_FROM_C) * GRID_PER_K)
    grid_c = tuple(GRID_FROM_C + index / GRID_PER_K for index in range(last + 1))
    return Curves(
        GRID_FROM_C - shift_k,
        last,
        tuple(_line(EQUILIBRIUM_UNSTABLE, temp_c) for temp_c in grid_c),
        tuple(_line(EQUILIBRIUM_V, temp_c) for temp_c in grid_c),
    )


def solid(equilibrium: Curves, temp_c: float) -> tuple[float, float]:
    """Equilibrium fractions (unstable, form V) of the fat at a temperature."""
    from_c, last, unstable, form_v = equilibrium
    place = (temp_c - from_c) * GRID_PER_K
    if place <= 0.0:
        return unstable[0], form_v[0]
    index = int(place)
    if index >= last:
        return 0.0, 0.0
    part = place - index
    low_u, low_v = unstable[index], form_v[index]
    return (
        low_u + part * (unstable[index + 1] - low_u),
        low_v + part * (form_v[index + 1] - low_v),
    )


def forgetting_per_s(temp_c: float) -> float:
    """How fast warmth wipes out the memory of crystals, 1/s."""
    if temp_c <= FORGETS_ABOVE_C:
        return 0.0
    return min(FORGETS_MOST_PER_S, FORGETS_PER_S * math.exp((temp_c - FORGETS_C) / FORGETS_WIDTH_K))


def _births_v(temp_c: float, memory: float, root: float) -> float:
    """Form V appearing without a parent, 1/s per fraction still to solidify."""
    births = MEMORY_PER_S * memory if temp_c < MEMORY_BELOW_C else 0.0
    if temp_c < BIRTH_V_BELOW_C:
        off = (temp_c - BIRTH_V_BEST_C) / BIRTH_V_WIDTH_K
        births += BIRTH_V_PER_S * root * math.exp(-off * off)
    return births


def _births_unstable(temp_c: float) -> float:
    """Unstable crystals appearing without a parent, 1/s per fraction still to solidify."""
    if temp_c >= BIRTH_UNSTABLE_BELOW_C:
        return 0.0
    return BIRTH_UNSTABLE_PER_S * math.exp((BIRTH_UNSTABLE_C - temp_c) / BIRTH_UNSTABLE_WIDTH_K)


def rates(
    equilibrium: Curves,
    temp_c: float,
    unstable: float,
    form_v: float,
    memory: float,
    sheared: Shear,
) -> Rates:
    """Rates of change of (unstable, form V, memory), each 1/s."""
    root, growth = sheared
    solid_u, solid_v = solid(equilibrium, temp_c)
    total = unstable + form_v
    d_unstable = d_form_v = 0.0
    if total < solid_v:  # form V's curve is nowhere below the other
        pace = (GROWTH_ENDS_C - temp_c) / GROWTH_SPAN_K
        born_v = _births_v(temp_c, memory, root) if temp_c < MEMORY_BELOW_C else 0.0
        if pace > 0.0 and form_v:
            born_v += GROW_V_PER_S * min(GROWTH_MOST, pace) * growth * form_v
        d_form_v = born_v * (solid_v - total)
        if total < solid_u:
            born_u = _births_unstable(temp_c)
            d_unstable = (GROW_UNSTABLE_PER_S * unstable + born_u) * (solid_u - total)
    if unstable:
        turning = TURN_TO_V_PER_S * growth * unstable
        if not TURN_ABOVE_C < temp_c < TURN_BELOW_C:
            turning *= TURN_ELSEWHERE
        melting = max(0.0, unstable - solid_u) * MELT_UNSTABLE_PER_S
        d_unstable -= turning + melting
        d_form_v += turning + UNSTABLE_BECOMES_V * melting
    if form_v > solid_v:
        d_form_v -= (form_v - solid_v) * MELT_V_PER_S
    learning = (1.0 - memory) * LEARNS_PER_S if form_v > REMEMBERS_FROM else 0.0
    if temp_c > FORGETS_ABOVE_C:
        learning -= memory * forgetting_per_s(temp_c)
    return d_unstable, d_form_v, learning


def seeded(memory: float, share: float) -> float:  # noqa: ARG001 - the words of every law
    """What the melt remembers once any seed is in it: all."""
    return 1.0


def two_pools(shift_k: float) -> Law:
    """The first law, for a fat that melts `shift_k` lower than dark chocolate's."""
    equilibrium = curves(shift_k)
    return Law(shear, partial(solid, equilibrium), partial(rates, equilibrium), seeded)
