"""Catching: when the heater comes in under a bowl that falls towards its target.

Responsible for the moment from which heat keeps a bowl over a cold bath from falling through its
target, and for what is kept free for what the prediction isn't sure of; not for how cold the bath
is made (swap) or for holding (hold). It is the mirror of the transition upwards: no heat as long as
full heat would still be in time.
"""

import math

from controller.core.descent import lumps_of, trough_c
from controller.core.estimate import Belief, Row
from controller.core.thermal import APART, BATH, BOWL, DRIFT, LN_H, LN_K, LN_P, LN_R, Q

# Own engineering values, tuned on the bench, not published.
OVER_K = 0.1  # over the target that the predicted trough is to be: the cascade does the rest
SURE_SD = 2.0  # deviations of the prediction that are kept free over it
LATE_S = 12.0  # the bowl's probe may be so much later than believed, which no smooth fall shows
FALLS_FROM_K = 0.4  # over the target: nearer, the cascade has it
FALLS_TO_K = 0.05
# Small changes by which the slopes of the prediction are taken.
NUDGES = (
    (Q, 0.02),
    (BATH, 0.05),
    (BOWL, 0.05),
    (LN_K, 0.05),
    (LN_P, 0.02),
    (LN_R, 0.05),
    (LN_H, 0.05),
    (DRIFT, 2e-4),
    (APART, 0.05),
)


def is_falling(over_k: float, *, was: bool) -> bool:
    """Whether a bowl so far over its target is on its way down; with some hysteresis."""
    return over_k > (FALLS_TO_K if was else FALLS_FROM_K)


def trough_sd_k(belief: Belief, target_c: float) -> float:
    """Standard deviation of the predicted trough, K; infinite where a nudge makes it endless."""
    mean, spread = belief.mean, belief.spread

    def trough(one: Row) -> float:
        return trough_c(lumps_of(belief, one, target_c))

    base_c = trough(mean)
    if not math.isfinite(base_c):
        return 0.0
    slopes = [
        (at, (trough((*mean[:at], mean[at] + nudge, *mean[at + 1 :])) - base_c) / nudge)
        for at, nudge in NUDGES
    ]
    if not all(math.isfinite(slope) for _, slope in slopes):  # a heater that hardly holds it
        return math.inf
    variance = sum(slope * other * spread[at][to] for at, slope in slopes for to, other in slopes)
    return math.sqrt(max(variance, 0.0))


def must_catch(belief: Belief, target_c: float, sd_k: float) -> bool:
    """Whether heat has to be full now for the bowl not to fall through its target."""
    lumps = lumps_of(belief, belief.mean, target_c)
    ahead_k = LATE_S * lumps.kr_per_s * max(0.0, lumps.under_k)
    trough = trough_c(lumps._replace(bowl_c=lumps.bowl_c - ahead_k))
    return trough - SURE_SD * sd_k < target_c + OVER_K
