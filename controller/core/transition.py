"""Transitions: full heat until the bowl will arrive by itself, and what it will do then.

Responsible for predicting where the bowl turns and how sure that is; not for holding (hold) or for
the bath's ceiling (regulator).
"""

import math

from controller.core.chocolate import MELT_LAG_S, solid_share
from controller.core.estimate import Belief, Row
from controller.core.thermal import (
    APART,
    BATH,
    BOWL,
    DRIFT,
    LN_H,
    LN_K,
    LN_P,
    LN_R,
    LOSS,
    Q,
    bowl_loss_k_per_s,
    loss_k_per_s,
)

HORIZON_S = 3600.0
MELTING_UNSURE = 0.1  # of what has still to melt; own engineering value, not published
# Small changes by which the slopes of the prediction are taken.
NUDGES = (
    (Q, 0.02),
    (BATH, 0.05),
    (BOWL, 0.05),
    (LN_K, 0.05),
    (LN_P, 0.02),
    (LN_R, 0.05),
    (LN_H, 0.05),
    (LOSS, 0.1),
    (DRIFT, 2e-4),
    (APART, 0.05),
)


def peak_c(belief: Belief, mean: Row, towards_c: float, more_s: float) -> float:
    """The warmest the bowl gets if heat ends after `more_s` more seconds of full power, °C.

    Two lumps and constant losses, solved in closed form: the bath's lead decays towards a negative
    one, and the bowl turns where it takes as much as it loses. `mean` is the belief's, or near it.
    """
    prior = belief.prior
    q, bath, bowl, _, _, ln_k, ln_p, ln_r, ln_h, _, loss, drift, _, apart = mean
    k, p, r = math.exp(ln_k), math.exp(ln_p), math.exp(ln_r)
    bath += p * (q * math.exp(ln_h) + more_s)
    if belief.solid > 0.0:  # what will have melted there takes its heat first
        bowl -= _to_melt_k(belief, drift, towards_c)
    loss_bath = loss * loss_k_per_s(prior, 0.5 * (bath + towards_c))
    loss_bowl = bowl_loss_k_per_s(prior, towards_c)
    if belief.has_melted:  # before, what is in no model is melting's, and ends with it
        loss_bowl -= drift
    lead = bath + apart - bowl
    rate = k * (1.0 + r)
    turns_at = loss_bowl / (k * r)
    if lead <= turns_at:
        return bowl
    ends_at = (loss_bowl - loss_bath) / rate
    span_s = HORIZON_S
    if ends_at < turns_at:
        span_s = min(span_s, math.log((lead - ends_at) / (turns_at - ends_at)) / rate)
    taken = (lead - ends_at) * -math.expm1(-rate * span_s) / rate + ends_at * span_s
    return bowl + k * r * taken - loss_bowl * span_s


def peak_sd_k(belief: Belief, towards_c: float) -> float:
    """Standard deviation of the prediction, K."""
    mean, spread = belief.mean, belief.spread
    base_c = peak_c(belief, mean, towards_c, 0.0)
    slopes = [
        (
            index,
            (
                peak_c(
                    belief,
                    (*mean[:index], mean[index] + nudge, *mean[index + 1 :]),
                    towards_c,
                    0.0,
                )
                - base_c
            )
            / nudge,
        )
        for index, nudge in NUDGES
    ]
    variance = 0.0
    for index, slope in slopes:
        row = spread[index]
        variance += slope * sum(other * row[at] for at, other in slopes)
    if not belief.has_melted:
        variance += (MELTING_UNSURE * _to_melt_k(belief, 0.0, towards_c)) ** 2
    return math.sqrt(max(variance, 0.0))


def _to_melt_k(belief: Belief, drift: float, towards_c: float) -> float:
    """Heat that melting will still take on the way to a temperature, as kelvins of the bowl.

    Until all has melted, a bowl that gets more heat than is in the picture (`drift`, K/s) has less
    to melt than is pictured.
    """
    content = belief.prior.content
    left_k = (belief.solid - solid_share(content, towards_c)[0]) * content.latent_k
    if not belief.has_melted:
        left_k -= max(0.0, drift) * MELT_LAG_S
    return max(0.0, left_k)
