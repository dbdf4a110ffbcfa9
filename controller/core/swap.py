"""How much of the bath's water to swap for colder, in one step or two.

Responsible for the amount, and for whether a second step pays; not for how a bowl comes down
(descent), for catching it (catching) or for putting the question (asking). The bath is made as cold
as brings the bowl down fastest, but never colder than the heater can still make good in time, with
all that is not known of the machine and the water taken the worse way.
"""

import math
from collections.abc import Iterable
from typing import NamedTuple

from controller.core.descent import Lumps, after, arrival_s, trough_c

# Own engineering values, tuned on the bench, not published.
MOST_SHARE = 0.9  # of the water the machine file tells of: a pot is not wiped dry
LEAST_KG = 0.1  # less is not worth a cook's while
STEP = 0.09  # of the water: coarse, then once again in thirds of it
SHARES = tuple(count * STEP for count in range(1, 11))
WATER_SD_K = 1.5  # by how much the water may be colder than it is said to be
SURE_SD = 2.0
ACTS_S = 30.0  # from a question to its deed: an assumption
LONG_S = 600.0  # sooner, no second step is looked for in a forecast
WAITS_S = (120.0, 300.0, 600.0)  # from a first swap to a second, tried in a forecast
WORTH_S = 60.0  # a first step must save so much time
PAYS_S = 180.0  # a second step must save so much time
MET_K = 2.0  # bath and bowl have come as near to each other: little more comes of waiting
LATER_S = 20.0  # and asking so much later must not save more


class Water(NamedTuple):
    """What a swap is made with."""

    heat_share: float  # heat of all the water over the whole bath's, 0 to 1
    water_c: float
    p_share_sd: float = 0.0  # of the heater over the bath, relative
    k_share_sd: float = 0.0  # of the transfer, relative
    r_share_sd: float = 0.0  # of bath over bowl, relative


class Way(NamedTuple):
    """One way down."""

    share: float  # of the water, 0 to 1
    arrives_s: float  # infinite where it does not lead there


def swapped(lumps: Lumps, water: Water, share: float) -> Lumps:
    """The lumps after a share of the water was swapped; the vessel stays as warm as it was."""
    part = share * water.heat_share
    return lumps._replace(bath_c=lumps.bath_c + part * (water.water_c - lumps.bath_c))


def worse(lumps: Lumps, water: Water) -> tuple[Lumps, Water]:
    """The machine that is hardest to catch of those that are likely."""
    k = lumps.k_per_s * math.exp(SURE_SD * water.k_share_sd)
    return (
        lumps._replace(
            k_per_s=k,
            kr_per_s=k * lumps.kr_per_s / lumps.k_per_s * math.exp(SURE_SD * water.r_share_sd),
            p_k_per_s=lumps.p_k_per_s * math.exp(-SURE_SD * water.p_share_sd),
        ),
        water._replace(water_c=water.water_c - SURE_SD * WATER_SD_K),
    )


def best_way(lumps: Lumps, water: Water, high_c: float, least_c: float) -> Way:
    """The share that brings the bowl to `high_c` soonest and never under `least_c`.

    Where none brings it there, the biggest that it may be; none where waiting does as well.
    """
    hard, cold = worse(lumps, water)

    def tried(shares: Iterable[float]) -> list[Way]:
        return [
            Way(share, arrival_s(swapped(lumps, water, share), high_c, least_c))
            for share in shares
            if trough_c(swapped(hard, cold, share)) >= least_c
        ]

    ways = tried(SHARES)
    soonest = min(ways, key=lambda way: way.arrives_s, default=Way(0.0, math.inf))
    if soonest.arrives_s == math.inf:
        soonest = ways[-1] if ways else soonest
    alone_s = arrival_s(lumps, high_c, least_c)
    if alone_s < soonest.arrives_s + WORTH_S:
        return Way(0.0, alone_s)
    finer = (soonest.share + part * STEP / 3.0 for part in (-2, -1, 1, 2))
    near = [soonest, *tried(share for share in finer if 0.0 < share <= MOST_SHARE)]
    return min(near, key=lambda way: (way.arrives_s, -way.share))


def pays(lumps: Lumps, water: Water, high_c: float, least_c: float) -> bool:
    """Whether to ask for another swap now: it saves a good while, and no more if asked later."""
    without_s = arrival_s(lumps, high_c, least_c)
    if without_s < ACTS_S + PAYS_S:
        return False
    now_s = ACTS_S + best_way(_waited(lumps, ACTS_S), water, high_c, least_c).arrives_s
    if now_s == math.inf:  # no one swap will do: the more, the warmer the bath has become
        return without_s == math.inf and lumps.under_k < MET_K
    if not now_s + PAYS_S <= without_s:
        return False
    then_s = ACTS_S + LATER_S
    later_s = then_s + best_way(_waited(lumps, then_s), water, high_c, least_c).arrives_s
    return now_s <= later_s


def soonest_s(lumps: Lumps, water: Water, high_c: float, least_c: float, steps: int) -> float:
    """How long the bowl will take to come down to `high_c` with so many swaps still to come, s.

    The first is made at once, a second where that one takes long; infinite where the bowl doesn't
    come there within the horizon.
    """
    alone_s = arrival_s(lumps, high_c, least_c)
    if not steps:
        return alone_s
    way = best_way(lumps, water, high_c, least_c)
    once_s = min(alone_s, way.arrives_s)
    if once_s < LONG_S or steps == 1:
        return once_s
    cold = swapped(lumps, water, way.share)
    twice_s = min(
        wait_s + best_way(_waited(cold, wait_s), water, high_c, least_c).arrives_s
        for wait_s in WAITS_S
    )
    return min(once_s, twice_s)


def _waited(lumps: Lumps, span_s: float) -> Lumps:
    bath_c, bowl_c = after(lumps, 0.0, span_s)
    return lumps._replace(bath_c=bath_c, bowl_c=bowl_c, element_share=0.0)
