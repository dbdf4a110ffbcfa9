"""The possible batches that the estimate of temper follows, and its memory.

Responsible for which possible batches there are and for the shapes; not for how they are followed
(temper).
"""

import math
from statistics import NormalDist

from msgspec import Struct

from controller.core.crystallising import LUMP_SOLID, Crystals, Trait
from controller.core.load_evidence import Melt
from controller.core.profile import Question, Verdict
from controller.core.seeding import SeedCheck
from controller.core.tempering import Temper, Unseen

COUNT = 20  # own engineering values: how many, and how far batches differ (standard deviations)
SOFTER_SD_K = 0.5  # fats, and what is left of a thermometer's error
GROWTH_SD_LN = 0.35
BIRTHS_SD_LN = 0.7
CHOPPED_SD_LN = 0.6
# A tempered milk chocolate takes 3.0 ± 1 times its untempered viscosity (J. Rheol. 62:1187
# (2018)), which with 2 to 4 % of its fat solid is 27 to 55 in the exponent; the rest is our own.
THICKENS, THICKENS_SD_LN = 30.0, 0.2
QUIET_W = 1.2  # heat into the bowl that is no crystals', at most stirring's; own engineering value


def _traits() -> tuple[Trait, ...]:
    """Batches spread evenly over all in which they differ: an additive recurrence, no chance."""
    normal, sides = NormalDist(), 6
    ratio = 2.0
    for _ in range(40):  # the root of x^(sides + 1) = x + 1, for the recurrence
        ratio = (1.0 + ratio) ** (1.0 / (sides + 1))
    found = []
    for one in range(COUNT):
        softer, growth, births, chopped, thickens, off = (
            normal.inv_cdf((0.5 + (one + 1) * ratio ** -(side + 1)) % 1.0) for side in range(sides)
        )
        found.append(
            Trait(
                softer_k=SOFTER_SD_K * softer,
                growth=math.exp(GROWTH_SD_LN * growth),
                births=math.exp(BIRTHS_SD_LN * births),
                chopped=math.exp(CHOPPED_SD_LN * chopped),
                thickens=THICKENS * math.exp(THICKENS_SD_LN * thickens),
                off=off,
            )
        )
    return tuple(found)


TRAITS = _traits()
EVEN = (1.0 / COUNT,) * COUNT
SOLID: Crystals = (LUMP_SOLID, 0.0, 1.0, 0.0, 0.0)  # a batch as it comes from the shelf
NO_SPREAD = (math.nan, math.nan, math.nan)


class TemperState(Struct, frozen=True, kw_only=True):
    """Memory of the estimate of temper, and what it says; fractions are of the fat."""

    verdict: Temper = Temper.NONE
    confidence: float = 0.0  # how likely the verdict is, 0 to 1; 0 where nothing is claimed
    why: str = ""
    form_v: tuple[float, float, float] = NO_SPREAD  # a tenth, half, nine tenths
    unstable: float = math.nan
    bank: tuple[Crystals, ...] = (SOLID,) * COUNT
    weights: tuple[float, ...] = EVEN
    melt: Melt = Melt()
    unseen: Unseen = Unseen.NOTHING
    due_s: float = -math.inf  # run time at which to look again
    at_s: float = 0.0  # run time of the last look
    dark_c: float = math.nan  # the bowl then, on dark chocolate's scale
    in_bowl: float = math.nan  # of the whole batch, then
    solid: float = 0.0
    blind_s: float = 0.0  # without a bowl's temperature since the batch was last melted
    excess: float = math.nan  # of the load, as last seen
    test: Verdict = Verdict.NONE  # the set test as last heeded
    tested_s: float = -math.inf  # run time of that; none once the batch was melted again
    tested_v: float = math.nan  # form V that was believed in then
    ask: Question | None = None  # that was open then
    seed: SeedCheck | None = None  # a portion that is being weighed
    unseeded: tuple[tuple[Crystals, ...], Melt] | None = None  # bank and melt before it
    came: float = 1.0  # how likely any seed of all that was announced is in; 1: none was
    doubts_seed: bool = False  # the last portion was announced, and it seems that it never came
    seeded_s: float = -math.inf  # run time at which it was
    keeps_s: tuple[float, float, float] = NO_SPREAD  # until over-tempered: early, likely, late
    keeps_at_s: float = -math.inf  # run time from which that counts
    warmed_k: float = 0.0  # so much warmer than its target is it held, for it thickens
    warmed_at_s: float = -math.inf  # run time of the last step
    by_load: bool = False  # whether the load has had its say


UNJUDGED = TemperState()
