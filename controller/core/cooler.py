"""The cooling output, where one is fitted: a pump, a valve or a fan that takes heat from the bath.

Responsible for when it runs and for what the belief makes of it; not for the heater, which may
never run beside it, or for water that a cook swaps (swap). The law is the one of catching: it runs
while the bowl is on its way down and full heat, from the end of its shortest time on, would still
catch the bowl.
"""

import math

from controller.core.catching import must_catch
from controller.core.estimate import Belief
from controller.core.hands import bath_changed
from controller.core.machine import Cooler, Machine
from controller.core.records import replace
from controller.core.relay import force_off, shape
from controller.core.state import RelayMemory, State
from controller.core.thermal import BATH

# Own engineering values, not published.
UNSURE = 0.5  # what it carries may be so much more or less than told
RANDOM_S = 10.0  # for so long one error of it lasts
WARMER_K = 0.5  # than what it brings: a bath that is not, it can't cool


def cools_k_per_s(belief: Belief, cooler: Cooler) -> float:
    """By how much it cools the bath as it is believed to be, K/s."""
    over_k = max(0.0, belief.mean[BATH] - cooler.sink_c)
    return cooler.carries_w_per_k * over_k / belief.prior.bath_j_per_k


def cooled(belief: Belief, cooler: Cooler, dt_s: float) -> Belief:
    """The belief after a tick in which it ran: fed forward, and no loss of the machine's own."""
    rate = cools_k_per_s(belief, cooler)
    variance = (UNSURE * rate) ** 2 * RANDOM_S * dt_s
    return bath_changed(belief, -rate * dt_s, variance)


def driven(state: State, machine: Machine, target_c: float, dt_s: float) -> RelayMemory:
    """The output's switch in the coming tick, its shortest times kept; off once it may not be."""
    cooler, belief = machine.cooler, state.belief
    if cooler is None or belief is None or not _may_run(state):
        return force_off(state.cooling, dt_s)
    wanted = state.regulation.is_falling and _is_in_time(state, belief, cooler, target_c, dt_s)
    return shape(
        state.cooling,
        1.0 if wanted else 0.0,
        dt_s=dt_s,
        min_on_s=cooler.min_on_s,
        min_off_s=cooler.min_off_s,
    )


def _may_run(state: State) -> bool:
    """Not beside heat, and not on anything but good values."""
    is_known = math.isfinite(state.bath_c) and math.isfinite(state.bowl_c)
    return is_known and not (state.relay.on or state.withheld or state.trips)


def _is_in_time(state: State, belief: Belief, cooler: Cooler, target_c: float, dt_s: float) -> bool:
    """Whether the bowl could still be caught once it has run for its shortest time."""
    rate = cools_k_per_s(belief, cooler)
    if belief.mean[BATH] < cooler.sink_c + WARMER_K:
        return False
    left_s = cooler.min_on_s - state.cooling.held_s if state.cooling.on else cooler.min_on_s
    colder_k = rate * (1.0 + UNSURE) * max(dt_s, left_s)
    mean = list(belief.mean)
    mean[BATH] -= colder_k
    then = replace(belief, mean=tuple(mean))
    return not must_catch(then, target_c, state.regulation.peak_c_sd)
