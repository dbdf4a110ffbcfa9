"""What a record keeps of the machine as it was learned, and the belief of a run that goes on.

Responsible for how fast a stirred bowl follows its bath, which only a melt teaches: a run that is
gone on with in hold would else never be able to say that its bowl's thermometer creeps away.
"""

import math
from collections.abc import Mapping

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.estimate import Belief
from controller.core.records import replace
from controller.core.thermal import LN_K, LN_R, SIZE

Fact = str | float | bool
AGED_SD = 0.05  # as a logarithm, of either number at the least; own engineering value
_KEYS = ("learned_transfer_ln", "learned_sizes_ln", "learned_rate_sd")


class KeptMachine(Struct, frozen=True, kw_only=True):
    """What was learned, as logarithms: transfer over the bath's size (1/s), bath over bowl."""

    ln_transfer_share: float
    ln_sizes_share: float
    ln_share_sd: float  # of the sum of the two


def learned_facts(belief: Belief | None) -> dict[str, Fact]:
    """What a record keeps of a belief. Numbers that nobody has are NaN."""
    if belief is None or not (belief.has_melted and belief.is_stirred):
        return dict.fromkeys(_KEYS, math.nan)
    spread = belief.spread
    variance = spread[LN_K][LN_K] + spread[LN_R][LN_R] + 2.0 * spread[LN_K][LN_R]
    values = (belief.mean[LN_K], belief.mean[LN_R], math.sqrt(max(0.0, variance)))
    return dict(zip(_KEYS, values, strict=True))


def kept_machine(facts: Mapping[str, Fact]) -> KeptMachine | None:
    """The machine as a record has it; None where it had not been learned well."""
    said = [facts.get(key) for key in _KEYS]
    numbers = [one for one in said if isinstance(one, int | float) and not isinstance(one, bool)]
    if len(numbers) < len(_KEYS) or not all(map(math.isfinite, numbers)):
        return None
    ln_transfer_share, ln_sizes_share, sd = map(float, numbers)
    if not 0.0 <= sd <= th.LEARNED_TRANSFER_SD:
        return None
    return KeptMachine(
        ln_transfer_share=ln_transfer_share, ln_sizes_share=ln_sizes_share, ln_share_sd=sd
    )


def remembered(belief: Belief, kept: KeptMachine) -> Belief:
    """A belief that has just begun, the stirrer standing, with what was learned before the cut."""
    variance = max(kept.ln_share_sd / math.sqrt(2.0), AGED_SD) ** 2
    mean, spread = list(belief.mean), [list(row) for row in belief.spread]
    mean[LN_R] = kept.ln_sizes_share
    for other in range(SIZE):
        spread[LN_R][other] = spread[other][LN_R] = 0.0
    spread[LN_R][LN_R] = variance
    return replace(
        belief,
        mean=tuple(mean),
        spread=tuple(map(tuple, spread)),
        other_transfer=(kept.ln_transfer_share, variance),
    )
