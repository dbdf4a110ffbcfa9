"""How long a batch in temper will stay so where it is held: the possible batches, gone on with.

Responsible for the working time that is left and its band; not for what they are now (temper). Its
early end is also the answer to "may I leave it for so long?", as far as crystals matter.
"""

import math
from bisect import bisect_left
from collections.abc import Sequence
from itertools import accumulate

from controller.core.batches import TRAITS
from controller.core.crystallising import Crystals, Trait, grown
from controller.core.tempering import MOST_V, QUANTILES

# Own engineering values, not published.
STEP_S, STEP_MOST_S, STEP_GROWS = 60.0, 600.0, 1.25  # nearby it is asked for more exactly
LONGEST_S = 4 * 3600.0  # beyond, nobody looks so far ahead


def _steps_s() -> tuple[float, ...]:
    steps_s = [STEP_S]
    for _ in range(round(LONGEST_S / STEP_S)):
        steps_s.append(min(STEP_MOST_S, STEP_GROWS * steps_s[-1]))
    return tuple(
        step_s
        for step_s, end_s in zip(steps_s, accumulate(steps_s), strict=True)
        if end_s <= LONGEST_S
    )


STEPS_S = _steps_s()


def keeps_s(
    bank: Sequence[Crystals], weights: Sequence[float], dark_c: float
) -> tuple[float, float, float]:
    """How long until a stirred batch at `dark_c` (°C, dark's scale) is over-tempered, s.

    Early, likely and late: nine tenths, half and a tenth of the chances keep as long or longer.
    Infinite where that is more than four hours; 0 for what is over already.
    """
    ranked = sorted(
        (_one_s(crystals, trait, dark_c), weight)
        for crystals, trait, weight in zip(bank, TRAITS, weights, strict=True)
    )
    summed, last = list(accumulate(weight for _, weight in ranked)), len(ranked) - 1
    early_s, likely_s, late_s = (
        ranked[min(bisect_left(summed, quantile), last)][0] for quantile in QUANTILES
    )
    return early_s, likely_s, late_s


def _one_s(crystals: Crystals, trait: Trait, dark_c: float) -> float:
    """The same of one possible batch."""
    at_s, form_v = 0.0, crystals[0]
    if form_v >= MOST_V:
        return 0.0
    for step_s in STEPS_S:
        crystals = grown(crystals, trait, dark_c, step_s, is_stirred=True)
        if crystals[0] >= MOST_V:
            return at_s + step_s * (MOST_V - form_v) / (crystals[0] - form_v)
        if crystals[0] <= form_v:  # at rest, or melting
            return math.inf
        at_s, form_v = at_s + step_s, crystals[0]
    return math.inf
