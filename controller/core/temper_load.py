"""What the stirrer's load does to the estimate of temper: of a melt it is learned, else it moves.

Responsible for when a load teaches what the melt takes and when it moves the possible batches; not
for the line that is learned (load_evidence), nor for the course without a load (temper).
"""

import math

from controller.core.batches import EVEN, TRAITS, TemperState
from controller.core.crystallising import Crystals
from controller.core.estimate import Belief
from controller.core.load_evidence import MELTED_FROM_C, THINNEST, excess, learned, thinned
from controller.core.records import replace
from controller.core.seeding import heard
from controller.core.signals import Quality, Readings
from controller.core.state import State
from controller.core.tempering import Unseen
from controller.core.thermal import BOWL

# Own engineering values, not published.
SEED_SHOWS = 1e-3  # lumps or crystals that would spoil what is learned of the melt
LOAD_LAG_S = 45.0
JUMP = 0.6  # of the load's logarithm between two looks
LEFT_S = 420.0  # after seed that melts some of it may be left


def loaded(
    temper: TemperState, state: State, belief: Belief, readings: Readings, span_s: float
) -> TemperState:
    """After the stirrer's load: of a melt it is learned, of anything else it moves the batches."""
    load, rpm, bowl_c = readings.load, state.stirrer_rpm, belief.mean[BOWL]
    if load is None or load.quality is not Quality.GOOD or rpm <= 0.0 or load.value <= 0.0:
        return replace(temper, excess=math.nan) if temper.excess == temper.excess else temper
    if temper.seed is not None:
        temper = _heard(temper, load.value, min(state.bowl_c, temper.seed.bare.bowl_c), rpm)
    if temper.dark_c >= MELTED_FROM_C:  # no crystals last there, whatever thickens it
        if _is_melted(temper, belief):
            melt = learned(temper.melt, load.value, bowl_c, rpm)
            temper = replace(temper, melt=melt)
        return replace(temper, excess=math.nan) if temper.excess == temper.excess else temper
    found = excess(temper.melt, load.value, bowl_c, rpm)
    if found is None:
        return temper
    over, sd = found
    is_fed = temper.seed is not None or any(one[3] > SEED_SHOWS for one in temper.bank)
    if abs(over - temper.excess) > JUMP and temper.unseen is Unseen.NOTHING and not is_fed:
        temper = replace(temper, unseen=Unseen.LOAD)
    low = max(temper.excess, over)  # of two looks, for one may be a slip
    if low < -THINNEST * sd:
        temper = replace(temper, melt=thinned(temper.melt, low))
        over, sd = over - low, math.hypot(sd, low)
    share = -math.expm1(-span_s / LOAD_LAG_S)
    bank = tuple(
        _moved(one, max(0.0, over - trait.off * sd) / trait.thickens, share)
        for one, trait in zip(temper.bank, TRAITS, strict=True)
    )
    return replace(temper, bank=bank, weights=EVEN, excess=over, by_load=True)


def _heard(temper: TemperState, load_w: float, bowl_c: float, rpm: float) -> TemperState:
    """After what the load says of seed that is awaited, against the melt without it."""
    assert temper.seed is not None  # noqa: S101 - the caller's condition, said for the types
    is_in = temper.seed.is_said and temper.unseeded is not None
    melt = temper.unseeded[1] if is_in and temper.unseeded else temper.melt
    found = excess(melt, load_w, bowl_c, rpm)
    return temper if found is None else replace(temper, seed=heard(temper.seed, *found))


def _is_melted(temper: TemperState, belief: Belief) -> bool:
    return (
        belief.has_melted
        and temper.seed is None  # it may be in already, and more turns than was said
        and temper.at_s - temper.seeded_s > LEFT_S
        and all(one[0] + one[3] < SEED_SHOWS for one in temper.bank)
    )


def _moved(crystals: Crystals, solid: float, share: float) -> Crystals:
    """A batch moved so large a `share` of the way to having so much solid beside its lumps."""
    form_v, unstable, sites, lumps, most = crystals
    total = form_v + unstable
    wanted = total + share * (solid - total)
    if total > 0.0:
        form_v, unstable = form_v * wanted / total, unstable * wanted / total
    else:
        form_v = wanted
    return form_v, unstable, sites, lumps, max(most, form_v + lumps)
