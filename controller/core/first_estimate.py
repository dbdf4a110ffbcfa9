"""What is believed of the machine at the first good readings: machine file, phase, and a cut run's.

Responsible for where the estimate begins; not for following the machine from there (estimator).
"""

import math

from controller.core.kept_machine import remembered
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.records import replace
from controller.core.sizing import estimate_of
from controller.core.state import State
from controller.core.thermal import BATH, filled_at, prior_of
from controller.core.thermal import begin as begin_belief


def first_estimate(state: State, profile: Profile, machine: Machine) -> State:
    """What is believed at the first pair of good readings; before it, nothing."""
    bath_c = state.bath_c if machine.has_bath else state.bowl_c
    bowl_c = state.bowl_c if machine.has_bowl else min(bath_c, machine.room_c)
    if not (math.isfinite(bath_c) and math.isfinite(bowl_c)):
        return state
    progress = state.progress
    in_bowl = filled_at(profile, progress.phase, progress.answered)
    belief = begin_belief(
        prior_of(machine, profile.kind, in_bowl),
        bath_c,
        bowl_c,
        in_bowl=in_bowl,
        has_melted=progress.phase > 0,
        unseen=() if machine.has_bath else (BATH,),
    )
    if state.kept is not None:
        belief = remembered(belief, state.kept)
    return replace(state, belief=belief, estimate=estimate_of(belief))
