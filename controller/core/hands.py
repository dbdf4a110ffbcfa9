"""What hands do to bath and bowl, as the belief takes it: fed forward, before a probe shows it.

Responsible for how the belief changes and what becomes uncertain by it; not for who said it
(heeding, requests) or for what is learned afterwards (estimator).
"""

import math
from collections.abc import Mapping

from controller.core.chocolate import solid_share
from controller.core.estimate import Belief
from controller.core.profile import Action, Question
from controller.core.records import replace
from controller.core.thermal import BATH, BOWL, DRIFT, LN_B, LN_P, LN_R, LOSS, SIZE, clamped

# Own engineering values, not published: standard deviations, besides what people say.
SWAP_SD_K = 12.0
SWAP_SIZE_SD = 0.05
SWAP_LAG_SD = 0.3
ADDED_SD_K = 3.0
ADDED_DRIFT_W = 60.0
MIXING_S = 180.0  # until what was added is as warm as the rest
SETTING_W = 40.0  # for the whole batch: melted chocolate sets on what was added, and warms
HELD_VARIANCE = 1e-8
LID_OFF_LOSS = 1.4  # losses with the lid off, over those with it on
LID_OFF_SD = 0.4


def answered(belief: Belief, question: Question) -> Belief:
    """Somebody has just done what a question asks: water swapped, or chocolate added."""
    share = question.share or 0.0
    if question.action is Action.SWAP_WATER:
        return water_swapped(belief, share, question.water_c)
    if question.action is Action.ADD_SEED:
        return chocolate_added(belief, share, belief.prior.room_c, is_set=True)
    return belief


def water_swapped(belief: Belief, share: float, water_c: float | None) -> Belief:
    """A share of the bath was swapped; 0, or no temperature, where nobody said."""
    mean = list(belief.mean)
    if water_c is not None:
        mean[BATH] += share * (water_c - mean[BATH])
    size = SWAP_SIZE_SD**2
    # A bowl that falls fast shows how late its probe is.
    unsure = {BATH: SWAP_SD_K**2, LN_P: size, LN_R: size, LN_B: SWAP_LAG_SD**2}
    return _after(belief, mean, unsure)


def bath_changed(belief: Belief, by_k: float, variance_k2: float) -> Belief:
    """Something cooled or warmed the bath by so much, more or less."""
    mean = list(belief.mean)
    mean[BATH] += by_k
    return _after(belief, mean, {BATH: variance_k2})


def chocolate_added(belief: Belief, share: float, at_c: float, *, is_set: bool) -> Belief:
    """So large a share of the whole batch came into the bowl, set or melted.

    Where all of it melts, that takes heat which nobody can tell beforehand. Where some stays set, a
    bowl that cools until it has mixed says nothing of the machine: neither the bowl's size nor heat
    that is in no model is learned from it.
    """
    prior, mean = belief.prior, list(belief.mean)
    in_bowl = belief.in_bowl + share
    part = share / in_bowl
    mean[LN_R] += math.log1p(-part)
    mean[BOWL] += part * (at_c - mean[BOWL])
    solid, is_kept = belief.solid, belief.has_melted
    if prior.content.latent_k:
        fresh = solid_share(prior.content, 0.0)[0] if is_set else 0.0
        solid = (1.0 - part) * solid + part * fresh
        is_kept = is_kept and solid_share(prior.content, mean[BOWL])[0] > 0.0
        if is_kept and is_set:
            mean[DRIFT] += part * SETTING_W / prior.bowl_j_per_k
    drift = ADDED_DRIFT_W / prior.bowl_j_per_k
    unsure = {} if is_kept else {DRIFT: drift * drift, LN_R: SWAP_SIZE_SD**2}
    held = (DRIFT, LN_R) if is_kept else ()
    after = _after(belief, mean, {BOWL: ADDED_SD_K**2, **unsure}, held)
    return replace(after, solid=solid, in_bowl=in_bowl, mixing_s=MIXING_S if is_kept else 0.0)


def lid_opened(belief: Belief) -> Belief:
    """The lid is off: more evaporates."""
    mean = list(belief.mean)
    mean[LOSS] *= LID_OFF_LOSS
    return _after(belief, mean, {LOSS: LID_OFF_SD**2})


def lid_closed(belief: Belief, loss: float) -> Belief:
    """The lid is on again, and losses are what they were, as far as that is known."""
    mean = list(belief.mean)
    mean[LOSS] = loss
    return _after(belief, mean, {})


def _after(
    belief: Belief, mean: list[float], added: Mapping[int, float], held: tuple[int, ...] = ()
) -> Belief:
    """The belief with another mean, and so much more variance; `held` are as good as certain."""
    spread = [list(row) for row in belief.spread]
    for index, variance in added.items():
        spread[index][index] += variance
    for index in held:
        for other in range(SIZE):
            spread[index][other] = spread[other][index] = 0.0
        spread[index][index] = HELD_VARIANCE
    return replace(belief, mean=clamped(mean, belief.prior), spread=tuple(map(tuple, spread)))
