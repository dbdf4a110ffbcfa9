"""What is called in temper, and the words for it.

Responsible for the chances of verdicts, their limits and the sentence why; not for following
crystals (temper), nor for how sure a chance is called (claims).
"""

import math
from bisect import bisect_left
from collections.abc import Sequence
from enum import StrEnum
from itertools import accumulate

from controller.core.crystallising import Crystals
from controller.core.profile import Profile
from controller.core.seeding import DOUBTED_BELOW

# The literature spans 0.5 to 4 % of the fat (from memory, not checked); a share of unstable forms
# that shows is an own engineering value, not published.
LEAST_V, MOST_V = 0.005, 0.04
MOST_UNSTABLE = 0.002
EDGE_LN = 0.25  # own engineering values: how blurred the limits are, in logarithms
EDGE_ALONE_LN = 1.1  # the same by temperatures alone: batches differ more than the bank does
EDGE_TESTED_LN = 0.4  # the same once a set test was clean
EDGE_UNSTABLE_LN = 0.35
NOTHING = 1e-30  # of a limit; sites die away without end, and a power of so little is no float
BLUR = 1.7  # a logistic so much narrower is nearly the normal distribution
UNSURE = 0.03  # of every verdict: something that nobody thought of
QUANTILES = (0.1, 0.5, 0.9)
NEAR_K = 0.3  # a phase so near to the last one's target works at the same temperature


class Temper(StrEnum):
    """What the crystals are, as far as that can be told."""

    NONE = "none"  # the profile asks for no crystals
    NOT_YET = "not-yet"
    IN_TEMPER = "in-temper"
    UNDER = "under-tempered"
    OVER = "over-tempered"
    MELTED_OUT = "melted-out"
    UNKNOWN = "unknown"


class Unseen(StrEnum):
    """Why nothing can be said."""

    NOTHING = ""
    NO_PROBE = "no-bowl-probe"
    NO_STIRRER = "no-stirrer"
    BLIND = "blind"
    CUT = "cut"
    LOAD = "load"
    TEST = "test"


UNTIL_MELTED = frozenset({Unseen.BLIND, Unseen.CUT, Unseen.LOAD, Unseen.TEST})


_UNSEEN = {
    Unseen.NO_PROBE: "Nothing is claimed of temper without a thermometer in the bowl.",
    Unseen.NO_STIRRER: "Nothing is claimed of temper without a stirrer: still chocolate differs "
    "from place to place.",
    Unseen.BLIND: "The bowl's thermometer gave no value for a while, and what the crystals did "
    "meanwhile is not known; make a set test.",
    Unseen.CUT: "The run was cut off, and what the crystals did meanwhile is not known; make a "
    "set test.",
    Unseen.LOAD: "The stirrer's load jumped as crystals can't make it: look for water in the "
    "chocolate or something in the stirrer's way.",
    Unseen.TEST: "The set test says that it is not in temper, and why is not seen from here.",
}


def has_arrived(profile: Profile, phase: int, *, is_there: bool) -> bool:
    """Whether the batch is, or was, at its working temperature after it was cooled.

    `is_there` says whether it has come to the target of the phase.
    """
    work_c = profile.phases[-1].bowl_target_c
    upto = phase + 1 if is_there else phase
    return phase > 0 and (
        phase == len(profile.phases) - 1
        or any(abs(one.bowl_target_c - work_c) <= NEAR_K for one in profile.phases[1:upto])
    )


def above(value: float, limit: float, width: float) -> float:
    """How surely a value is above a limit, both positive, 0 to 1; the width is of logarithms."""
    if value <= NOTHING * limit:
        return 0.0
    odds: float = (limit / value) ** (BLUR / width)
    return 1.0 / (1.0 + odds)


def chances_of(
    bank: Sequence[Crystals],
    weights: Sequence[float],
    *,
    arrived: bool,
    by_load: bool,
    is_tested: bool = False,
    came: float = 1.0,
) -> dict[Temper, float]:
    """How likely each verdict is; the weights add up to 1.

    `is_tested` says that a clean set test was made lately. `came` is how likely seed that was
    announced is in: the batches have it where it is likelier than not, and where that is wrong
    what seems never to have been in temper was, or the other way.
    """
    under = over = good = out = 0.0
    edge_ln = EDGE_LN if by_load else EDGE_TESTED_LN if is_tested else EDGE_ALONE_LN
    for (form_v, unstable, _, _, most), weight in zip(bank, weights, strict=True):
        enough, too_much = above(form_v, LEAST_V, edge_ln), above(form_v, MOST_V, edge_ln)
        wrong = above(unstable, MOST_UNSTABLE, EDGE_UNSTABLE_LN)
        over += weight * too_much
        fit = weight * enough * (1.0 - too_much)
        good += fit * (1.0 - wrong)
        under += fit * wrong
        had = above(most, LEAST_V, edge_ln)
        out += weight * (1.0 - enough) * had
        under += weight * (1.0 - enough) * (1.0 - had)
    amiss = min(came, 1.0 - came)
    under, out = under + amiss * (out - under), out + amiss * (under - out)
    if not by_load and came >= DOUBTED_BELOW:  # then its crystals did not come, either
        under, good = under + amiss * good, (1.0 - amiss) * good
    if arrived:
        chances = {Temper.UNDER: under, Temper.MELTED_OUT: out}
    else:
        chances = {Temper.NOT_YET: under + out}
    chances |= {Temper.IN_TEMPER: good, Temper.OVER: over}
    share = UNSURE / len(chances)
    return {one: (1.0 - UNSURE) * chance + share for one, chance in chances.items()}


_MEANS = {
    Temper.NOT_YET: "Not in temper yet",
    Temper.IN_TEMPER: "In temper",
    Temper.UNDER: "Under-tempered",
    Temper.OVER: "Over-tempered",
    Temper.MELTED_OUT: "The good crystals have melted",
    Temper.UNKNOWN: "It can't be told",
}


MELTING = "Not in temper yet: first all of it is melted, crystals that are left included."


def why_text(
    verdict: Temper,
    form_v: tuple[float, float, float],
    unstable: float,
    *,
    by_load: bool,
    doubts_seed: bool,
) -> str:
    """The sentence why: what is believed of form V (low, middle, high; fractions of the fat)."""
    if doubts_seed and verdict is not Temper.IN_TEMPER:
        stirred = ", nor the stirrer labour," if by_load else ""
        return (
            f"{_MEANS[verdict]}: the bowl did not cool{stirred} as seed makes it; look whether the "
            "seed is in."
        )
    low, middle, high = (f"{100.0 * value:.1f}" for value in form_v)
    source = "temperatures and the stirrer's load" if by_load else "temperatures alone"
    text = (
        f"{_MEANS[verdict]}: form V is about {middle} % of the fat ({low} to {high}; "
        f"{100.0 * LEAST_V:g} to {100.0 * MOST_V:g} is in temper), by {source}."
    )
    if unstable > MOST_UNSTABLE:
        text += f" Unstable crystals are about {100.0 * unstable:.1f} %: warm it a little."
    return text


def warmed_text(why: str, warmed_k: float) -> str:
    """The sentence why, and that it is held warmer."""
    return f"{why} It is held {warmed_k:.1f} K warmer, for it thickens."


def unseen_text(unseen: Unseen) -> str:
    """The sentence why nothing is claimed."""
    return _UNSEEN[unseen]


def spread_of(
    bank: Sequence[Crystals], weights: Sequence[float]
) -> tuple[tuple[float, float, float], float]:
    """Form V's tenth, half and nine tenths by weight, and the mean of unstable forms."""
    ranked = sorted(zip((one[0] for one in bank), weights, strict=True))
    summed = list(accumulate(weight for _, weight in ranked))
    last = len(ranked) - 1
    low, middle, high = (
        ranked[min(bisect_left(summed, quantile), last)][0] for quantile in QUANTILES
    )
    unstable = math.fsum(one[1] * weight for one, weight in zip(bank, weights, strict=True))
    return (low, middle, high), unstable
