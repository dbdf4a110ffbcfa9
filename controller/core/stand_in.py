"""What stands in for a thermometer that a machine does without.

Responsible for the temperatures that such a run is judged and steered by; not for which machines do
without one (lacks), nor for the laws that steer (regulator, by_bath). Never shown as measured.
"""

import math

from controller.core import thresholds as th
from controller.core.estimate import Belief
from controller.core.machine import Machine
from controller.core.records import replace
from controller.core.signals import Permit
from controller.core.state import Event, State
from controller.core.thermal import BATH, BOWL, BOWL_LOSS_W_PER_K, DRIFT, TRANSFER_W_PER_K

# Own engineering values, not published.
UNSEEN_BATH_K = 2.0  # the bath is taken to be so much warmer than it is believed to be
LATE_S = 120.0  # an unseen bowl is taken to be where it is believed to have been so long ago
MELTS_FROM_C, MELTED_AT_C = 24.0, 36.0  # between these a bowl also takes up latent heat
PLAIN_J_PER_KG_K = 1900.0  # chocolate, its bowl and what a thermometer adds
PINNED = 1e-14  # variance of what is not to be learned, (K/s)²


def bath_of(state: State, machine: Machine) -> float:
    """The bath as this run judges it, °C: measured, or what stands in for that; NaN for neither."""
    return state.bath_c if machine.has_bath else state.stand_in_c


def bowl_of(state: State, machine: Machine) -> float:
    """The bowl as this run judges it, °C: measured, or what stands in for that; NaN for neither."""
    return state.bowl_c if machine.has_bowl else state.stand_in_c


def measured_bath_c(state: State, permit: Permit | None, machine: Machine) -> float:
    """The bath to follow, °C: by its own thermometer, else the guard's; NaN where neither is told.

    The guard's alone is to lead no heat: it may hang in the air or be stuck. So it is believed
    where it is warmer, and colder only for a while after somebody changed the water, by which a
    bath that is only believed in goes astray for hours. And where nobody sees the bowl get too
    warm, the bath's own thermometer is not believed far under the guard's.
    """
    if permit is None or math.isnan(permit.bath_c):
        return state.bath_c
    if machine.has_bath:
        if machine.has_bowl or math.isnan(state.bath_c):
            return state.bath_c
        return max(state.bath_c, permit.bath_c - th.UNDER_GUARD_K)
    if state.belief is None:
        return math.nan
    is_swapped = state.run_s - state.watch.memory.seen.touched_s < th.QUIET_S
    return permit.bath_c if is_swapped or permit.bath_c > state.belief.mean[BATH] else math.nan


def stand_in_c(state: State, machine: Machine, permit: Permit | None, dt_s: float) -> float:
    """What stands in for the thermometer that the machine lacks, °C.

    For the bath's: what is believed of it, or what the guard's own thermometer says, if that is
    warmer; without a guard's word somewhat more than is believed. Only limits are judged by it. For
    the bowl's: what is believed of it, a little late, so that the bowl is not taken to have arrived
    too soon; but never further from the bath than the slowest of bowls would be by now.
    """
    belief = state.belief
    if belief is None:
        return math.nan
    if not machine.has_bath:
        guarded_c = math.nan if permit is None else permit.bath_c
        believed_c = belief.mean[BATH]
        if not math.isfinite(guarded_c):
            return believed_c + UNSEEN_BATH_K
        return max(believed_c, guarded_c)
    before_c, bath_c = state.stand_in_c, belief.mean[BATH]
    if not math.isfinite(before_c):
        return belief.mean[BOWL]
    rest_c = bath_c - bath_over_k(bath_c, machine)
    late_c = _nearer(before_c, belief.mean[BOWL], dt_s, LATE_S)
    slow_c = _nearer(before_c, rest_c, dt_s, _slowest_s(before_c, machine))
    return late_c if abs(late_c - rest_c) < abs(slow_c - rest_c) else slow_c


def bath_over_k(temp_c: float, machine: Machine) -> float:
    """How far a bath stands over a bowl at rest, with losses and transfer as they usually are."""
    return BOWL_LOSS_W_PER_K * (temp_c - machine.room_c) / TRANSFER_W_PER_K


def as_seen(events: tuple[Event, ...], machine: Machine) -> tuple[Event, ...]:
    """Events as they may be told: of a bowl that nobody sees they say no temperature."""
    if machine.has_bowl:
        return events
    return tuple(
        replace(event, facts={**event.facts, "bowl_c": math.nan})
        if "bowl_c" in event.facts
        else event
        for event in events
    )


def _nearer(from_c: float, to_c: float, dt_s: float, lag_s: float) -> float:
    return from_c + (to_c - from_c) * -math.expm1(-dt_s / lag_s)


def _slowest_s(bowl_c: float, machine: Machine) -> float:
    """How slowly a stirred bowl may follow its bath, s."""
    is_melting = MELTS_FROM_C < bowl_c < MELTED_AT_C
    j_per_kg_k = th.SLOWEST_BOWL_J_PER_KG_K if is_melting else PLAIN_J_PER_KG_K
    return machine.batch_kg * j_per_kg_k / th.TRANSFER_MIN_W_PER_K


def without_bowl(belief: Belief) -> Belief:
    """The belief after a correction by the bath's probe alone.

    What heats the bowl beside its bath can't be told from what the bath loses: the bath gets it
    all, so that a bowl at rest is believed to be near its bath.
    """
    if belief.since_s:
        return belief
    spread = [
        [0.0 if DRIFT in (row, column) else value for column, value in enumerate(values)]
        for row, values in enumerate(belief.spread)
    ]
    spread[DRIFT][DRIFT] = PINNED
    mean = (*belief.mean[:DRIFT], 0.0, *belief.mean[DRIFT + 1 :])
    return replace(belief, mean=mean, spread=tuple(map(tuple, spread)))
