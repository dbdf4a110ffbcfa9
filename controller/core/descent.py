"""The way down: where a bowl over a cold bath turns, when it arrives, and what a swap makes of it.

Responsible for two lumps that cool, solved in closed form; not for what is asked of a cook (swap)
or when the heater catches the bowl (catching). Nothing here knows a phase or a question.
"""

import math
from typing import NamedTuple

from controller.core.chocolate import solid_share
from controller.core.estimate import Belief, Row
from controller.core.thermal import (
    BOWL,
    DRIFT,
    LEVER_MIN_K,
    bowl_loss_k_per_s,
    loss_k_per_s,
)

HORIZON_S = 3600.0  # own choice: a bowl that takes longer to come down is helped
HALVINGS = 12  # of the horizon: to a second
LEAST_LOSS_PER_S = 1e-7  # a bath that lost nothing would have no temperature to settle at


class Lumps(NamedTuple):
    """A believed machine on its way down, in the numbers that the two lumps need."""

    bath_c: float  # on its own thermometer's scale
    bowl_c: float  # what is to melt in it counted as kelvins that it lacks
    k_per_s: float  # bath to bowl, over the bath
    kr_per_s: float  # the same over the bowl
    p_k_per_s: float  # full power over the bath
    lag_s: float  # of the element
    element_share: float  # share of full power that leaves the element now
    loss_per_s: float  # bath to room, for each kelvin between them
    bowl_loss_k_per_s: float
    room_c: float
    target_c: float
    apart_k: float  # bath's scale below the bowl's

    @property
    def under_k(self) -> float:
        """How far the bath is under the bowl, on one scale."""
        return self.bowl_c - self.bath_c - self.apart_k


def lumps_of(belief: Belief, mean: Row, target_c: float) -> Lumps:
    """The machine near a target; `mean` is the belief's, or near it.

    Cold pieces in the bowl cool it by the heat that those of them still take which melt there.
    """
    prior = belief.prior
    q, bath, bowl, _, _, ln_k, ln_p, ln_r, ln_h, _, loss, _, _, apart = mean
    k = math.exp(ln_k)
    about_c = max(target_c, prior.room_c + LEVER_MIN_K)
    if belief.solid > 0.0:
        stays = solid_share(prior.content, target_c)[0]
        bowl -= max(0.0, belief.solid - stays) * prior.content.latent_k
    return Lumps(
        bath_c=bath,
        bowl_c=bowl,
        k_per_s=k,
        kr_per_s=k * math.exp(ln_r),
        p_k_per_s=math.exp(ln_p),
        lag_s=math.exp(ln_h),
        element_share=q,
        loss_per_s=loss * loss_k_per_s(prior, about_c) / (about_c - prior.room_c),
        bowl_loss_k_per_s=_bowl_loss_k_per_s(belief, mean, target_c),
        room_c=prior.room_c,
        target_c=target_c,
        apart_k=apart,
    )


def _bowl_loss_k_per_s(belief: Belief, mean: Row, target_c: float) -> float:
    """What the bowl loses, half-way to the target.

    Far above it, what is in no model is taken for a loss to the air that was not told rightly, and
    so dwindles on the way like the rest of it.
    """
    prior, bowl_c = belief.prior, mean[BOWL]
    now = bowl_loss_k_per_s(prior, bowl_c)
    if belief.has_melted:  # before, what is in no model is melting's, and ends with it
        now -= mean[DRIFT]
    over_k = max(bowl_c - prior.room_c, LEVER_MIN_K)
    then = min(max((target_c - prior.room_c) / over_k, 0.0), 1.0)
    return now * 0.5 * (1.0 + then)


class Modes(NamedTuple):
    """Two lumps under steady heat: bath and bowl settle as the sum of two decays.

    Each is its rate, 1/s, and what bath and bowl are off by it at first, K.
    """

    settles_c: tuple[float, float]
    quick: tuple[float, float, float]
    slow: tuple[float, float, float]


def modes_of(lumps: Lumps, heat_k_per_s: float) -> Modes:
    """How they settle; the eigenvectors of d(bath) = k (bowl - bath) - l bath, and the bowl's."""
    k, kr, loss = lumps.k_per_s, lumps.kr_per_s, max(lumps.loss_per_s, LEAST_LOSS_PER_S)
    lead_k = lumps.bowl_loss_k_per_s / kr
    bath_end = lumps.room_c + (heat_k_per_s - k * lead_k) / loss
    bowl_end = bath_end + lumps.apart_k - lead_k
    half = 0.5 * (k + loss + kr)
    root = math.sqrt(max(half * half - loss * kr, 0.0))
    quick, slow = -half - root, -loss * kr / (half + root)
    bath, bowl = lumps.bath_c - bath_end, lumps.bowl_c - bowl_end
    bath_rate, bowl_rate = k * (bowl - bath) - loss * bath, kr * (bath - bowl)
    apart = quick - slow
    return Modes(
        (bath_end, bowl_end),
        (quick, (bath_rate - slow * bath) / apart, (bowl_rate - slow * bowl) / apart),
        (slow, (quick * bath - bath_rate) / apart, (quick * bowl - bowl_rate) / apart),
    )


def _at(modes: Modes, span_s: float) -> tuple[float, float]:
    (bath, bowl), (quick, bath_q, bowl_q), (slow, bath_s, bowl_s) = modes
    by_quick, by_slow = math.exp(quick * span_s), math.exp(slow * span_s)
    return bath + bath_q * by_quick + bath_s * by_slow, bowl + bowl_q * by_quick + bowl_s * by_slow


def after(lumps: Lumps, heat_k_per_s: float, span_s: float) -> tuple[float, float]:
    """Bath and bowl after so long with steady heat into the bath, °C."""
    return _at(modes_of(lumps, heat_k_per_s), span_s)


def ready_for_heat(lumps: Lumps) -> Lumps:
    """The same with the heat that the element has still to take, or to give, counted in the bath.

    Full power from now on then reaches it at once.
    """
    lacks_k = lumps.p_k_per_s * lumps.lag_s * (1.0 - lumps.element_share)
    return lumps._replace(bath_c=lumps.bath_c - lacks_k)


def turn_s(lumps: Lumps, modes: Modes) -> float:
    """When a falling bowl turns; 0 where it does not fall, infinite where it goes on falling."""
    lead_k = lumps.bath_c + lumps.apart_k - lumps.bowl_c
    if lead_k >= lumps.bowl_loss_k_per_s / lumps.kr_per_s:
        return 0.0
    _, (quick, bath_q, bowl_q), (slow, bath_s, bowl_s) = modes
    by_quick, by_slow = bath_q - bowl_q, bath_s - bowl_s
    if by_quick * by_slow >= 0.0 or abs(by_quick) <= abs(by_slow):
        return math.inf
    return math.log(-by_slow / by_quick) / (quick - slow)


def trough_c(lumps: Lumps) -> float:
    """The coldest that the bowl gets if heat is full from now on, °C; minus infinity for no end."""
    begin = ready_for_heat(lumps)
    modes = modes_of(begin, lumps.p_k_per_s)
    span_s = turn_s(begin, modes)
    return _at(modes, span_s)[1] if span_s < math.inf else -math.inf


def caught_after_s(lumps: Lumps, least_c: float) -> float:
    """How long the heater may still wait for the bowl never to get under `least_c`, s.

    Negative where that is too late already; infinite where the bowl does not come so low by itself.
    """
    if trough_c(lumps) < least_c:
        return -1.0
    low_s, high_s = 0.0, HORIZON_S
    if trough_c(_later(lumps, high_s)) >= least_c:
        return math.inf
    for _ in range(HALVINGS):
        middle_s = 0.5 * (low_s + high_s)
        if trough_c(_later(lumps, middle_s)) >= least_c:
            low_s = middle_s
        else:
            high_s = middle_s
    return low_s


def _later(lumps: Lumps, span_s: float) -> Lumps:
    """The same after so long without heat."""
    bath_c, bowl_c = after(lumps, 0.0, span_s)
    return lumps._replace(bath_c=bath_c, bowl_c=bowl_c, element_share=0.0)


def arrival_s(lumps: Lumps, high_c: float, least_c: float) -> float:
    """When the bowl comes down to `high_c` with the heater catching it over `least_c`, s.

    Infinite where it never does, or would fall through.
    """
    if lumps.bowl_c <= high_c:
        return 0.0
    waits_s = caught_after_s(lumps, least_c)
    if waits_s < 0.0:
        return math.inf
    free_s = min(waits_s, HORIZON_S)
    if after(lumps, 0.0, free_s)[1] <= high_c:
        return _crossing_s(lumps, 0.0, high_c, free_s)
    if waits_s == math.inf:
        return math.inf
    begin = ready_for_heat(_later(lumps, free_s))
    span_s = turn_s(begin, modes_of(begin, lumps.p_k_per_s))
    return free_s + _crossing_s(begin, lumps.p_k_per_s, high_c, min(span_s, HORIZON_S))


def _crossing_s(lumps: Lumps, heat_k_per_s: float, high_c: float, most_s: float) -> float:
    """When a falling bowl passes `high_c`, at most `most_s` from now."""
    modes, low_s, high_s = modes_of(lumps, heat_k_per_s), 0.0, most_s
    for _ in range(HALVINGS):
        middle_s = 0.5 * (low_s + high_s)
        if _at(modes, middle_s)[1] > high_c:
            low_s = middle_s
        else:
            high_s = middle_s
    return high_s
