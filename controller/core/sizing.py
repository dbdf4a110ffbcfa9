"""From the filter's numbers to sizes of a machine, for whoever wants to know them.

Responsible for the public estimate; not for learning (estimator).
"""

import math

from controller.core.estimate import Belief, Estimate
from controller.core.records import replace
from controller.core.thermal import (
    APART,
    BATH,
    BOWL,
    LEVER_MIN_K,
    LN_K,
    LN_P,
    LN_R,
    LOSS,
    SIZE,
    Q,
    loss_k_per_s,
)

# Own engineering values, not published.
SIZE_SD = 0.06  # of heater and bath, each, in the machine file
WALL_INSIDE = 0.25  # of the way from bath to bowl lies outside the wall
UNSURE = 0.5  # part of what is solid that may be molten just as well
TRUST_SD_K = 0.1


def estimate_of(belief: Belief) -> Estimate:
    """The public estimate: numbers of the filter as sizes of a machine.

    Readings show ratios only: what heater over bath is found to be beyond the machine file is taken
    to be half the heater's error and half the bath's.
    """
    prior, mean, spread = belief.prior, belief.mean, belief.spread
    sd = [math.sqrt(spread[index][index]) for index in range(SIZE)]
    k = math.exp(mean[LN_K])
    share = math.exp(0.5 * (mean[LN_P] - prior.mean[LN_P - LN_K]))
    bath_j, heater_w = prior.bath_j_per_k / share, prior.heater_w * share
    half = math.hypot(0.5 * sd[LN_P], SIZE_SD)
    bowl_j = bath_j / math.exp(mean[LN_R])
    over_k = max(mean[BATH] - prior.room_c, LEVER_MIN_K)
    loss = loss_k_per_s(prior, mean[BATH]) * bath_j / over_k
    wall_c = belief.wall_c + mean[APART]
    wall_c += WALL_INSIDE * (mean[BOWL] - wall_c)
    return Estimate(
        bath_c=mean[BATH],
        bath_c_sd=sd[BATH],
        bowl_c=mean[BOWL],
        bowl_c_sd=sd[BOWL],
        wall_c=wall_c,
        wall_c_sd=sd[BATH] + sd[APART],
        element_w=mean[Q] * heater_w,
        element_w_sd=sd[Q] * heater_w,
        ua_w_per_k=k * bath_j,
        ua_w_per_k_sd=k * bath_j * math.hypot(sd[LN_K], half),
        bath_j_per_k=bath_j,
        bath_j_per_k_sd=bath_j * half,
        bowl_j_per_k=bowl_j,
        bowl_j_per_k_sd=bowl_j * math.hypot(sd[LN_R], half),
        loss_w_per_k=mean[LOSS] * loss,
        loss_w_per_k_sd=sd[LOSS] * loss,
        heater_w=heater_w,
        heater_w_sd=heater_w * half,
        melted=1.0 - belief.solid,
        melted_sd=min(1.0, UNSURE * belief.solid),
        trusted=belief.has_melted
        and belief.blind_s == 0.0
        and max(sd[BATH], sd[BOWL]) <= TRUST_SD_K,
    )


def at_once(estimate: Estimate, belief: Belief) -> Estimate:
    """The estimate between two corrections: temperatures go on, all else stays."""
    mean = belief.mean
    return replace(
        estimate,
        bath_c=mean[BATH],
        bowl_c=mean[BOWL],
        element_w=mean[Q] * estimate.heater_w,
        melted=1.0 - belief.solid,
    )
