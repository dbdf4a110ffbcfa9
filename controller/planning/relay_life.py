"""How often a relay switches, and how many batches its contacts last.

Responsible for arithmetic from a duty; what a run really switches is measured by
tests/benchmarks/parts.py.
"""

import math

from controller.core.profile import Profile
from controller.planning.heater import Heater

S_PER_H = 3600.0
# Cycles (one closing and one opening) of a relay's contacts at their rated load: the usual figure
# of data sheets for power relays (from memory, not checked). A data sheet's own wins.
ENDURANCE_CYCLES = 100_000
# At least so much longer than a batch must contacts last to be called fit. Own engineering value.
FIT_BATCHES = 300
# A semiconductor drops about so much while it conducts, and that is heat in it (from memory).
DROP_V = 1.2


def switches_per_h(duty: float, shortest_s: float) -> float:
    """Openings and closings in an hour at a steady duty (0 to 1), both counted.

    A switch that is held to a shortest time on and off and has the least ripple otherwise is on for
    `shortest_s`/(1 - duty) and off for `shortest_s`/duty: core/relay.py.
    """
    return 2.0 * S_PER_H * duty * (1.0 - duty) / shortest_s


def cycles(duty: float, shortest_s: float, span_s: float) -> float:
    """Cycles over so many seconds at a steady duty; holding it takes one at least."""
    return max(1.0, switches_per_h(duty, shortest_s) * span_s / S_PER_H / 2.0)


def batches(cycles_per_batch: float, endurance: float = ENDURANCE_CYCLES) -> float:
    """After so many batches one relay in ten has failed dangerously.

    T10D = B10D / n_op of ISO 13849-1:2015, annex C.4 (read second-hand), counted in batches; the
    electrical endurance of the data sheet is taken for B10D.
    """
    return endurance / cycles_per_batch


def batch_cycles(one: Heater, profile: Profile, shortest_s: float, held_s: float) -> float:
    """Cycles of one batch: on until it melts, a dwell as warm, and so many seconds of holding."""
    melt_s = one.melts_s if math.isfinite(one.melts_s) else 0.0
    warm_s = melt_s + profile.phases[0].dwell_s
    return cycles(one.melt_duty, shortest_s, warm_s) + cycles(one.hold_duty, shortest_s, held_s)
