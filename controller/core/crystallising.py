"""The controller's own picture of crystals in cocoa butter: how they are born, grow, turn and melt.

Responsible for one possible course of a batch at the temperatures that it had; not for which of
many possible courses is likely (temper), nor for what is called in temper (tempering). It knows
what the trade observes, never the bench.

The form: sites that awaken or come with seed, growth over them by a power of the undercooling up
to what can be solid, seed as lumps that come apart before they melt. All constants are own
engineering values, not published, set so that the orders of the trade come out, unless a source
stands beside them.
"""

import math
from itertools import pairwise
from typing import NamedTuple

# Solid fat of cocoa butter in form V at °C, as the trade quotes it (76, 70, 45 and 1 % at 20, 25,
# 30 and 35 °C; from memory, not checked), a curve through them where the trade works.
SOLID_V = (
    (14.0, 0.84),
    (20.0, 0.76),
    (25.0, 0.70),
    (28.0, 0.58),
    (30.0, 0.45),
    (31.5, 0.28),
    (32.5, 0.15),
    (33.5, 0.06),
    (34.5, 0.017),
    (35.5, 0.002),
    (36.0, 0.0),
)
# The forms below V: half melted near 23 °C, the last of form IV at 27.5 °C (Wille & Lutton, J. Am.
# Oil Chem. Soc. 43:491 (1966)), a kelvin more for the end of its range.
SOLID_UNSTABLE = ((14.0, 0.72), (20.0, 0.58), (23.0, 0.38), (25.5, 0.14), (27.5, 0.02), (28.5, 0.0))
LUMP_SOLID = 0.76  # form V in tempered chocolate as it comes from the shelf, at 20 °C

GROWS_PER_S = 7e-4
GROWTH_ENDS_C = 35.2
GROWTH_SPAN_K = 7.5
GROWTH_POWER = 2.3
BY_SITES = 0.25  # growth goes with these powers of the sites and of what is solid
BY_SOLID = 0.75
SITE_SOLID = 8e-3  # of the fat: what all sites are as good as, before anything has grown on them
STILL_GROWTH = 0.3  # of growth and births without the stirrer
AWAKENS_PER_S = 2.0e-3
AWAKENS_BEST_C = 25.5
AWAKENS_WIDTH_K = 3.8
AWAKENS_BELOW_C = 30.5
BREAKS_PER_S = 0.05  # sites made by stirring crystals, per fraction of the fat
DIES_ABOVE_C = 34.0
DIES_SPAN_K = 6.0
DIES_PER_S = 1 / 400.0
UNSTABLE_PER_S = 6e-3
UNSTABLE_SITES = 1.5e-3
TURNS_PER_S = 7e-4
TURNS_FROM_C, TURNS_TO_C = 18.0, 28.5
MELT_V_S = 120.0
MELT_UNSTABLE_S = 50.0
FASTER_ABOVE_C = 33.8  # melting of form V: Wille & Lutton
FASTER_PER_K = 0.3
LUMP_PARTS_PER_K_S = 6e-3
LUMP_PARTS_ABOVE_C = 30.0
LUMP_SITES = 4.0  # sites that come with lumps' form V as they come apart

GRID_FROM_C, GRID_TO_C = 14.0, 48.0
GRID_PER_K = 10
GONE = 1e-9


class Trait(NamedTuple):
    """In what one possible batch differs from another; what it is as long as it lasts."""

    softer_k: float  # its fat melts so much lower, the thermometer's error included
    growth: float  # over the usual, as the next three
    births: float
    chopped: float  # how fast lumps of seed come apart
    thickens: float  # logarithm of the stirrer's load per fraction of the fat solid
    off: float  # of the load's own error, in standard deviations


# What is solid in one possible batch, as fractions of all its fat: form V; unstable forms; sites, 0
# to 1; form V in lumps of seed that have not come apart; the most form V there was, lumps included.
# A plain tuple, for speed.
Crystals = tuple[float, float, float, float, float]
FORM_V, UNSTABLE, SITES, LUMPS, MOST = range(5)
MELTED: Crystals = (0.0, 0.0, 0.0, 0.0, 0.0)


# Everything that depends on temperature alone: solid form V and unstable forms at rest; and how
# fast form V grows, sites awaken, die, unstable forms turn, both forms melt, lumps come apart.
_Pace = tuple[float, float, float, float, float, float, float, float, float]


def _line(points: tuple[tuple[float, float], ...], temp_c: float) -> float:
    for (low_c, low), (high_c, high) in pairwise(points):
        if temp_c <= high_c:
            return low + (high - low) * (temp_c - low_c) / (high_c - low_c)
    return points[-1][1]


def _pace(temp_c: float) -> _Pace:
    under = max(0.0, GROWTH_ENDS_C - temp_c) / GROWTH_SPAN_K
    awakens = 0.0
    if temp_c < AWAKENS_BELOW_C:
        off = max(0.0, temp_c - AWAKENS_BEST_C) / AWAKENS_WIDTH_K
        awakens = AWAKENS_PER_S * math.exp(-(off**4))
    over = max(0.0, temp_c - DIES_ABOVE_C) / DIES_SPAN_K
    return (
        _line(SOLID_V, temp_c),
        _line(SOLID_UNSTABLE, temp_c),
        GROWS_PER_S * under**GROWTH_POWER,
        awakens,
        DIES_PER_S * over**3,
        TURNS_PER_S if TURNS_FROM_C < temp_c < TURNS_TO_C else 0.0,
        (1.0 + FASTER_PER_K * max(0.0, temp_c - FASTER_ABOVE_C)) / MELT_V_S,
        1.0 / MELT_UNSTABLE_S,
        LUMP_PARTS_PER_K_S * max(0.0, temp_c - LUMP_PARTS_ABOVE_C),
    )


_PACES = tuple(
    _pace(GRID_FROM_C + index / GRID_PER_K)
    for index in range(round((GRID_TO_C - GRID_FROM_C) * GRID_PER_K) + 1)
)
_LAST = len(_PACES) - 1


def solid_v(temp_c: float) -> float:
    """Form V that can be solid at rest at a temperature in dark chocolate, fraction of the fat."""
    return _line(SOLID_V, max(temp_c, SOLID_V[0][0]))


def grown(
    crystals: Crystals, trait: Trait, dark_c: float, dt_s: float, *, is_stirred: bool
) -> Crystals:
    """A possible batch after `dt_s` at a temperature, °C, on the scale of dark chocolate.

    Stable for any step; meant for 30 s at most.
    """
    form_v, unstable, sites, lumps, most = crystals
    place = int((dark_c + trait.softer_k - GRID_FROM_C) * GRID_PER_K + 0.5)
    pace = _PACES[min(max(place, 0), _LAST)]
    solid, solid_u, grows, awakens, dies, turns, melts, melts_u, parts = pace
    moves = 1.0 if is_stirred else STILL_GROWTH
    if lumps > 0.0:
        left = lumps / (1.0 + dt_s * trait.chopped * parts)
        came = lumps - left
        lumps = left if left > GONE else 0.0
        form_v += came
        sites += (1.0 - sites) * min(1.0, LUMP_SITES * came)
    if form_v + unstable + lumps < solid:
        size = form_v + SITE_SOLID * sites
        if size > 0.0 and grows > 0.0:
            step = trait.growth * moves * grows * sites**BY_SITES * size**BY_SOLID * dt_s
            form_v += (solid - form_v - unstable - lumps) * step / (solid + step)
        born = dt_s * moves * (awakens * trait.births + BREAKS_PER_S * form_v)
        sites += (1.0 - sites) * born / (1.0 + born)
        room = solid_u - unstable - form_v - lumps
        if room > 0.0:
            step = UNSTABLE_PER_S * (unstable + UNSTABLE_SITES) * dt_s
            unstable += room * step / (1.0 + step)
    elif form_v > solid:
        form_v = solid + (form_v - solid) / (1.0 + melts * dt_s)
    if unstable > 0.0:
        form_v, unstable = _turned(form_v, unstable, solid_u, turns * moves * dt_s, melts_u * dt_s)
    if dies > 0.0:
        sites /= 1.0 + dies * dt_s
        form_v = form_v if form_v > GONE else 0.0
    return form_v, unstable, sites, lumps, max(most, form_v + lumps)


def _turned(
    form_v: float, unstable: float, solid_u: float, turns: float, melts: float
) -> tuple[float, float]:
    """Form V and unstable forms after a share of these has turned, and what is too much melted."""
    turned = unstable * turns / (1.0 + turns)
    form_v, unstable = form_v + turned, unstable - turned
    if unstable > solid_u:
        unstable = solid_u + (unstable - solid_u) / (1.0 + melts)
    return form_v, unstable if unstable > GONE else 0.0


def joined(crystals: Crystals, part: float, *, is_set: bool) -> Crystals:
    """The batch after so large a `part` of what it now is came in: tempered and set, or melted."""
    form_v, unstable, sites, lumps, most = crystals
    kept = 1.0 - part
    lumps = kept * lumps + (part * LUMP_SOLID if is_set else 0.0)
    form_v *= kept
    return form_v, kept * unstable, sites, lumps, max(most, form_v + lumps)
