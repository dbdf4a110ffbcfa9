"""What the sensors say of each other and of the machine as it was learned.

Responsible for laying readings, belief and the last minute side by side, every few seconds; not
for what is unsafe (detector_rows) or for learning (estimator).
"""

import math

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.estimate import Belief, Prior
from controller.core.records import replace
from controller.core.signals import Quality, Reading
from controller.core.thermal import (
    APART,
    BATH,
    BOWL,
    DRIFT,
    LN_K,
    LN_R,
    LOSS,
    bowl_loss_k_per_s,
)

Look = tuple[float, float, float, float]  # moment, bath and bowl, on-time of the heater so far

_GOOD = Quality.GOOD  # looking up a member of an enumeration takes longer than all the rest
_LOADS = 3  # the present one and the two before it
_LEARNED_SD = 0.1  # of the bowl's size as a logarithm: no better known, it says nothing
_BESIDE_K = 0.3  # two thermometers may differ by that
_SURE_SD = 3.0  # by so many deviations what is learned must differ
_LIKE_SHARE = 0.25  # of what is unlike: up to here the machine is as it was, and learned


class Learned(Struct, frozen=True):
    """How the machine has been of late, which what it is now is held against."""

    rate_per_s: float  # transfer over what the bowl holds
    loss_share: float
    loss_share_sd: float  # of the loss as it was taken over


class Still(Struct, frozen=True):
    """Where bath and bowl were as they began to stand still."""

    since_s: float
    bath_c: float
    bowl_c: float


class Consistency(Struct, frozen=True, kw_only=True):
    """What came of the last look, and what the next one needs. 0 or 1 where nothing is known."""

    due_s: float = 0.0
    touched_s: float = -math.inf  # when somebody last said that they changed bath or bowl
    disturbed_s: float = -math.inf  # when that was last said or seen
    looks: tuple[Look, ...] = ()
    loads: tuple[float, ...] = ()  # W, while the stirrer turns at one speed
    told_rpm: float = 0.0
    learned: Learned | None = None
    guard_code_c: float = math.nan
    guard_changed_s: float = 0.0
    guard_asked_s: float = 0.0  # on-time of the heater as it changed
    guard_frozen_s: float = 0.0  # how long it has not, with heat meanwhile
    apart_k: float = 0.0  # the guard's thermometer over the controller's
    crept_k: float = 0.0  # by which that is more than it was before any heat
    unlike_k: float = 0.0  # of the bath's lead, beyond what was learned
    unlike_most_k: float = th.UNLIKE_K
    unlike_least_k: float = -th.UNLIKE_COLD_K
    still: Still | None = None  # since when bath and bowl stand still
    set_j: float = 0.0  # that only chocolate which sets could have given to a bath so cold
    fell_from_c: float = math.nan
    fell_k: float = 0.0  # under where the bowl was before it fell alone; 0 once it is back
    moved_k: float = 0.0  # what the bowl did within the last minute that the bath did not do to it
    crossed_k: float = 0.0  # by which the bowl answered the heat over all that the bath was
    load_share: float = 1.0  # to two looks before
    demand_share: float = 1.0  # heat for the bath's losses, over what they needed
    amount_share: float = 1.0  # of the batch in the machine file


NOTHING_SEEN = Consistency()


class Sight(Struct, frozen=True, kw_only=True):
    """What one look has before it."""

    now_s: float
    bath_c: float  # as believed, or the guard's where there is no other; NaN for no good value
    bowl_c: float
    guard_c: float  # by the guard's thermometer, NaN likewise
    apart_cold_k: float  # its excess over the controller's before any heat; NaN for unknown
    load: Reading | None
    asked_s: float  # on-time of the heater so far
    full_k_per_s: float  # by which full heat warms the bath
    told_rpm: float
    stirring_s: float
    shaft_turns: bool
    is_chocolate: bool
    in_first_phase: bool
    is_there: bool  # the bowl has come to its phase's target, or began at it
    is_thick: bool  # the estimate has told that more has set than should


def noted(seen: Consistency, now_s: float, *, touched: bool) -> Consistency:
    """Somebody said, or a sudden change showed, that bath or bowl are not as they were.

    What was learned of the machine then is no measure of how it will be.
    """
    touched_s = now_s if touched else seen.touched_s
    return replace(seen, touched_s=touched_s, disturbed_s=now_s, learned=None)


def consider(seen: Consistency, sight: Sight, belief: Belief | None) -> Consistency:
    """Take one look, at whatever says something: bath and bowl are compared where both do.

    A machine may do without one of the two, and its guard and its stirrer are watched all the same.
    """
    seen = _guards(replace(seen, due_s=sight.now_s + th.LOOK_EVERY_S), sight)
    seen = _loads(seen, sight)
    if not (math.isfinite(sight.bath_c) and math.isfinite(sight.bowl_c)):
        return seen
    return _learns(_stands(_moves(seen, sight), sight), sight, belief)


def learned_loss_share(seen: Consistency) -> float:
    """The bath's losses over the machine file's, if they are more and have been learned well."""
    learned = seen.learned
    if learned is None or learned.loss_share_sd > th.LEARNED_LOSS_SD:
        return 1.0
    return min(max(learned.loss_share, 1.0), th.LOSS_SHARE_MOST)


def _is_quiet(seen: Consistency, sight: Sight) -> bool:
    return sight.now_s - seen.disturbed_s >= th.QUIET_S


def _is_calm(seen: Consistency, sight: Sight) -> bool:
    """Whether two thermometers in one bath show one value: on its way the slower lags behind."""
    since_s = math.inf if seen.still is None else seen.still.since_s
    return _is_quiet(seen, sight) and sight.now_s - since_s >= th.LOOK_BACK_S


def _guards(seen: Consistency, sight: Sight) -> Consistency:
    """Two thermometers in one bath, the guard's and the controller's."""
    guard_c, now_s = sight.guard_c, sight.now_s
    if not math.isfinite(guard_c):
        return replace(seen, apart_k=0.0, crept_k=0.0, guard_frozen_s=0.0)
    if now_s - seen.touched_s < th.TOUCHED_S:
        seen = replace(seen, apart_k=0.0, crept_k=0.0)
    elif math.isfinite(sight.bath_c):  # a value that is missed for a moment excuses nothing
        apart_k = guard_c - sight.bath_c
        is_judged = math.isfinite(sight.apart_cold_k) and _is_calm(seen, sight)
        crept_k = apart_k - sight.apart_cold_k if is_judged else 0.0
        seen = replace(seen, apart_k=apart_k, crept_k=crept_k)
    if guard_c != seen.guard_code_c:
        return replace(
            seen,
            guard_code_c=guard_c,
            guard_changed_s=now_s,
            guard_asked_s=sight.asked_s,
            guard_frozen_s=0.0,
        )
    is_heated = sight.asked_s - seen.guard_asked_s > th.FROZEN_HEAT_S
    frozen_s = now_s - seen.guard_changed_s if is_heated else 0.0
    return replace(seen, guard_frozen_s=frozen_s)


def _moves(seen: Consistency, sight: Sight) -> Consistency:
    """What the bowl did within the last minute, beside what the bath could do to it."""
    now = (sight.now_s, sight.bath_c, sight.bowl_c, sight.asked_s)
    since_s = sight.now_s - th.LOOK_BACK_S - 0.5 * th.LOOK_EVERY_S
    looks = (*(look for look in seen.looks if look[0] >= since_s), now)
    if not _is_quiet(seen, sight):
        return replace(
            seen, looks=looks, moved_k=0.0, crossed_k=0.0, fell_from_c=math.nan, fell_k=0.0
        )
    bowl_c = sight.bowl_c
    moved_k = bowl_c - looks[0][2]
    baths = [look[1] for look in looks]
    alone = (
        bowl_c < min(baths) - _BESIDE_K if moved_k < 0.0 else bowl_c > max(baths) + th.ROSE_OVER_K
    )
    # A bath that has itself answered the heat is one; and what warms faster than heat can do it is
    # none: warm chocolate has come into the bowl.
    asked_s = sight.asked_s - looks[0][3]
    has_answered = sight.bath_c - looks[0][1] >= th.CROSSED_K
    is_poured = moved_k > th.CROSSED_MOST * sight.full_k_per_s * asked_s
    is_cold = asked_s < th.CROSSED_HEAT_S or moved_k < th.CROSSED_K
    is_turned = sight.is_chocolate and sight.stirring_s > 0.0  # in water it turns from the start
    moved_k = moved_k if alone else 0.0
    fell_from_c = seen.fell_from_c
    if -moved_k > th.FELL_K and math.isnan(fell_from_c):
        fell_from_c = looks[0][2]
    if bowl_c > min(
        fell_from_c - th.FELL_BACK_K, sight.bath_c
    ):  # back again, or the bath is colder
        fell_from_c = math.nan
    return replace(
        seen,
        looks=looks,
        crossed_k=0.0
        if is_cold or has_answered or is_poured or is_turned
        else max(0.0, bowl_c - max(baths)),
        moved_k=moved_k if sight.stirring_s >= th.STIRRED_S else 0.0,
        fell_from_c=fell_from_c,
        fell_k=0.0 if math.isnan(fell_from_c) else fell_from_c - bowl_c,
    )


def _stands(seen: Consistency, sight: Sight) -> Consistency:
    """Since when bath and bowl have stood where they are."""
    still = seen.still
    is_still = (
        still is not None
        and abs(sight.bath_c - still.bath_c) <= th.STILL_BATH_K
        and abs(sight.bowl_c - still.bowl_c) <= th.STILL_BOWL_K
    )
    if is_still:
        return seen
    return replace(seen, still=Still(sight.now_s, sight.bath_c, sight.bowl_c))


def _loads(seen: Consistency, sight: Sight) -> Consistency:
    """The stirrer's load beside what it was two looks before, at the same speed."""
    load, rpm = sight.load, sight.told_rpm
    stirs = rpm > 0.0 and sight.stirring_s >= th.STIRRED_S
    if load is None or load.quality is not _GOOD or not stirs:
        return replace(seen, loads=(), told_rpm=rpm, load_share=1.0)
    if (
        not sight.shaft_turns
    ):  # a motor that turns round stands for a moment: what was before counts
        kept = seen.loads if rpm == seen.told_rpm else ()
        return replace(seen, loads=kept, told_rpm=rpm, load_share=1.0)
    before = seen.loads if rpm == seen.told_rpm else ()
    loads = (*before, load.value)[-_LOADS:]
    ratio = 1.0
    if sight.is_chocolate and load.value < th.LOAD_LEAST_W:
        ratio = 0.0
    elif len(loads) == _LOADS:
        ratio = max(load.value, th.LOAD_LEAST_W) / max(loads[0], th.LOAD_LEAST_W)
    if ratio > 1.0 and not _is_quiet(seen, sight):
        ratio = 1.0
    return replace(seen, loads=loads, told_rpm=rpm, load_share=ratio)


def _learns(seen: Consistency, sight: Sight, belief: Belief | None) -> Consistency:
    """The machine as it seems to be now, beside what it has been of late."""
    if belief is None or not _is_known(belief, sight) or not _is_quiet(seen, sight):
        return replace(seen, unlike_k=0.0, demand_share=1.0)
    mean, learned = belief.mean, seen.learned
    rate_per_s = math.exp(mean[LN_K] + mean[LN_R])
    loss_sd = math.sqrt(belief.spread[LOSS][LOSS])
    if learned is None or loss_sd < learned.loss_share_sd > th.LEARNED_LOSS_SD:
        rate = rate_per_s if learned is None else learned.rate_per_s
        learned = Learned(rate, mean[LOSS], loss_sd)
    lead_k, unlike_k = _unlike(seen, sight, belief, learned)
    unsure_k = th.UNLIKE_PER_LEAD * abs(lead_k)
    # By the transfer as learned: what is believed now may follow a thermometer that creeps away.
    transfer_w_per_k = math.exp(mean[LN_K]) * belief.prior.bath_j_per_k
    learned_w_per_k = transfer_w_per_k * learned.rate_per_s / rate_per_s
    unsure_k += th.UNLIKE_W / learned_w_per_k
    certain_k = th.UNLIKE_K + unsure_k
    set_j = seen.set_j if _may_set(sight) and not sight.in_first_phase else 0.0
    if _may_set(sight) and unlike_k < -certain_k:
        w_per_k = (learned_w_per_k, transfer_w_per_k)
        set_j += _given_w(sight, -unlike_k, certain_k, w_per_k) * th.LOOK_EVERY_S
    may_set = _may_set(sight) and set_j <= th.SETS_J_PER_KG * belief.prior.batch_kg
    more = mean[LOSS] - learned.loss_share
    is_sure = abs(more) > _SURE_SD * loss_sd
    share = th.LOOK_EVERY_S / th.LEARNING_S
    is_like = abs(unlike_k) < _LIKE_SHARE * certain_k
    return replace(
        seen,
        unlike_k=unlike_k,
        unlike_most_k=certain_k,
        unlike_least_k=-(th.UNLIKE_COLD_K if may_set else th.UNLIKE_K) - unsure_k,
        set_j=set_j,
        demand_share=mean[LOSS] / learned.loss_share if is_sure and is_like else 1.0,
        amount_share=_amount_share(seen, sight, belief),
        learned=Learned(
            learned.rate_per_s + (share * (rate_per_s - learned.rate_per_s) if is_like else 0.0),
            learned.loss_share + share * more,
            learned.loss_share_sd,
        ),
    )


def _unlike(
    seen: Consistency, sight: Sight, belief: Belief, learned: Learned
) -> tuple[float, float]:
    """The bath's lead, and how much of it the machine as learned does not explain.

    In the first phase, and while a bowl moves on its way, it is learned and not judged.
    """
    mean = belief.mean
    if not (sight.in_first_phase or sight.is_there):
        unlike_k = _unlike_still_k(seen, sight, belief.prior, learned)
        return sight.bath_c - sight.bowl_c, unlike_k
    lead_k = mean[BATH] + mean[APART] - mean[BOWL]
    believed_k_per_s = math.exp(mean[LN_K] + mean[LN_R]) * lead_k + mean[DRIFT]
    return lead_k, 0.0 if sight.in_first_phase else lead_k - believed_k_per_s / learned.rate_per_s


def _unlike_still_k(seen: Consistency, sight: Sight, prior: Prior, learned: Learned) -> float:
    """What is unlike of a bowl that stands still on its way; 0 while it moves.

    By the thermometers alone: what is believed may follow one that creeps away, and a bowl that it
    keeps from its target would never be judged.
    """
    still = seen.still
    span_s = 0.0 if still is None else sight.now_s - still.since_s
    if still is None or span_s < th.STOOD_STILL_S:
        return 0.0
    k_per_s = (sight.bowl_c - still.bowl_c) / span_s + bowl_loss_k_per_s(prior, sight.bowl_c)
    return sight.bath_c - sight.bowl_c - k_per_s / learned.rate_per_s


def _is_known(belief: Belief, sight: Sight) -> bool:
    """Whether the belief knows a stirred bowl, and well enough how fast it follows its bath."""
    spread = belief.spread
    variance = spread[LN_K][LN_K] + spread[LN_R][LN_R] + 2.0 * spread[LN_K][LN_R]
    return (
        belief.has_melted
        and belief.mixing_s <= 0.0
        and belief.blind_s <= 0.0
        and variance <= th.LEARNED_TRANSFER_SD**2
        and sight.stirring_s >= th.STIRRED_S
    )


def _may_set(sight: Sight) -> bool:
    """Whether what is in the bowl may give heat off by itself."""
    return sight.is_chocolate and sight.bowl_c < th.SETS_BELOW_C


def _given_w(
    sight: Sight, warmer_k: float, certain_k: float, w_per_k: tuple[float, float]
) -> float:
    """Heat, W, that only chocolate which sets could give to a bath so much colder than its bowl.

    Of a batch that is held and was told to set, only what nothing else explains: it is thick, so
    that the stirrer's work warms it, and by the transfer as believed where that has become less
    than learned.
    """
    learned_w_per_k, believed_w_per_k = w_per_k
    if not (sight.is_thick and sight.is_there):  # on its way a thermometer that creeps is judged
        return learned_w_per_k * warmer_k
    load = sight.load
    stirs_w = th.STIRS_W if load is None or load.quality is not _GOOD else load.value
    least_w_per_k = min(learned_w_per_k, believed_w_per_k)
    return max(least_w_per_k * (warmer_k - certain_k) - stirs_w, 0.0)


def _amount_share(seen: Consistency, sight: Sight, belief: Belief) -> float:
    """How far the batch is from the machine file's, learned while nobody has added anything."""
    is_known = belief.spread[LN_R][LN_R] < _LEARNED_SD**2
    if not (is_known and sight.in_first_phase and seen.disturbed_s < 0.0):
        return seen.amount_share
    return math.exp(belief.prior.mean[LN_R - LN_K] - belief.mean[LN_R])
