"""Regulating by the bath alone, on a machine without a thermometer in its bowl.

Responsible for a bath as warm as a bowl at its target needs it: never led over that, for nobody
would see the bowl overshoot, and colder only where the bowl is believed to be over its target. So
a bowl takes longer, and is known only as well as the bath's lead over it.
"""

from controller.core.estimate import Belief
from controller.core.hold import duty, inner_s, numbers
from controller.core.machine import Machine
from controller.core.stand_in import bath_over_k
from controller.core.state import Regulation, State

# Own engineering values, not published.
UNDER_CEILING_K = 0.1
NEAR_K = 0.5  # a bowl that is believed to be further over its target than this gets less


def regulate_by_bath(
    _state: State,
    belief: Belief,
    *,
    setpoint_c: float,
    ceiling_c: float,
    machine: Machine,
    dt_s: float,
) -> Regulation:
    """One step: the bath set-point (never above `ceiling_c`) and the duty (0 to 1)."""
    now = numbers(belief, setpoint_c)
    over_k = bath_over_k(setpoint_c, machine) + min(0.0, setpoint_c + NEAR_K - now.bowl_c)
    wanted_c = min(ceiling_c - UNDER_CEILING_K, setpoint_c + over_k)
    closes_s = inner_s(max(machine.min_on_s, dt_s))
    asked = duty(now, wanted_c, now.holds_share, closes_s, dt_s)
    return Regulation(
        bowl_setpoint_c=setpoint_c,
        bath_setpoint_c=wanted_c,
        duty=asked if now.bath_c < ceiling_c else 0.0,
    )
