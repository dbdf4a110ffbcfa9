"""What a bath may be asked for at most, where its phase's ceiling alone is not safe enough.

Responsible for the ceiling that control heats up to; not for the cut-off over it (interlocks).
"""

from controller.core import thresholds as th
from controller.core.evidence import ProbeMemory
from controller.core.machine import Machine
from controller.core.signals import Permit
from controller.core.state import State

UNSEEN_LEAD_K = 4.0  # an unseen bath is led over the bowl's target by no more (own value)


def ceiling_of(
    ceiling_c: float, setpoint_c: float, state: State, permit: Permit | None, machine: Machine
) -> float:
    """A phase's ceiling, °C, or a lower one: for the set-point of the bowl, and what is known."""
    ceiling_c = spared_c(ceiling_c, state.watch.memory.bowl)
    if not machine.has_bath:
        ceiling_c = min(ceiling_c, setpoint_c + UNSEEN_LEAD_K)
    is_stirred_up = state.run_s - state.watch.memory.seen.touched_s < th.TOUCHED_S
    # Without a bowl's thermometer what is followed as the bath heeds the guard's already.
    if is_stirred_up or not machine.has_bowl or _is_vouched_for(state, setpoint_c):
        return ceiling_c
    return under_guards_c(ceiling_c, state.bath_c, permit)


def _is_vouched_for(state: State, setpoint_c: float) -> bool:
    """Whether a live thermometer shows a bowl where it is to be, or warmer.

    Then the bath is no colder than it should be, and a guard's that says more is the one that may
    be out: heeded, it would let the batch go cold, and nobody told.
    """
    is_live = state.watch.memory.bowl.unchanged_s <= th.VOUCHES_S
    return is_live and state.bowl_c >= setpoint_c - th.VOUCHES_K


def spared_c(ceiling_c: float, bowl: ProbeMemory) -> float:
    """The ceiling, °C, lower while the bowl's thermometer has shown one value for long.

    Until it shows another the bath alone says how warm the chocolate can be, and its own
    thermometer may be out.
    """
    return ceiling_c - th.STILL_SPARE_K if bowl.unchanged_s > th.STILL_AFTER_S else ceiling_c


def under_guards_c(ceiling_c: float, bath_c: float, permit: Permit | None) -> float:
    """The ceiling, °C, lower by how far the guard's thermometer says more than the bath's.

    Two good ones in one bath may differ by `thresholds.GUARD_OVER_K`. The bath's that creeps down
    does so long before the two differ enough for an alarm, and then its bath stands too high. NaN
    for either leaves the ceiling as it is.
    """
    if permit is None:
        return ceiling_c
    over_k = permit.bath_c - bath_c - th.GUARD_OVER_K
    return ceiling_c - over_k if over_k > 0.0 else ceiling_c
