"""Thickening answered by warmth: a batch in temper that grows too thick is held a little warmer.

Responsible for how much warmer, in small steps up to what the profile allows; not for whether it
is in temper (temper) nor for the heat that the bowl gets (regulator). The trade warms it by 0.3 to
1 K in steps, or tops it up with melt (common practice, no source).
"""

from controller.core.batches import TemperState
from controller.core.profile import Phase
from controller.core.records import replace
from controller.core.tempering import Temper, Unseen

# Own engineering values, not published.
STEP_K = 0.3
EVERY_S = 600.0  # until the last step has shown what it does
THICK_FROM = 0.025  # form V, of the fat
THIN_TO = 0.012
SOON_S = 1800.0  # over-tempered so soon, most likely
SURE = 0.8  # of a verdict that moves the bowl
MELTING = frozenset({Temper.UNDER, Temper.MELTED_OUT, Temper.NOT_YET})


def warmed(temper: TemperState, phase: Phase, run_s: float) -> TemperState:
    """The estimate with how much warmer than its target the last phase is to hold the bowl."""
    room_k = 0.0 if phase.warm_to_c is None else phase.warm_to_c - phase.bowl_target_c
    if not room_k > 0.0 or _may_melt(temper):
        return replace(temper, warmed_k=0.0) if temper.warmed_k else temper
    if run_s - temper.warmed_at_s < EVERY_S or temper.confidence < SURE:
        return temper
    middle = temper.form_v[1]
    is_thick = middle > THICK_FROM or temper.keeps_s[1] < SOON_S
    if is_thick and temper.verdict in {Temper.IN_TEMPER, Temper.OVER}:
        warmed_k = min(room_k, temper.warmed_k + STEP_K)
    elif middle < THIN_TO:
        warmed_k = max(0.0, temper.warmed_k - STEP_K)
    else:
        return temper
    if warmed_k == temper.warmed_k:
        return temper
    return replace(temper, warmed_k=warmed_k, warmed_at_s=run_s)


def _may_melt(temper: TemperState) -> bool:
    """Whether warmth may melt what there is, or nobody sees what there is.

    Between in temper and over-tempered it is for a while unknown which: the steps so far stay then,
    for chocolate that is let cool just as it thickens grows thick the sooner.
    """
    if temper.verdict is not Temper.UNKNOWN:
        return temper.verdict in MELTING
    return temper.unseen is not Unseen.NOTHING or not temper.form_v[1] > THIN_TO
