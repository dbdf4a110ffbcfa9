"""When the chocolate will be ready: the phases to come, one after the other, and how sure that is.

Responsible for what a run still has before it (legs, settling, dwells, questions) and for when to
look again; not for how a leg goes (course) or for the words (words). Looked at afresh only every
while, and at once when something has changed: in between it costs next to nothing.
"""

import math
from typing import NamedTuple

from controller.core.asking import Cooling
from controller.core.course import (
    Pot,
    at_rest,
    lags_s,
    leg_s,
    pot_of,
    rates_of,
    seeded,
    swapped,
)
from controller.core.estimate import Belief
from controller.core.machine import Machine
from controller.core.outlook import UNKNOWN, Obstacle, Outlook
from controller.core.profile import Action, Phase, Profile, Question, When
from controller.core.state import Mode, Progress, State
from controller.core.thermal import LN_K, LN_P, LN_R
from controller.core.waits import NINE_IN_TEN_SD, wait_of

# Own engineering values, not published; tuned on the bench's drawn machines, seeds below 1000, by
# tests/benchmarks/ready_at.py.
LOOK_SHARE = 0.05  # look again after this share of the time that is left,
LOOK_LEAST_S, LOOK_MOST_S = 30.0, 240.0  # within these bounds
MODEL_HEATING = 0.04  # what the sketch of the course itself may be wrong by
MODEL_COOLING = 0.2
MODEL_MELTING = 0.2  # more while what is in the bowl is still to be found out
TRANSFER_IN_HEATING = 0.4  # a transfer that is 1 % less makes heating so many percent longer
SELF_DOUBT = 0.7  # of the estimate's variances: it trusts itself less than it might
FLOOR_S = 30.0
ROOM_SD_K = 0.35  # of the room in the machine file
ROOM_CLOSE_K = 0.2  # nothing gets nearer than this to the room in any useful time

_RUNNING = Mode.RUNNING


class _Sum(NamedTuple):
    """What lies ahead, in seconds by what makes it uncertain."""

    heating_s: float = 0.0
    cooling_s: float = 0.0
    room_s: float = 0.0  # by which cooling may be off because the room is not what was told
    fixed_s: float = 0.0  # settling and dwells
    waits: int = 0
    waited_s: float = 0.0  # how long the open question has been open


def foresee(state: State, profile: Profile, machine: Machine) -> Outlook:
    """The outlook after a tick: the one before, or a new one where it is time to look again."""
    progress, before = state.progress, state.outlook
    if before.is_ready:
        return before
    seen = (
        state.mode,
        progress.phase,
        progress.reached,
        progress.dwelled,
        progress.ask,
        state.withheld,
    )
    if state.run_s < before.due_s and seen == before.seen:
        return before
    made = _made(state, profile, machine)
    left_s = made.likely_s - state.run_s
    wait_s = min(max(LOOK_SHARE * left_s, LOOK_LEAST_S), LOOK_MOST_S) if left_s > 0 else LOOK_MOST_S
    return Outlook(
        early_s=made.early_s,
        likely_s=made.likely_s,
        late_s=made.late_s,
        obstacle=made.obstacle,
        obstacle_c=made.obstacle_c,
        warned_c=before.warned_c if made.obstacle is Obstacle.NONE else made.obstacle_c,
        room_c=made.room_c,
        is_ready=made.is_ready,
        due_s=state.run_s + wait_s,
        seen=seen,
    )


def _made(state: State, profile: Profile, machine: Machine) -> Outlook:
    progress, belief = state.progress, state.belief
    if state.mode is not _RUNNING or belief is None or not machine.has_bowl:
        return UNKNOWN
    if progress.reached and progress.phase == len(profile.phases) - 1:
        now_s = state.run_s
        return Outlook(early_s=now_s, likely_s=now_s, late_s=now_s, is_ready=True)
    if state.withheld or belief.blind_s > 0.0:  # nobody knows for how long
        return UNKNOWN
    pot, ahead = pot_of(belief), _Sum()
    for index in range(progress.phase, len(profile.phases)):
        phase = profile.phases[index]
        here = progress if index == progress.phase else Progress(phase=index)
        is_last = index == len(profile.phases) - 1
        pot, ahead = _phase(phase, here, pot, ahead, belief, machine, is_last=is_last)
        if math.isinf(ahead.heating_s + ahead.cooling_s):
            return _out_of_reach(phase, belief, is_cooling=math.isinf(ahead.cooling_s))
    return _with_ends(state.run_s, ahead, belief)


def _phase(
    phase: Phase,
    progress: Progress,
    pot: Pot,
    ahead: _Sum,
    belief: Belief,
    machine: Machine,
    *,
    is_last: bool,
) -> tuple[Pot, _Sum]:
    """One phase, or what is left of it; of the last one until its target is reached."""
    to_come = [one for one in phase.questions if one.id not in progress.answered]
    share = 0.0 if belief.has_melted or progress.phase else 1.0  # of the bowl, still to melt
    if not progress.reached:
        for question in to_come:
            pot, part = _acted(question, pot, machine, belief)
            share = max(share, part)
        rates = rates_of(belief, machine, 0.5 * (pot.bath_c + phase.bowl_target_c), share)
        is_cooling = pot.bowl_c > phase.bowl_target_c
        span_s = _helped_s(phase, progress, pot, belief, machine) if is_cooling else math.inf
        is_helped = span_s < math.inf
        if not is_helped:
            span_s = leg_s(pot, phase, rates, progress.settled_s)
        if phase.rate_limit_k_per_min is not None:
            gap_k = abs(pot.bowl_c - phase.bowl_target_c) - phase.tolerance_k
            span_s = max(span_s, 60.0 * gap_k / phase.rate_limit_k_per_min)
        if is_cooling:
            over_k = phase.bowl_target_c + phase.tolerance_k - belief.prior.room_c
            is_passive = not is_helped and pot.bath_c > phase.bowl_target_c
            room_s = span_s * ROOM_SD_K / max(over_k, ROOM_CLOSE_K) if is_passive else 0.0
            ahead = ahead._replace(cooling_s=ahead.cooling_s + span_s, room_s=ahead.room_s + room_s)
        else:
            late_s = lags_s(belief) if progress.phase_s == 0.0 else 0.0
            ahead = ahead._replace(heating_s=ahead.heating_s + span_s + late_s)
    if not is_last:
        left_s = 0.0 if progress.dwelled else max(0.0, phase.dwell_s - progress.dwelled_s)
        ahead = ahead._replace(fixed_s=ahead.fixed_s + left_s)
    waits = [one for one in to_come if not is_last or one.when is When.START]
    ask = progress.ask
    asked_s = progress.asked_s if ask and any(one.id == ask.id for one in waits) else 0.0
    ahead = ahead._replace(waits=ahead.waits + len(waits), waited_s=ahead.waited_s + asked_s)
    rest = rates_of(belief, machine, phase.bowl_target_c, 0.0)
    return at_rest(rest, phase.bowl_target_c), ahead


def _helped_s(
    phase: Phase, progress: Progress, pot: Pot, belief: Belief, machine: Machine
) -> float:
    """How long a phase takes to come down and settle, helped by computed swaps; else infinite."""
    comes_s = Cooling(belief, machine, phase).takes_s(progress, pot.bath_c, pot.bowl_c)
    return comes_s + phase.settle_s - progress.settled_s


def _acted(question: Question, pot: Pot, machine: Machine, belief: Belief) -> tuple[Pot, float]:
    """The pot after what a question asks for, and the share of it that is solid then."""
    share = question.share or 0.0
    if question.action is Action.SWAP_WATER and question.water_c is not None:
        if question.is_computed:  # what it will be for is the way down, which goes through it
            return pot, 0.0
        return swapped(pot, machine, share, question.water_c), 0.0
    if question.action is Action.ADD_SEED:
        return seeded(pot, belief.prior.content, share, belief.prior.room_c), share
    return pot, 0.0


def _with_ends(now_s: float, ahead: _Sum, belief: Belief) -> Outlook:
    """The likely moment with an early and a late end: it comes between them eight times in ten."""
    spread = belief.spread
    r = math.exp(belief.mean[LN_R])
    now_ln2, other_ln2 = spread[LN_K][LN_K], belief.other_transfer[1]
    stirred_ln2 = now_ln2 if belief.is_stirred else other_ln2
    doubt = spread[LN_P][LN_P] + spread[LN_R][LN_R] / (1.0 + r) ** 2
    doubt += TRANSFER_IN_HEATING**2 * stirred_ln2
    heating = MODEL_HEATING**2 + SELF_DOUBT * doubt
    if not belief.has_melted:  # it melts unstirred at first
        still_ln2 = other_ln2 if belief.is_stirred else now_ln2
        heating += MODEL_MELTING**2 + SELF_DOUBT * TRANSFER_IN_HEATING**2 * still_ln2
    cooling = MODEL_COOLING**2 + SELF_DOUBT * stirred_ln2
    sd_s = math.sqrt(
        heating * ahead.heating_s**2 + cooling * ahead.cooling_s**2 + ahead.room_s**2 + FLOOR_S**2
    )
    wait = wait_of(ahead.waits, ahead.waited_s)
    likely_s = now_s + ahead.heating_s + ahead.cooling_s + ahead.fixed_s + wait.likely_s
    off_s = NINE_IN_TEN_SD * sd_s
    return Outlook(
        early_s=max(now_s, likely_s - math.hypot(off_s, wait.likely_s - wait.early_s)),
        likely_s=likely_s,
        late_s=likely_s + math.hypot(off_s, wait.late_s - wait.likely_s),
    )


def _out_of_reach(phase: Phase, belief: Belief, *, is_cooling: bool) -> Outlook:
    room_c = belief.prior.room_c
    is_room = is_cooling and room_c + ROOM_CLOSE_K >= phase.bowl_target_c + phase.tolerance_k
    return Outlook(
        obstacle=Obstacle.ROOM if is_room else Obstacle.TIME,
        obstacle_c=phase.bowl_target_c,
        room_c=room_c,
    )
