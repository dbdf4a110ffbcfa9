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
LASTS_W = 20.0  # heat that is in no model: more of it is over within a minute
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
        most = LASTS_W / prior.bowl_j_per_k
        now -= min(max(mean[DRIFT], -most), most)
    over_k = max(bowl_c - prior.room_c, LEVER_MIN_K)
    then = min(max((target_c - prior.room_c) / over_k, 0.0), 1.0)
    return now * 0.5 * (1.0 + then)


# Bare tuples, not named ones: a search for a swap makes thousands, and names cost ten times more.
# Where two lumps settle under steady heat, wherever they begin: bath and bowl, °C; how fast the
# quicker and the slower of two decays are, 1/s.
Pace = tuple[float, float, float, float]
# How they settle, as the sum of both decays: bath and bowl in the end, °C; for the quicker and for
# the slower decay its rate, 1/s, and what bath and bowl are off by it at first, K.
Modes = tuple[tuple[float, float], tuple[float, float, float], tuple[float, float, float]]


def pace_of(lumps: Lumps, heat_k_per_s: float) -> Pace:
    """What does not hang on where they begin: to be worked out once for many beginnings."""
    k, kr, loss = lumps.k_per_s, lumps.kr_per_s, max(lumps.loss_per_s, LEAST_LOSS_PER_S)
    lead_k = lumps.bowl_loss_k_per_s / kr
    bath_end = lumps.room_c + (heat_k_per_s - k * lead_k) / loss
    half = 0.5 * (k + loss + kr)
    root = math.sqrt(max(half * half - loss * kr, 0.0))
    bowl_end = bath_end + lumps.apart_k - lead_k
    return bath_end, bowl_end, -half - root, -loss * kr / (half + root)


def begun(lumps: Lumps, pace: Pace, bath_c: float, bowl_c: float) -> Modes:
    """How they settle from there; the eigenvectors of d(bath) = k (bowl - bath) - l bath."""
    k, kr, loss = lumps.k_per_s, lumps.kr_per_s, max(lumps.loss_per_s, LEAST_LOSS_PER_S)
    bath_end, bowl_end, quick, slow = pace
    bath, bowl = bath_c - bath_end, bowl_c - bowl_end
    bath_rate, bowl_rate = k * (bowl - bath) - loss * bath, kr * (bath - bowl)
    apart = quick - slow
    return (
        (bath_end, bowl_end),
        (quick, (bath_rate - slow * bath) / apart, (bowl_rate - slow * bowl) / apart),
        (slow, (quick * bath - bath_rate) / apart, (quick * bowl - bowl_rate) / apart),
    )


def modes_of(lumps: Lumps, heat_k_per_s: float) -> Modes:
    """How they settle from where they are."""
    return begun(lumps, pace_of(lumps, heat_k_per_s), lumps.bath_c, lumps.bowl_c)


def _at(modes: Modes, span_s: float) -> tuple[float, float]:
    (bath, bowl), (quick, bath_q, bowl_q), (slow, bath_s, bowl_s) = modes
    by_quick, by_slow = math.exp(quick * span_s), math.exp(slow * span_s)
    return bath + bath_q * by_quick + bath_s * by_slow, bowl + bowl_q * by_quick + bowl_s * by_slow


def after(lumps: Lumps, heat_k_per_s: float, span_s: float) -> tuple[float, float]:
    """Bath and bowl after so long with steady heat into the bath, °C."""
    return _at(modes_of(lumps, heat_k_per_s), span_s)


def ready_c(lumps: Lumps, bath_c: float, element_share: float) -> float:
    """A bath with the heat that the element has still to take, or to give, counted in it, °C.

    Full power from now on then reaches it at once.
    """
    return bath_c - lumps.p_k_per_s * lumps.lag_s * (1.0 - element_share)


def turn_s(lumps: Lumps, modes: Modes, bath_c: float, bowl_c: float) -> float:
    """When a bowl that falls from there turns; 0 where it does not fall, infinite where always."""
    lead_k = bath_c + lumps.apart_k - bowl_c
    if lead_k >= lumps.bowl_loss_k_per_s / lumps.kr_per_s:
        return 0.0
    _, (quick, bath_q, bowl_q), (slow, bath_s, bowl_s) = modes
    by_quick, by_slow = bath_q - bowl_q, bath_s - bowl_s
    if by_quick * by_slow >= 0.0 or abs(by_quick) <= abs(by_slow):
        return math.inf
    return math.log(-by_slow / by_quick) / (quick - slow)


def trough_c(lumps: Lumps) -> float:
    """The coldest that the bowl gets if heat is full from now on, °C; minus infinity for no end."""
    bath_c = ready_c(lumps, lumps.bath_c, lumps.element_share)
    return _trough_c(lumps, pace_of(lumps, lumps.p_k_per_s), bath_c, lumps.bowl_c)


def _trough_c(lumps: Lumps, heated: Pace, bath_c: float, bowl_c: float) -> float:
    """The same from a bath and a bowl, the bath ready for heat."""
    modes = begun(lumps, heated, bath_c, bowl_c)
    span_s = turn_s(lumps, modes, bath_c, bowl_c)
    return _at(modes, span_s)[1] if span_s < math.inf else -math.inf


def caught_after_s(lumps: Lumps, least_c: float) -> float:
    """How long the heater may still wait for the bowl never to get under `least_c`, s.

    Negative where that is too late already; infinite where the bowl does not come so low by itself.
    """
    if trough_c(lumps) < least_c:
        return -1.0
    unheated, heated = modes_of(lumps, 0.0), pace_of(lumps, lumps.p_k_per_s)

    def is_in_time(span_s: float) -> bool:
        bath_c, bowl_c = _at(unheated, span_s)
        return _trough_c(lumps, heated, ready_c(lumps, bath_c, 0.0), bowl_c) >= least_c

    low_s, high_s = 0.0, HORIZON_S
    if is_in_time(high_s):
        return math.inf
    for _ in range(HALVINGS):
        middle_s = 0.5 * (low_s + high_s)
        if is_in_time(middle_s):
            low_s = middle_s
        else:
            high_s = middle_s
    return low_s


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
    unheated = modes_of(lumps, 0.0)
    bath_c, bowl_c = _at(unheated, free_s)
    if bowl_c <= high_c:
        return _crossing_s(unheated, high_c, free_s)
    if waits_s == math.inf:
        return math.inf
    bath_c = ready_c(lumps, bath_c, 0.0)
    heated = begun(lumps, pace_of(lumps, lumps.p_k_per_s), bath_c, bowl_c)
    span_s = turn_s(lumps, heated, bath_c, bowl_c)
    return free_s + _crossing_s(heated, high_c, min(span_s, HORIZON_S))


def _crossing_s(modes: Modes, high_c: float, most_s: float) -> float:
    """When a falling bowl passes `high_c`, at most `most_s` from now."""
    low_s, high_s = 0.0, most_s
    for _ in range(HALVINGS):
        middle_s = 0.5 * (low_s + high_s)
        if _at(modes, middle_s)[1] > high_c:
            low_s = middle_s
        else:
            high_s = middle_s
    return high_s
