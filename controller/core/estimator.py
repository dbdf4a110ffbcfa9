"""The estimator: an extended Kalman filter of the machine, from its two probes and its relay.

Responsible for learning from readings; not for the picture itself (thermal), deeds (hands), the
public estimate (sizing) or what is done with it. The mean moves with each tick, the
covariance every few seconds, which is the dear half. The melt is the experiment: no step test.
"""

import math
from collections.abc import Sequence

from controller.core.chocolate import solid_share
from controller.core.estimate import Belief, Row
from controller.core.records import replace
from controller.core.thermal import (
    APART,
    BATH,
    BATH_LAG_S,
    BATH_P,
    BOWL,
    BOWL_P,
    DRIFT,
    DRIFT_W,
    LN_B,
    LN_K,
    LN_R,
    SD,
    SIZE,
    STILL_SHARE,
    advance,
    begin,
    clamped,
    loss_k_per_s,
)

CORRECT_EVERY_S = 5.0
# Own engineering values, not published. How fast each number may change, variance per second.
WANDER: Row = (1e-6, 3e-6, 3e-6, 1e-7, 1e-7, 4e-7, 1e-8, 1e-8, 1e-9, 1e-9, 4e-6, 0.0, 0.0, 1e-6)
DRIFT_W2_PER_S = 0.003
GROWS_PER_S = 3e-4  # relative: the more crystals there are, the faster they grow and warm
GROWN_OFF = 0.4  # of it may be wrong, and no more: else, in days, it would wander off
GROWN_MAX_W = 20.0
GROWS_UNDER_K = 1.0  # a bath that leads by more is warming the bowl, and drowns what they give
MELTING_WANDERS = 160.0  # so many times faster while a good share is solid
SEEDED_WANDERS = 40.0  # the same of seed that stays set, of which little melts
MELTING_SHARE = 0.05
STIRRED_IN_S = 60.0  # until what stood at the wall is as warm as the rest
MIXING_K2_PER_S = 4e-4  # how fast a bowl may change while what was added mixes in
MELTED_BELOW = 0.02  # still solid: little enough to begin to learn the bowl's size
MELTED_FROM_C = 40.0
READING_K = 0.03  # noise and step of one reading
FLOOR_K = 0.008  # what no average of readings takes away
# The bowl's probe stands nearer to the wall than all of the bowl: by so much of the bath's lead.
WALL_SEEN = 0.006
WALL_SEEN_STILL = 0.1
SURPRISE_SD = 5.0  # further off than chance: something happened in the pot
OFF_MAX_K = 120.0  # more would only cost digits
SHARED = 0.5  # how much of a surprise is the body's rather than its probe's
SOLID_ENDS = 1e-4  # less is none
LOCKED = (LN_R, LN_B, APART)  # not learned before the chocolate has melted
LOCKED_FALLING = (LN_R, DRIFT, LN_B)  # nor while it falls: walls and films come between
FALLS_FROM_K = 4.0
KEEP_MAX = 0.8  # of a difference may go in one span


Word = tuple[float, float]  # off by so many K, with this variance
Heard = tuple[list[float], list[float], float]  # column, gains, off by so many K
BOTH = 2


def follow(belief: Belief, bath_c: float, bowl_c: float, *, was_on: bool, dt_s: float) -> Belief:
    """One tick: move the mean, gather what the probes said beyond it, correct when it is time.

    Readings are °C, or NaN where there is none.
    """
    on = 1.0 if was_on else 0.0
    mean, wall_c, solid, element_s, lead_k_s = advance(belief, on=on, dt_s=dt_s)
    has_bath, has_bowl = math.isfinite(bath_c), math.isfinite(bowl_c)
    belief = Belief(
        prior=belief.prior,
        mean=mean,
        spread=belief.spread,
        wall_c=wall_c,
        solid=solid,
        in_bowl=belief.in_bowl,
        is_stirred=belief.is_stirred,
        other_transfer=belief.other_transfer,
        stirred_drift=belief.stirred_drift,
        still_s=0.0 if belief.is_stirred else belief.still_s + dt_s,
        has_melted=belief.has_melted,
        mixing_s=belief.mixing_s - dt_s if belief.mixing_s > dt_s else 0.0,
        since_s=belief.since_s + dt_s,
        element_s=element_s,
        lead_k_s=lead_k_s,
        bath_off_k=belief.bath_off_k + (bath_c - mean[BATH_P] if has_bath else 0.0),
        bath_count=belief.bath_count + has_bath,
        bowl_off_k=belief.bowl_off_k + (bowl_c - mean[BOWL_P] if has_bowl else 0.0),
        bowl_count=belief.bowl_count + has_bowl,
        blind_s=0.0 if has_bath and has_bowl else belief.blind_s + dt_s,
    )
    if belief.since_s < CORRECT_EVERY_S:
        return belief
    corrected = _corrected(belief, on)
    return corrected if _is_sound(corrected) else _anew(belief)


def _flow(belief: Belief, on: float) -> Row:
    """How the span since the last correction carried uncertainty from number to number."""
    prior, span_s = belief.prior, belief.since_s
    q, bath, bowl, _, bowl_p, ln_k, ln_p, ln_r, ln_h, ln_b, _, _, near, _ = belief.mean
    k, p = math.exp(ln_k), math.exp(ln_p)
    kr = k * math.exp(ln_r)
    thinned = 1.0
    if belief.solid > 0.0:  # heat that melts warms nothing
        thinned = 1.0 / (1.0 - prior.content.latent_k * solid_share(prior.content, bowl)[1])
    lag_s, lag_b_s = math.exp(ln_h), math.exp(ln_b)
    left_q, left_bowl = math.exp(-span_s / lag_s), math.exp(-span_s / lag_b_s)
    left_bath = math.exp(-span_s / BATH_LAG_S)
    k_s, kr_s = min(KEEP_MAX, k * span_s), min(KEEP_MAX, kr * span_s * thinned)
    turn_q = (q - on) * span_s / lag_s
    in_bath = 1.0 - left_bath
    return (
        left_q,
        turn_q,
        p * lag_s * (1.0 - left_q),
        k_s,
        k * belief.lead_k_s,
        p * belief.element_s,
        0.5 * p * turn_q * span_s,
        loss_k_per_s(prior, bath) * span_s,
        kr_s,
        kr * thinned * belief.lead_k_s,
        span_s * thinned,
        left_bath,
        in_bath * near,
        in_bath * q,
        left_bowl,
        (bowl_p - bowl) * left_bowl * span_s / lag_b_s,
    )


def _carried(rows: Sequence[Sequence[float]], flow: Row) -> list[list[float]]:
    """The five rows of what moves by itself, after the flow; all others stay as they are."""
    left_q, turn_q, q_in, k_s, lead_k, in_p, half_q, loss_s = flow[:8]
    kr_s, bowl_k, drift_s, left_bath, near_q, seen_q, left_bowl, turn_b = flow[8:]
    keep_bath, keep_bowl, in_bath, in_bowl = 1.0 - k_s, 1.0 - kr_s, 1.0 - left_bath, 1.0 - left_bowl
    r0, r1, r2, r3, r4, r5, r6, r7, r8, r9, r10, r11, r12, r13 = rows
    return [
        [left_q * a + turn_q * b for a, b in zip(r0, r8, strict=True)],
        [
            q_in * a
            + keep_bath * b
            + k_s * (c - h)
            - lead_k * d
            + in_p * e
            + half_q * f
            - loss_s * g
            for a, b, c, d, e, f, g, h in zip(r0, r1, r2, r5, r6, r8, r10, r13, strict=True)
        ],
        [
            kr_s * (a + f) + keep_bowl * b + bowl_k * (c + d) + drift_s * e
            for a, b, c, d, e, f in zip(r1, r2, r5, r7, r11, r13, strict=True)
        ],
        [
            in_bath * a + left_bath * b + near_q * c + seen_q * d
            for a, b, c, d in zip(r1, r3, r0, r12, strict=True)
        ],
        [in_bowl * a + left_bowl * b + turn_b * c for a, b, c in zip(r2, r4, r9, strict=True)],
    ]


def _moved(belief: Belief, on: float) -> list[list[float]]:
    """The covariance after the span since the last correction."""
    spread, span_s = belief.spread, belief.since_s
    flow = _flow(belief, on)
    rows = _carried(spread, flow)
    columns = tuple(zip(*rows, strict=True))
    heads = _carried(columns, flow)
    moved = [head + row[LN_K:] for head, row in zip(heads, rows, strict=True)]
    moved += [
        [*column, *row[LN_K:]] for column, row in zip(columns[LN_K:], spread[LN_K:], strict=True)
    ]
    for index, rate in enumerate(WANDER):
        moved[index][index] += rate * span_s
    wander = DRIFT_W2_PER_S / belief.prior.bowl_j_per_k**2
    if belief.solid > 0.0:
        times = SEEDED_WANDERS if belief.has_melted else MELTING_WANDERS
        wander *= 1.0 + times * min(1.0, belief.solid / MELTING_SHARE)
    elif belief.mean[BATH] - belief.mean[BOWL] < GROWS_UNDER_K:
        grown = min(max(belief.mean[DRIFT], 0.0), GROWN_MAX_W / belief.prior.bowl_j_per_k)
        if spread[DRIFT][DRIFT] < GROWN_OFF * GROWN_OFF * grown * grown:
            wander += GROWS_PER_S * grown * grown
    if belief.mixing_s > 0.0:  # what cools the bowl now will not go on to
        moved[BOWL][BOWL] += MIXING_K2_PER_S * span_s
    else:
        moved[DRIFT][DRIFT] += wander * span_s
    return moved


def _heard(
    spread: list[list[float]], words: tuple[Word | None, Word | None]
) -> tuple[list[list[float]], list[Heard]]:
    """What each probe that spoke has to teach; the second one's after the first one's.

    Also the covariance before it is taken in: wider where a probe says what is no chance.
    """
    heard: list[Heard] = []
    for index, word in zip((BATH_P, BOWL_P), words, strict=True):
        if word is None:
            continue
        off_k, noise_k2 = word
        column = list(spread[index])
        for before, gains, said_k in heard:
            off_k -= gains[index] * said_k
            column = [
                value - gains[index] * other for value, other in zip(column, before, strict=True)
            ]
        off_k = min(max(off_k, -OFF_MAX_K), OFF_MAX_K)
        total = column[index] + noise_k2
        if off_k * off_k > SURPRISE_SD * SURPRISE_SD * total:
            spread = _startled(spread, index, off_k * off_k)
            column[BATH if index == BATH_P else BOWL] += SHARED * off_k * off_k
            column[index] += off_k * off_k
            total += off_k * off_k
        heard.append((column, [value / total for value in column], off_k))
    return spread, heard


def _taken_in(spread: list[list[float]], heard: list[Heard]) -> list[list[float]]:
    """The covariance once both probes, one, or none have been heard."""
    if len(heard) == BOTH:
        (bath, by_bath, _), (bowl, by_bowl, _) = heard
        return [
            [value - gain * a - other * b for value, a, b in zip(row, bath, bowl, strict=True)]
            for row, gain, other in zip(spread, by_bath, by_bowl, strict=True)
        ]
    for column, gains, _ in heard:
        return [
            [value - gain * a for value, a in zip(row, column, strict=True)]
            for row, gain in zip(spread, gains, strict=True)
        ]
    return spread


def _startled(spread: list[list[float]], index: int, jump_k2: float) -> list[list[float]]:
    """The body around a probe may have changed by as much as the probe shows."""
    body = BATH if index == BATH_P else BOWL
    spread = [list(row) for row in spread]
    spread[body][body] += jump_k2
    spread[index][index] += jump_k2
    spread[body][index] += SHARED * jump_k2
    spread[index][body] += SHARED * jump_k2
    return spread


def _words(belief: Belief) -> tuple[Word | None, Word | None]:
    """What bath's and bowl's probe said beyond the belief in the mean, and its variance."""
    bath: Word | None = None
    bowl: Word | None = None
    if belief.bath_count:
        noise_k2 = FLOOR_K**2 + READING_K**2 / belief.bath_count
        bath = (belief.bath_off_k / belief.bath_count, noise_k2)
    if belief.bowl_count:
        seen_k = WALL_SEEN if belief.is_stirred else WALL_SEEN_STILL
        seen_k *= belief.mean[BATH] - belief.mean[BOWL]
        noise_k2 = FLOOR_K**2 + READING_K**2 / belief.bowl_count + seen_k * seen_k
        bowl = (belief.bowl_off_k / belief.bowl_count, noise_k2)
    return bath, bowl


def _locked(belief: Belief) -> tuple[int, ...]:
    """What is not to be learned now."""
    if not belief.has_melted or belief.is_pausing:
        return LOCKED
    unsure = (2.0 * DRIFT_W / belief.prior.bowl_j_per_k) ** 2
    is_known = belief.solid <= 0.0 and belief.spread[DRIFT][DRIFT] <= unsure
    if is_known and belief.mean[BOWL] - belief.mean[BATH] > FALLS_FROM_K:
        return LOCKED_FALLING
    return ()


def _corrected(belief: Belief, on: float) -> Belief:
    """Move the covariance up to now, and take in what the probes said since the last time."""
    prior, has_melted = belief.prior, belief.has_melted
    before = belief.mean
    spread, heard = _heard(_moved(belief, on), _words(belief))
    mean, wide = list(before), spread
    spread = _taken_in(spread, heard)
    for _, gains, off_k in heard:
        mean = [value + gain * off_k for value, gain in zip(mean, gains, strict=True)]
    # Schmidt's way: what is not learned now stays as it is, and as uncertain.
    for one in (locked := _locked(belief)):
        mean[one] = before[one]
        for other in locked:
            spread[one][other] = wide[one][other]
    melts_now = (
        not has_melted
        and belief.solid < MELTED_BELOW
        and mean[BOWL] + prior.content.softer_k > MELTED_FROM_C
    )
    if melts_now:  # what was in no model was melting's
        mean[DRIFT] = 0.0
        spread = _forgotten(spread, DRIFT, (2.0 * DRIFT_W / prior.bowl_j_per_k) ** 2)
    return Belief(
        prior=prior,
        mean=clamped(mean, prior),
        spread=tuple(map(tuple, spread)),
        wall_c=belief.wall_c + mean[BATH] - before[BATH],
        solid=belief.solid if belief.solid > SOLID_ENDS else 0.0,
        in_bowl=belief.in_bowl,
        is_stirred=belief.is_stirred,
        other_transfer=belief.other_transfer,
        stirred_drift=belief.stirred_drift,
        still_s=belief.still_s,
        has_melted=has_melted or melts_now,
        mixing_s=belief.mixing_s,
        blind_s=belief.blind_s,
    )


def _is_sound(belief: Belief) -> bool:
    """Whether all of it is finite and no variance has gone below nothing."""
    spread = belief.spread
    diagonal = [spread[index][index] for index in range(SIZE)]
    return min(diagonal) > 0.0 and math.isfinite(sum(map(sum, spread)) + sum(belief.mean))


def _anew(belief: Belief) -> Belief:
    """From the beginning, where the probes were last thought to be."""
    return replace(
        begin(
            belief.prior,
            belief.mean[BATH_P],
            belief.mean[BOWL_P],
            in_bowl=belief.in_bowl,
            has_melted=belief.has_melted,
        ),
        is_stirred=belief.is_stirred,
        still_s=belief.still_s,
        blind_s=belief.blind_s,
    )


# What happens in the pot


def _forgotten(spread: Sequence[Sequence[float]], index: int, variance: float) -> list[list[float]]:
    """One number is as uncertain as that, and has nothing to do with the others."""
    rows = [list(row) for row in spread]
    for other in range(SIZE):
        rows[index][other] = rows[other][index] = 0.0
    rows[index][index] = variance
    return rows


def stir(belief: Belief, *, is_stirred: bool) -> Belief:
    """Follow the stirrer: moving and standing chocolate have a transfer each."""
    if is_stirred is belief.is_stirred:
        return belief
    now = (belief.mean[LN_K], belief.spread[LN_K][LN_K])
    ln_k, variance = belief.other_transfer
    if not is_stirred and variance >= SD[LN_K] ** 2:  # never seen standing
        ln_k = now[0] + math.log(STILL_SHARE)
    mean = list(belief.mean)
    mean[LN_K] = ln_k
    spread = _forgotten(belief.spread, LN_K, variance)
    stirred_drift, mixing_s = belief.stirred_drift, belief.mixing_s
    if is_stirred and belief.is_pausing:
        mixing_s = max(mixing_s, STIRRED_IN_S)
    if belief.has_melted:  # before, what is in no model is melting's
        drift, drift_variance = mean[DRIFT], spread[DRIFT][DRIFT]
        if is_stirred:
            mean[DRIFT], drift_variance = stirred_drift
        else:  # the stirrer's own heat ends; how much of it there was, nobody knows
            stirred_drift = (drift, drift_variance)
            drift_variance += drift * drift
        spread = _forgotten(spread, DRIFT, drift_variance)
    return replace(
        belief,
        is_stirred=is_stirred,
        other_transfer=now,
        stirred_drift=stirred_drift,
        mixing_s=mixing_s,
        mean=clamped(mean, belief.prior),
        spread=tuple(map(tuple, spread)),
    )
