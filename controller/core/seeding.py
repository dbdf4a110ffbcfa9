"""Whether seed that somebody said is in is in: cold pieces cool the bowl and load the stirrer.

Responsible for how likely that is, by what the bowl and the stirrer's load should have done with it
and without it; not for crystals (temper). A portion too small to be seen is believed as far as the
last one was.
"""

import math

from msgspec import Struct

from controller.core.estimate import Belief
from controller.core.records import replace
from controller.core.thermal import APART, DRIFT, LN_B, LN_K, LN_R, bowl_loss_k_per_s

# Own engineering values, not published.
WAIT_S = 90.0  # until the bowl and its thermometer have come down
SEEN_FROM_K = 0.5  # a smaller fall is lost in what else happens
COLD_C = 33.0  # on dark chocolate's scale: pieces stay solid there, and thicken it
THICKENS_LN = 10.0  # the load's logarithm per share of pieces there, a while after they came
PIECES_S = 30.0  # until two thirds of the pieces have taken their heat
FALL_UNSURE = 0.3  # of the fall that seed should make
MOVED_UNSURE = 0.1  # at least, of what the bath did to the bowl meanwhile
READING_SD_K = 0.25
FORGOTTEN = 0.15  # of all portions that are said to be in are not, before anything is looked at
MOST_ODDS_LN = 6.0  # no single piece of evidence says more
STEP_S = 5.0
DOUBTED_BELOW = 0.5


class Course(Struct, frozen=True):
    """The bowl and its thermometer as they should go on, °C."""

    bowl_c: float
    probe_c: float


class SeedCheck(Struct, frozen=True, kw_only=True):
    """A portion of seed that was asked for or announced, and is not yet judged."""

    share: float  # of all that will be in the bowl
    fall_k: float  # by how much it should cool the bowl
    from_c: float  # the bowl before
    rate_per_s: float  # at which the bowl follows its bath, without the seed
    rate_unsure_share: float  # of its logarithm
    lag_s: float  # of the bowl's thermometer
    heat_k_per_s: float  # that is in no model, losses taken off
    wall_c: float  # the bath as the bowl feels it, at the last look
    bare: Course  # if none came in
    seeded: Course  # if it did
    said_s: float = math.inf  # run time at which somebody said that it is in
    seen: tuple[float, float] = (0.0, 0.0)  # the look that tells most: how much, and its odds
    is_cold: bool  # whether pieces stay solid
    excess: float = 0.0  # the load's logarithm over the melt's, before
    thicker: tuple[float, float] = (-math.inf, math.inf)  # most of that since without the seed,
    # and its standard deviation

    @property
    def is_said(self) -> bool:
        """Whether somebody has said that it is in."""
        return math.isfinite(self.said_s)


def awaited(
    belief: Belief, share: float, bowl_c: float, *, is_in: bool, excess: float = math.nan
) -> SeedCheck | None:
    """A portion that is asked for: a share of the whole batch; None where it would not be seen.

    What should happen counts from the question on, for a cook answers after the deed. `bowl_c` is
    the bowl; `is_in` says that the belief has this portion already; `excess` is the logarithm of
    the load over the melt's, NaN where nobody knows or nothing is solid.
    """
    before = belief.in_bowl - share if is_in else belief.in_bowl
    part = share / (before + share)
    prior, mean = belief.prior, belief.mean
    fall_k = part * (bowl_c - prior.room_c + prior.content.latent_k)
    if not fall_k >= SEEN_FROM_K:
        return None
    rate_per_s = math.exp(mean[LN_K] + mean[LN_R]) / (1.0 - part if is_in else 1.0)
    variance = belief.spread[LN_K][LN_K] + belief.spread[LN_R][LN_R]
    now = Course(bowl_c, bowl_c)
    return SeedCheck(
        share=part,
        fall_k=fall_k,
        from_c=bowl_c,
        rate_per_s=rate_per_s,
        rate_unsure_share=max(MOVED_UNSURE, math.sqrt(variance)),
        lag_s=math.exp(mean[LN_B]),
        heat_k_per_s=mean[DRIFT] - bowl_loss_k_per_s(prior, bowl_c),
        wall_c=belief.wall_c + mean[APART],
        bare=now,
        seeded=now,
        is_cold=bowl_c + prior.content.softer_k < COLD_C,
        excess=0.0 if math.isnan(excess) else excess,
    )


def watched(
    check: SeedCheck, belief: Belief, probe_c: float, run_s: float, span_s: float
) -> SeedCheck:
    """The portion after a span, at the end of which the bowl's thermometer said `probe_c`."""
    wall_c = belief.wall_c + belief.mean[APART]
    if not span_s > 0.0:
        return replace(check, wall_c=wall_c)
    steps = math.ceil(span_s / STEP_S)
    bare, seeded = check.bare, check.seeded
    for step in range(steps):
        around_c = check.wall_c + (step + 0.5) / steps * (wall_c - check.wall_c)
        ago_s = run_s - check.said_s - span_s * (1.0 - step / steps)
        bare = _stepped(check, bare, around_c, span_s / steps)
        seeded = _stepped(check, seeded, around_c, span_s / steps, since_s=ago_s)
    seen = check.seen
    if check.is_said and math.isfinite(probe_c):
        found = _odds(check, bare, seeded, probe_c)
        seen = max(seen, found, key=lambda one: one[0])
    return replace(check, wall_c=wall_c, bare=bare, seeded=seeded, seen=seen)


def _stepped(
    check: SeedCheck, course: Course, around_c: float, dt_s: float, *, since_s: float = math.nan
) -> Course:
    """A course after a step. `since_s` is how long the seed has been in; NaN: there is none."""
    bowl_c, probe_c = course.bowl_c, course.probe_c
    rate_per_s, heat_k_per_s = check.rate_per_s, check.heat_k_per_s
    if since_s + dt_s > 0.0:
        rate_per_s *= 1.0 - check.share
        heat_k_per_s *= 1.0 - check.share
        since_s = max(0.0, since_s)
        bowl_c -= check.fall_k * (
            math.exp(-since_s / PIECES_S) - math.exp(-(since_s + dt_s) / PIECES_S)
        )
    bowl_c += (around_c - bowl_c) * -math.expm1(-rate_per_s * dt_s) + heat_k_per_s * dt_s
    probe_c += (bowl_c - probe_c) * -math.expm1(-dt_s / check.lag_s)
    return Course(bowl_c, probe_c)


def _odds(check: SeedCheck, bare: Course, seeded: Course, probe_c: float) -> tuple[float, float]:
    """How well both courses can be told apart now, and the logarithm of the odds for seed."""
    apart_k = bare.probe_c - seeded.probe_c
    moved_k = check.rate_unsure_share * (check.from_c - bare.probe_c)
    without = READING_SD_K**2 + moved_k * moved_k
    with_seed = without + (FALL_UNSURE * apart_k) ** 2
    off_k = bare.probe_c - probe_c
    odds_ln = 0.5 * (
        off_k * off_k / without - (off_k - apart_k) ** 2 / with_seed - math.log(with_seed / without)
    )
    return apart_k / math.sqrt(with_seed), odds_ln


def heard(check: SeedCheck, over: float, sd: float) -> SeedCheck:
    """The portion after a reading of the load: over the melt's without it, as a logarithm."""
    return replace(check, thicker=(over, sd)) if over > check.thicker[0] else check


def likely(check: SeedCheck) -> float:
    """How likely it is in, 0 to 1: by the bowl's fall, and by more that turns and is stiffer."""
    odds_ln = math.log((1.0 - FORGOTTEN) / FORGOTTEN) + _bounded(check.seen[1])
    most, sd = check.thicker
    over = most - check.excess
    if math.isfinite(over):
        should = -math.log1p(-check.share)
        if check.is_cold:
            should += THICKENS_LN * check.share
        short = min(0.0, over - should)  # more is pieces that are not melted yet
        odds_ln += _bounded(0.5 * (max(0.0, over) ** 2 - short * short) / (sd * sd))
    return 1.0 / (1.0 + math.exp(-odds_ln))


def any_came(before: float, now: float, had: float) -> float:
    """How likely any of the seed is in, by that of all before, and of the last portion.

    `had` is how likely the batch had been in temper before, when it does not matter.
    """
    return max(had, 1.0 - (1.0 - before) * (1.0 - now))


def _bounded(odds_ln: float) -> float:
    return min(max(odds_ln, -MOST_ODDS_LN), MOST_ODDS_LN)
