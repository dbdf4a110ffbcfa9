"""What a record keeps of the temper estimate, and the estimate of a run that goes on from it.

Responsible for few numbers that stand for all the possible batches; not for when they are written
(journal/judging) nor for whether a cut run may go on (recovery).
"""

import math
from collections.abc import Mapping
from statistics import NormalDist

from msgspec import Struct

from controller.core.batches import COUNT, TRAITS, TemperState
from controller.core.crystallising import SITES
from controller.core.load_evidence import Melt
from controller.core.tempering import LEAST_V, QUANTILES, Temper, Unseen

Fact = str | float | bool
PERCENT = 100.0
LEAST = 1e-6  # of the fat: less has no logarithm worth keeping
# Each possible batch has its place among the others, by how fast it grows.
_PLACES = sorted(range(COUNT), key=lambda one: TRAITS[one].growth)
_SPAN_SD = NormalDist().inv_cdf(QUANTILES[2]) - NormalDist().inv_cdf(QUANTILES[0])
_DEVIATIONS = tuple(
    NormalDist().inv_cdf((_PLACES.index(one) + 0.5) / COUNT) for one in range(COUNT)
)


class KeptTemper(Struct, frozen=True, kw_only=True):
    """The estimate as a record has it."""

    facts: dict[str, Fact]
    bowl_c: float  # then
    age_s: float  # since then: when the run was cut, later as old as the gap


def facts_of(temper: TemperState) -> dict[str, Fact]:
    """What a record keeps of an estimate. Numbers that nobody has are NaN."""
    low, middle, high = (PERCENT * value for value in temper.form_v)
    had = sum(w for one, w in zip(temper.bank, temper.weights, strict=True) if one[4] >= LEAST_V)
    sites = sum(w * one[SITES] for one, w in zip(temper.bank, temper.weights, strict=True))
    return {
        "verdict": temper.verdict.value,
        "confidence": temper.confidence,
        "why": temper.why,
        "unseen": temper.unseen.value,
        "form_v_low_percent": low,
        "form_v_percent": middle,
        "form_v_high_percent": high,
        "unstable_percent": PERCENT * temper.unstable,
        "had_share": had,
        "sites_share": sites,
        "by_load": temper.by_load,
        "melt_level": temper.melt.level,
        "melt_slope": temper.melt.slope,
        "melt_level_sd": math.sqrt(temper.melt.var_level),
        "melt_rpm": temper.melt.at_rpm,
    }


def restored(kept: KeptTemper, softer_k: float) -> TemperState | None:
    """The estimate of a run that goes on, as old as the gap; None where too little was kept.

    `softer_k` is by how much its chocolate melts lower than dark. The gap is made up for at the
    first look, between the bowl as it was and as it is then.
    """
    facts = kept.facts
    numbers = [_number(facts, key) for key in _NEEDED]
    if facts.get("unseen") != Unseen.NOTHING.value or not all(
        map(math.isfinite, (*numbers, kept.bowl_c, kept.age_s))
    ):
        return None
    low, middle, high, unstable, had, sites, level, slope, level_sd, at_rpm = numbers
    ratio = max(high, LEAST * PERCENT) / max(low, LEAST * PERCENT)
    sd = math.log(max(ratio, 1.0)) / _SPAN_SD
    bank = []
    for one, deviation in enumerate(_DEVIATIONS):
        form_v = min(1.0, max(middle / PERCENT, LEAST) * math.exp(sd * deviation))
        most = max(form_v, LEAST_V if _PLACES.index(one) >= (1.0 - had) * COUNT else 0.0)
        bank.append((form_v, unstable / PERCENT, sites, 0.0, most))
    return TemperState(
        verdict=Temper.UNKNOWN,
        bank=tuple(bank),
        melt=Melt(level=level, slope=slope, var_level=level_sd**2, var_slope=0.0, at_rpm=at_rpm),
        at_s=-kept.age_s,
        dark_c=kept.bowl_c + softer_k,
        by_load=facts.get("by_load") is True,
    )


_NEEDED = (
    *("form_v_low_percent", "form_v_percent", "form_v_high_percent", "unstable_percent"),
    *("had_share", "sites_share", "melt_level", "melt_slope", "melt_level_sd", "melt_rpm"),
)


def _number(facts: Mapping[str, Fact], key: str) -> float:
    fact = facts.get(key)
    if isinstance(fact, bool) or not isinstance(fact, int | float):
        return math.nan
    return float(fact)
