"""From raw readings to judged ones: gathers the evidence and puts it before the interlocks.

Responsible for which limit is in force and for carrying the watch's memory; not for the rules
themselves (interlocks) or the arithmetic (evidence).
"""

import math

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.alarms import Active, is_present
from controller.core.consistency import Consistency, Sight, consider, learned_loss_share, noted
from controller.core.evidence import (
    Evidence,
    HeatMemory,
    Memory,
    ProbeEvidence,
    ProbeMemory,
    bowl_lead_k,
    heat_evidence,
    late_memory,
    probe_evidence,
)
from controller.core.heater_sight import watched
from controller.core.interlocks import Cause, judge
from controller.core.machine import BATH_CEILING_C, BOWL_CEILING_C, Machine
from controller.core.profile import Action, Kind, Profile
from controller.core.records import replace
from controller.core.selfcheck import compare_clocks, is_intact, seal
from controller.core.sequencer import is_overdue
from controller.core.signals import NOT_LATCHED, TRIP_LATCHED, Permit, Readings
from controller.core.state import STEERED, Mode, State, Trip, Watch
from controller.core.tempering import Temper, Unseen

# Looking up a member of an enumeration takes longer than all the rest.
_RUNNING, _OVER = Mode.RUNNING, Temper.OVER
Pair = tuple[ProbeEvidence, ProbeEvidence]  # the bath's thermometer and the bowl's


class Survey(Struct, frozen=True, kw_only=True):
    """What one look at the machine found."""

    bath_c: float
    bowl_c: float
    watch: Watch
    withheld: tuple[str, ...]
    new_trips: tuple[Trip, ...]
    active: Active


def bath_cut_c(state: State, profile: Profile, machine: Machine) -> float:
    """The bath limit in force, °C: the phase's, under the profile's, the machine's and ours.

    A phase may begin with the bath hotter than it will ever heat it. From the moment the bath has
    come down to the phase's ceiling, the cut follows to just above that ceiling.
    """
    phase = profile.phases[state.progress.phase]
    cut_c = phase.bath_cut_c
    if state.watch.came_down_in == state.progress.phase:
        cut_c = min(cut_c, phase.bath_ceiling_c + th.CUT_OVER_CEILING_K)
    return min(cut_c, profile.bath_never_above_c, machine.bath_max_c, BATH_CEILING_C)


def bowl_limit_c(profile: Profile, machine: Machine) -> float:
    """The bowl limit in force, °C."""
    return min(profile.bowl_never_above_c, machine.bowl_max_c, BOWL_CEILING_C)


def _evidence(
    state: State, profile: Profile, machine: Machine, readings: Readings, memory: Memory, both: Pair
) -> Evidence:
    """Lay everything side by side that the interlocks look at."""
    phase, heat = profile.phases[state.progress.phase], memory.heat
    return Evidence(
        bath=both[0],
        bowl=both[1],
        bath_cut_c=bath_cut_c(state, profile, machine),
        bowl_limit_c=bowl_limit_c(profile, machine),
        bowl_most_c=_bowl_most_c(state, profile),
        bowl_ahead_c=_bowl_ahead_c(memory.seen, both[1].value_c, state.run_s),
        frozen_model_k=heat.since_change_k,
        heat_since_change_s=heat.since_change_s,
        bowl_heat_since_change_s=heat.bowl_change_s,
        bowl_model_k=heat.bowl_change_k,
        bowl_lead_k=bowl_lead_k(heat, both[1].unchanged_s, machine),
        stuck_hits=heat.stuck_hits,
        unverified_s=heat.given_s,
        held_back_s=heat.held_back_s,
        permit=_without_echo(state, readings.permit),
        level=readings.level,
        shaft=readings.shaft,
        wanted_rpm=state.stirrer_rpm,
        stirring_s=memory.stirring_s,
        clock_ahead_s=memory.clocks.ahead_s,
        limits_intact=_are_limits_intact(state, profile, machine),
        late_s=readings.late_s,
        period_s=machine.period_s,
        late_ticks=len(memory.late_at),
        run_s=state.run_s,
        phase_s=state.progress.phase_s,
        phase=phase,
        phase_is_overdue=state.mode is _RUNNING and is_overdue(state.progress, phase),
        seen=memory.seen,
        vitals=readings.vitals,
        heater=memory.heater,
        proof=state.proof,
        turning_w=_turning_w(state, profile, readings),
        set_share=_set_share(state, profile),
    )


def _are_limits_intact(state: State, profile: Profile, machine: Machine) -> bool:
    """Whether the limits are those that the run began with, or it has not begun."""
    seal_ = state.watch.seal
    return seal_ is None or is_intact(seal_, profile, machine, state.progress.phase)


def _bowl_most_c(state: State, profile: Profile) -> float:
    """The most that the bowl's phase wants, °C, where the bowl has been under that.

    Infinite for a bowl on its way down, and where nothing is steered.
    """
    phase, progress = profile.phases[state.progress.phase], state.progress
    most_c = max(phase.bowl_target_c + state.temper.warmed_k, phase.pause_at_c)
    was_under = progress.reached or progress.start_bowl_c <= most_c
    return most_c if was_under and state.mode in STEERED else math.inf


def _bowl_ahead_c(seen: Consistency, bowl_c: float, now_s: float) -> float:
    """Where a bowl that falls will be in `CAUGHT_WITHIN_S` if it goes on so, °C; else where it is.

    In cold water it may need heat before it has come down: full heat has to catch it.
    """
    if not seen.looks:
        return bowl_c
    then_s, _, then_c, _ = seen.looks[0]
    if not (bowl_c < then_c and now_s > then_s):
        return bowl_c
    return bowl_c - (then_c - bowl_c) / (now_s - then_s) * th.CAUGHT_WITHIN_S


def _set_share(state: State, profile: Profile) -> float:
    """How much of the fat has surely set at least, where the estimate is sure that it is too much.

    Once that was told, the estimate's middle is enough to go on with it: the tenth that it has for
    certain jumps, and an alarm that came and went would say that the batch had got thinner.
    """
    temper = state.temper
    if temper.verdict is not _OVER or temper.unseen is not Unseen.NOTHING:
        return 0.0
    if not profile.aims_at_temper or state.mode not in STEERED:
        return 0.0
    if _is_told_setting(state):
        return temper.form_v[1]
    return temper.form_v[0] if temper.confidence >= th.SETTING_SURE else 0.0


def _is_told_setting(state: State) -> bool:
    return any(one.cause == Cause.BATCH_SETTING and is_present(one) for one in state.notices)


def _without_echo(state: State, permit: Permit | None) -> Permit | None:
    """The guard's word; that it has latched this run's own trip is no second one."""
    if permit is None or not state.trips or permit.latched != TRIP_LATCHED:
        return permit
    return replace(permit, latched=NOT_LATCHED)


def _turning_w(state: State, profile: Profile, readings: Readings) -> float:
    """The load of a stirrer that has just begun to turn in chocolate; infinite at other times."""
    load, since_s = readings.load, state.watch.memory.stirring_s
    if load is None or profile.kind is Kind.WATER or not th.SHAFT_GRACE_S < since_s <= th.TURNED_S:
        return math.inf
    return load.value


_Probed = tuple[ProbeMemory, ProbeEvidence]


def _probes(
    state: State, machine: Machine, readings: Readings, dt_s: float, *, slept: bool
) -> tuple[_Probed, _Probed]:
    """Bath's and bowl's thermometer, each with what is remembered of it."""
    old, now_s = state.watch.memory, state.run_s + dt_s
    may_fall = _is_water_swapped(state, now_s)
    bath_k, bowl_k = machine.bath_offset_k, machine.bowl_offset_k
    return (
        probe_evidence(
            old.bath, readings.bath, bath_k, now_s, dt_s, may_fall=may_fall, slept=slept
        ),
        probe_evidence(old.bowl, readings.bowl, bowl_k, now_s, dt_s, slept=slept),
    )


def _look(
    state: State, profile: Profile, machine: Machine, readings: Readings, dt_s: float
) -> tuple[Memory, Pair]:
    """What is remembered after this tick's readings, and what the two probes are worth."""
    now_s = state.run_s + dt_s
    old = state.watch.memory
    # While the computer slept the machine went on, unseen: what was counted proves nothing.
    slept = abs(readings.ahead_s) > th.CLOCK_AHEAD_S
    (bath, bath_now), (bowl, bowl_now) = _probes(state, machine, readings, dt_s, slept=slept)
    heat = heat_evidence(
        old.heat,
        bath=bath,
        # Where no thermometer stands in the bowl, what stands in for it takes heat from the bath.
        bowl=bowl if machine.has_bowl else ProbeMemory(value_c=state.stand_in_c),
        was_on=state.relay.on,
        disturbed=old.touched or bath.stepped or slept,
        machine=machine,
        dt_s=dt_s,
        loss_share=learned_loss_share(old.seen),
    )
    memory = Memory(
        bath=bath,
        bowl=bowl,
        heat=heat,
        late_at=late_memory(old.late_at, not readings.late_s <= machine.period_s, now_s),
        stirring_s=old.stirring_s,
        clocks=compare_clocks(old.clocks, dt_s, readings.ahead_s),
        seen=_seen(state, heat, disturbed=bath.stepped or slept, now_s=now_s),
        heater=watched(old.heater, machine, readings, dt_s, told=state.relay),
    )
    if now_s >= memory.seen.due_s:
        # Where no other thermometer stands in the bath, the bowl is held against the guard's.
        permit = readings.permit
        guard_c = math.nan if permit is None else permit.bath_c
        temps_c = (bath_now.value_c if machine.has_bath else guard_c, bowl_now.value_c)
        full_k_per_s = machine.heater_w / machine.bath_j_per_k
        sight = _sight(state, profile, readings, temps_c, (heat.asked_s, full_k_per_s), now_s)
        memory = replace(memory, seen=consider(memory.seen, sight, state.belief))
    return memory, (bath_now, bowl_now)


def _is_water_swapped(state: State, now_s: float) -> bool:
    """Whether somebody is asked to pour cold water in, or has just said that they did."""
    ask, memory = state.progress.ask, state.watch.memory
    is_asked = ask is not None and ask.action is Action.SWAP_WATER
    return is_asked or memory.touched or now_s - memory.seen.touched_s < th.SETTLING_S


def _seen(state: State, heat: HeatMemory, *, disturbed: bool, now_s: float) -> Consistency:
    """What was seen of consistency so far; it begins anew where somebody changed something."""
    old = state.watch.memory
    if old.touched or disturbed or heat.settling_s > old.heat.settling_s:
        return noted(old.seen, now_s, touched=old.touched)
    return old.seen


def _sight(
    state: State,
    profile: Profile,
    readings: Readings,
    temps_c: tuple[float, float],
    heat: tuple[float, float],
    now_s: float,
) -> Sight:
    """What the look at what sensors say of each other has before it.

    `heat` is the on-time of the heater so far, and what full heat does to the bath, K/s.
    """
    shaft, permit = readings.shaft, readings.permit
    return Sight(
        now_s=now_s,
        bath_c=temps_c[0],
        bowl_c=temps_c[1],
        guard_c=math.nan if permit is None else permit.bath_c,
        apart_cold_k=state.proof.cold_apart_k,
        load=readings.load,
        asked_s=heat[0],
        full_k_per_s=heat[1],
        told_rpm=state.stirrer_rpm,
        stirring_s=state.watch.memory.stirring_s,
        shaft_turns=shaft is None or shaft.value >= th.SHAFT_FRACTION * state.stirrer_rpm,
        is_chocolate=profile.kind is not Kind.WATER,
        in_first_phase=state.progress.phase == 0,
        is_there=_is_there(state, profile),
        is_thick=_is_told_setting(state),
    )


def _is_there(state: State, profile: Profile) -> bool:
    """Whether the bowl has come to the phase's target, or was there as the phase began.

    A thermometer that creeps away from then on would else never let it arrive, nor be judged.
    """
    phase, progress = profile.phases[state.progress.phase], state.progress
    began_off_k = abs(progress.start_bowl_c - phase.bowl_target_c)
    return progress.reached or began_off_k <= phase.tolerance_k


def survey(
    state: State,
    profile: Profile,
    machine: Machine,
    readings: Readings,
    dt_s: float,
) -> Survey:
    """Judge one tick's readings against what is remembered."""
    memory, probes = _look(state, profile, machine, readings, dt_s)
    judgement = judge(
        state.watch.unsafe_s,
        _evidence(state, profile, machine, readings, memory, probes),
        machine=machine,
        profile=profile,
        latched=frozenset(trip.cause for trip in state.trips),
        now_s=state.run_s + dt_s,
        dt_s=dt_s,
        sound=state.watch.sound,
    )
    bath_c, bowl_c = probes[0].value_c, probes[1].value_c
    is_down = bath_c <= profile.phases[state.progress.phase].bath_ceiling_c
    return Survey(
        bath_c=bath_c,
        bowl_c=bowl_c,
        watch=Watch(
            unsafe_s=judgement.unsafe_s,
            sound=judgement.sound,
            memory=memory,
            seal=state.watch.seal or seal(profile, machine),
            came_down_in=state.progress.phase if is_down else state.watch.came_down_in,
        ),
        withheld=judgement.withheld,
        new_trips=judgement.new_trips,
        active=judgement.active,
    )
