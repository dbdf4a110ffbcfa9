"""What a set test does to the estimate of temper: it overrules whatever was thought.

Responsible for what is believed after a test, and for how long it speaks; not for asking for one
(sequencer) nor for the estimate without it (temper).
"""

import math

from controller.core.batches import COUNT, THICKENS, TemperState
from controller.core.claims import verdict_of
from controller.core.crystallising import Crystals
from controller.core.load_evidence import Melt
from controller.core.profile import Verdict
from controller.core.records import replace
from controller.core.state import State
from controller.core.tempering import (
    LEAST_V,
    MOST_UNSTABLE,
    MOST_V,
    UNTIL_MELTED,
    Temper,
    Unseen,
)

# Own engineering values, not published.
TEST_S = 600.0  # a clean test says for so long what it is
TEST_TRUST = 0.97
NEAR_S = 3600.0  # and narrows for so long what it can be
TEST_DOUBT = 0.05  # left to batches that a test speaks against
INSIDE = 0.15  # batches that a clean test proves wrong are put so far inside the limits
TESTED_SITES = 0.6
LEAST_LEFT = 0.02
MOVED_ON = 1.5  # form V so many times as much, or as little, is another batch than was tested
MARGIN = 1.6  # of a limit: so far inside it is what a test proves the load's zero wrong by


def tested(temper: TemperState, state: State) -> TemperState:
    """After a look at the set test: one that is new overrules whatever was thought."""
    test = state.progress.verdict
    if test is temper.test:
        return temper
    temper = replace(temper, test=test, tested_s=state.run_s, tested_v=temper.form_v[1])
    if test is Verdict.NONE:
        return temper
    inside = [LEAST_V < v < MOST_V and u < MOST_UNSTABLE for v, u, *_ in temper.bank]
    if test is Verdict.IN_TEMPER:
        bank = tuple(
            one if fits else _inside(one, at)
            for at, (one, fits) in enumerate(zip(temper.bank, inside, strict=True))
        )
        is_lost = temper.unseen in UNTIL_MELTED
        return replace(
            temper,
            bank=bank,
            melt=_zeroed(temper.melt, temper.excess),
            excess=math.nan,  # counted from another zero from now on
            unseen=Unseen.NOTHING if is_lost else temper.unseen,
            blind_s=0.0,
        )
    left = [
        weight * (TEST_DOUBT if fits else 1.0)
        for weight, fits in zip(temper.weights, inside, strict=True)
    ]
    total = sum(left)
    is_seen = total - TEST_DOUBT * (1.0 - total) / (1.0 - TEST_DOUBT) > LEAST_LEFT
    if not is_seen and temper.unseen is Unseen.NOTHING:
        return replace(temper, unseen=Unseen.TEST)
    return replace(temper, weights=tuple(weight / total for weight in left))


def _inside(crystals: Crystals, at: int) -> Crystals:
    """A batch that is in temper instead: each of the bank's another, evenly between the limits."""
    _, unstable, _, lumps, most = crystals
    share = INSIDE + (1.0 - 2.0 * INSIDE) * (at + 0.5) / COUNT
    form_v = LEAST_V * (MOST_V / LEAST_V) ** share
    return form_v, min(unstable, 0.5 * MOST_UNSTABLE), TESTED_SITES, lumps, max(most, form_v)


def _zeroed(melt: Melt, excess: float) -> Melt:
    """What the melt takes, so that the load speaks of a batch in temper as the clean test does."""
    if math.isnan(excess):
        return melt
    most, least = THICKENS * MOST_V / MARGIN, THICKENS * LEAST_V * MARGIN
    return replace(melt, level=melt.level + excess - min(max(excess, least), most))


def is_tested(temper: TemperState, state: State) -> bool:
    """Whether a clean set test was made so lately that the batch can't have gone far since."""
    is_clean = temper.test is Verdict.IN_TEMPER and math.isfinite(temper.tested_s)
    return is_clean and state.run_s - temper.tested_s < NEAR_S


def overruled(
    temper: TemperState, state: State, chances: dict[Temper, float], form_v: float
) -> tuple[Temper, float]:
    """Verdict and confidence once the last set test has been heeded; `form_v` is the middle."""
    if temper.test is Verdict.IN_TEMPER and state.run_s - temper.tested_s < TEST_S:
        return Temper.IN_TEMPER, max(TEST_TRUST, chances[Temper.IN_TEMPER])
    if temper.test is Verdict.NOT_IN_TEMPER and _is_as_tested(temper, form_v):
        left = {**chances, Temper.IN_TEMPER: TEST_DOUBT * chances[Temper.IN_TEMPER]}
        total = sum(left.values())
        chances = {one: chance / total for one, chance in left.items()}
    return verdict_of(chances, is_narrow=temper.by_load or is_tested(temper, state))


def _is_as_tested(temper: TemperState, form_v: float) -> bool:
    """Whether what was tested is still what is there: not melted since, nor grown to another."""
    if not math.isfinite(temper.tested_s):
        return False
    least, most = temper.tested_v / MOVED_ON, temper.tested_v * MOVED_ON
    return not (form_v < least or form_v > most)
