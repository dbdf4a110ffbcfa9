"""How long a leg will take: the believed machine in coarse steps, under a sketch of its control.

Responsible for one leg from here to its target; not for phases, questions or how sure it is
(forecast). A few dozen steps stand for an hour, so that it may be asked for again and again.
"""

import math
from functools import lru_cache
from itertools import accumulate
from typing import NamedTuple

from controller.core.chocolate import SOLID_AT, Content, solid_share
from controller.core.estimate import Belief
from controller.core.hold import OUTER_MAX, OUTER_MIN, inner_s
from controller.core.machine import WATER_J_PER_KG_K, Machine
from controller.core.outlook import LIMIT_S
from controller.core.profile import Phase
from controller.core.regulator import HOLDS_FROM_K
from controller.core.thermal import (
    APART,
    BATH,
    BOWL,
    BOWL_LOSS_W_PER_K,
    LEVER_MIN_K,
    LN_B,
    LN_H,
    LN_K,
    LN_P,
    LN_R,
    LOSS,
    Q,
    loss_k_per_s,
)
from controller.core.transition import HORIZON_S

# Own engineering values, not published.
STEP_S = 30.0  # the first steps of a leg; later ones grow, as all that is quick has gone by then
GROWS_EVERY = 6
_SPANS_S = [STEP_S * (1 + count // GROWS_EVERY) for count in range(100)]
STEPS = tuple(  # each one's begin and length
    (at_s, span_s)
    for at_s, span_s in zip(accumulate(_SPANS_S, initial=0.0), _SPANS_S, strict=False)
    if at_s < LIMIT_S
)
AIM_UNDER_K = 0.04  # what the transition keeps free under its target, about


class Rates(NamedTuple):
    """The believed machine, in numbers that a step needs."""

    k_per_s: float  # bath to bowl, over the bath, with the stirrer turning
    still_k_per_s: float
    kr_per_s: float  # bath to bowl, over the bowl, likewise
    p_k_per_s: float
    loss_per_s: float  # bath to room, for each kelvin between them
    bowl_loss_per_s: float
    drift_k_per_s: float
    apart_k: float
    room_c: float
    least_s: float  # shortest pulse of the relay
    curve: tuple[tuple[float, float], ...]  # see `melting_curve`


class Pot(NamedTuple):
    """Bath and bowl. What is still to melt is kelvins that the bowl lacks."""

    bath_c: float
    bowl_c: float


@lru_cache(maxsize=8)
def melting_curve(content: Content, share: float) -> tuple[tuple[float, float], ...]:
    """Pairs of a bowl with its solids counted as lacking warmth, and what a thermometer says, °C.

    `share` of the content was solid to begin with.
    """
    latent_k = share * content.latent_k
    if not latent_k:
        return ()
    return tuple(
        (at_c - content.softer_k - latent_k * solid, at_c - content.softer_k)
        for at_c, solid in SOLID_AT
    )


def shown(curve: tuple[tuple[float, float], ...], lacking_c: float) -> tuple[float, float]:
    """What a thermometer says of a bowl that lacks warmth to melt, °C, and its slope."""
    if not curve or lacking_c >= curve[-1][0]:
        return lacking_c, 1.0
    low, low_c = curve[0]
    if lacking_c <= low:
        return low_c - (low - lacking_c), 1.0
    for high, high_c in curve[1:]:
        if lacking_c < high:
            slope = (high_c - low_c) / (high - low)
            return low_c + slope * (lacking_c - low), slope
        low, low_c = high, high_c
    return lacking_c, 1.0


def lacking(curve: tuple[tuple[float, float], ...], seen_c: float) -> float:
    """The reverse of `shown`."""
    if not curve or seen_c >= curve[-1][1]:
        return seen_c
    low, low_c = curve[0]
    for high, high_c in curve[1:]:
        if seen_c < high_c:
            break
        low, low_c = high, high_c
    return (
        low + max(0.0, seen_c - low_c) * (high - low) / (high_c - low_c) + min(0.0, seen_c - low_c)
    )


def pot_of(belief: Belief) -> Pot:
    """Bath and bowl by now; what the element still holds is counted as in the bath."""
    mean = belief.mean
    coming_k = math.exp(mean[LN_P] + mean[LN_H]) * mean[Q]
    # What is solid once all has melted is seed, of which much stays as it is.
    lacks_k = 0.0 if belief.has_melted else belief.solid * belief.prior.content.latent_k
    return Pot(mean[BATH] + coming_k, mean[BOWL] - lacks_k)


def rates_of(belief: Belief, machine: Machine, about_c: float, share: float) -> Rates:
    """The machine as believed; losses as at a bath of `about_c`, `share` of the bowl to melt."""
    mean, prior = belief.mean, belief.prior
    now, other = math.exp(mean[LN_K]), math.exp(belief.other_transfer[0])
    k = now if belief.is_stirred or not machine.has_stirrer else other
    about_c = max(about_c, prior.room_c + LEVER_MIN_K)
    loss = mean[LOSS] * loss_k_per_s(prior, about_c) / (about_c - prior.room_c)
    return Rates(
        k_per_s=k,
        still_k_per_s=other if belief.is_stirred else now,
        kr_per_s=k * math.exp(mean[LN_R]),
        p_k_per_s=math.exp(mean[LN_P]),
        loss_per_s=loss,
        bowl_loss_per_s=BOWL_LOSS_W_PER_K / prior.bowl_j_per_k,
        drift_k_per_s=0.0,
        apart_k=mean[APART],
        room_c=prior.room_c,
        least_s=max(machine.min_on_s, machine.period_s),
        curve=melting_curve(prior.content, share),
    )


def lags_s(belief: Belief) -> float:
    """By how much element and probe are late, which the course leaves out."""
    return math.exp(belief.mean[LN_H]) + math.exp(belief.mean[LN_B])


def swapped(pot: Pot, machine: Machine, share: float, water_c: float) -> Pot:
    """The pot after a share of the water was swapped; the vessel stays as warm as it was."""
    part = share * machine.water_kg * WATER_J_PER_KG_K / machine.bath_j_per_k
    return Pot(pot.bath_c + part * (water_c - pot.bath_c), pot.bowl_c)


def seeded(pot: Pot, content: Content, share: float, room_c: float) -> Pot:
    """The pot after so large a share of the batch was added, solid and as warm as the room."""
    solid = solid_share(content, room_c)[0]
    cold_c = room_c - solid * content.latent_k
    return Pot(pot.bath_c, pot.bowl_c + share * (cold_c - pot.bowl_c))


def at_rest(rates: Rates, target_c: float) -> Pot:
    """The pot that is held at a target."""
    loss_k = rates.bowl_loss_per_s * (target_c - rates.room_c) - rates.drift_k_per_s
    return Pot(target_c + loss_k / rates.kr_per_s - rates.apart_k, target_c)


def leg_s(pot: Pot, phase: Phase, rates: Rates, settled_s: float = 0.0) -> float:
    """Seconds until the bowl has settled within the phase's tolerance; infinite beyond `LIMIT_S`.

    `settled_s` is how long it has been there already. A bowl that only passes through has not
    settled.
    """
    target_c, within_k = phase.bowl_target_c, phase.tolerance_k
    bath_c, bowl_c = pot
    off_k = shown(rates.curve, bowl_c)[0] - target_c
    inside_at_s = -settled_s if abs(off_k) <= within_k else math.inf
    rests_c = lacking(rates.curve, target_c)
    for at_s, step_s in STEPS:
        if at_s - inside_at_s >= phase.settle_s:
            return max(0.0, inside_at_s + phase.settle_s)
        bath_c, bowl_c = _step(bath_c, bowl_c, rests_c, phase, step_s, rates)
        before_k, off_k = off_k, shown(rates.curve, bowl_c)[0] - target_c
        if abs(off_k) > within_k:
            inside_at_s = math.inf
        elif inside_at_s == math.inf:
            over_k = abs(before_k) - within_k
            inside_at_s = at_s + step_s * over_k / (abs(before_k - off_k) or over_k)
    return math.inf


def _step(
    bath_c: float,
    bowl_c: float,
    rests_c: float,
    phase: Phase,
    step_s: float,
    rates: Rates,
) -> tuple[float, float]:
    """One step: a duty like the regulator's, then two lumps whose lead decays exponentially.

    `rests_c` is the bowl at its target, counted as `bowl_c` is.
    """
    top_c = phase.bath_ceiling_c
    seen_c, slope = shown(rates.curve, bowl_c)
    k = rates.k_per_s if seen_c >= phase.stir_from_c else rates.still_k_per_s
    r, p = rates.kr_per_s / rates.k_per_s, rates.p_k_per_s
    lead_k = bath_c + rates.apart_k - seen_c
    lost = rates.loss_per_s * (bath_c - rates.room_c)
    bowl_loss = rates.bowl_loss_per_s * (seen_c - rates.room_c) - rates.drift_k_per_s
    closes_s = inner_s(rates.least_s)
    stands_c = phase.bowl_target_c + bowl_loss / (k * r) - rates.apart_k
    is_moving = rests_c - bowl_c > HOLDS_FROM_K
    if not is_moving:
        gain = min(max(1.0 / (2.0 * k * r * closes_s), OUTER_MIN), OUTER_MAX)
        stands_c += gain * (rests_c - bowl_c)
    heat = (min(top_c, stands_c) - bath_c) / max(step_s, closes_s) + lost + k * lead_k
    if is_moving:
        lacks_k = rests_c - AIM_UNDER_K
        lacks_k -= _peak_c(lead_k + seen_c - bowl_c, bowl_c, lost, bowl_loss, k, r)
        heat = max(heat, lacks_k * (1.0 + r) / (r * step_s))
    heat = min(max(heat, 0.0), p, max(0.0, (top_c - bath_c) / step_s + lost + k * lead_k))
    rate = k * (1.0 + r * slope)
    ends_k = (heat - lost + slope * bowl_loss) / rate
    lead_k = ends_k - (lead_k - ends_k) * math.expm1(-rate * step_s) / (rate * step_s)
    bath_c += step_s * (heat - lost - k * lead_k)
    return bath_c, bowl_c + step_s * (k * r * lead_k - bowl_loss)


def _peak_c(
    lead_k: float, bowl_c: float, lost: float, bowl_loss: float, k: float, r: float
) -> float:
    """Where the bowl turns if heat ends now, as `transition.peak_c` has it."""
    rate, turns_k = k * (1.0 + r), bowl_loss / (k * r)
    if lead_k <= turns_k:
        return bowl_c
    ends_k = (bowl_loss - lost) / rate
    span_s = HORIZON_S
    if ends_k < turns_k:
        span_s = min(span_s, math.log((lead_k - ends_k) / (turns_k - ends_k)) / rate)
    taken = (lead_k - ends_k) * -math.expm1(-rate * span_s) / rate + ends_k * span_s
    return bowl_c + k * r * taken - bowl_loss * span_s
