"""One tick, from readings to commands: the table of contents of the controller.

Responsible for the order of the steps and for the last word on heat; each step's own rules live in
the modules beside it.
"""

import math
from collections.abc import Callable

from controller.core import thresholds as th
from controller.core.advising import advised
from controller.core.alarms import latched, noticed
from controller.core.asking import Cooling
from controller.core.batches import UNJUDGED
from controller.core.blind_spots import declared
from controller.core.by_bath import regulate_by_bath
from controller.core.ceilings import ceiling_of
from controller.core.cooler import cooled, driven
from controller.core.estimator import follow, stir
from controller.core.first_estimate import first_estimate
from controller.core.forecast import foresee
from controller.core.interlocks import Cause
from controller.core.lacks import lacks_of
from controller.core.listening import listen
from controller.core.machine import Machine
from controller.core.moves import Trigger, move
from controller.core.nudging import nudged_c
from controller.core.outlook import Obstacle
from controller.core.profile import Profile, StopStirrer
from controller.core.proof import Step
from controller.core.records import replace
from controller.core.recovery import FRESH, Beginning
from controller.core.regulator import bowl_setpoint, regulate
from controller.core.relay import force_off, least_off_s, opened_to_look, shape
from controller.core.sequencer import advance, begin
from controller.core.signals import Commands, Permit, Readings
from controller.core.sizing import at_once, estimate_of
from controller.core.stand_in import (
    as_seen,
    bath_of,
    bowl_of,
    measured_bath_c,
    stand_in_c,
    without_bowl,
)
from controller.core.start_proof import alone_of, asked, begun, proved
from controller.core.state import (
    ENDED,
    STEERED,
    Event,
    EventName,
    Mode,
    Progress,
    RelayMemory,
    State,
)
from controller.core.surveillance import bath_cut_c, survey
from controller.core.temper import judge_temper
from controller.core.touching import touched
from controller.core.words import obstacle_text

PAUSED = frozenset({Mode.PAUSING, Mode.PAUSED})
PASSING = frozenset({Mode.PAUSING, Mode.RESUMING, Mode.STOPPING, Mode.ABORTING})
# Looking up a member of an enumeration takes longer than all the rest of asking for it.
_IDLE, _RUNNING, _NO_OBSTACLE = Mode.IDLE, Mode.RUNNING, Obstacle.NONE
HEATED = frozenset({Step.HEAT, Step.DONE})
STIR_HYSTERESIS_K = 1.0
STIR_ON_MAX_S = 1800.0  # how long the stirrer may keep a stopped batch from setting


def _unmarked(_: str) -> None:
    """Leave no mark."""


def tick(
    state: State,
    profile: Profile,
    machine: Machine,
    readings: Readings,
    dt_s: float,
    *,
    mark: Callable[[str], object] = _unmarked,
) -> tuple[State, Commands, tuple[Event, ...]]:
    """From the state before, the readings and the seconds since then, to what the machine is told.

    Pure: no clock, no I/O. A `dt_s` that is not a positive number, or longer than
    `thresholds.GAP_MAX_S`, counts as a late tick: heat is withheld in it. `mark` is given the name
    of each step as it is done, so that somebody can see that none was left out.
    """
    before = state
    events: list[Event] = list(asked(state)) if state.run_s == 0.0 else []
    step_s, readings = _sane(dt_s, readings, machine)
    state = _judge(state, profile, machine, readings, step_s, events)
    mark("judge")
    measured_c = measured_bath_c(state, readings.permit, machine)
    state = _estimate(state, profile, machine, before, measured_c, step_s)
    if lacks := lacks_of(machine):
        felt_c = stand_in_c(state, machine, readings.permit, step_s)
        state = replace(state, stand_in_c=felt_c, lacks=lacks)
    state = listen(state, profile, machine, readings, events)
    state = _advance(state, profile, machine, before.mode, step_s, events)
    if state.mode in STEERED:
        state = proved(state, before, machine, readings, step_s)
    mark("advance")
    state = _regulate(state, profile, machine, readings.permit, step_s)
    mark("regulate")
    held_s = step_s if dt_s > 0.0 else 0.0  # a clock that stood still gives no relay its rest
    state, commands = _command(state, profile, machine, before, held_s)
    state = touched(before, state, events)
    mark("command")
    outlook = foresee(state, profile, machine)
    if outlook is not state.outlook:
        state = replace(state, outlook=outlook)
    temper = judge_temper(state, profile, machine, readings)
    if temper is not state.temper:
        state = replace(state, temper=temper)
    state = advised(state, profile, machine, events)
    _report(before, state, events)
    return state, commands, tuple(events)


def _sane(dt_s: float, readings: Readings, machine: Machine) -> tuple[float, Readings]:
    """A usable time step, and readings that own up to how late the tick is."""
    if not dt_s > 0.0:
        return machine.period_s, replace(readings, late_s=th.GAP_MAX_S)
    if not dt_s <= th.GAP_MAX_S:
        return th.GAP_MAX_S, replace(readings, late_s=dt_s)
    return dt_s, readings


def _judge(
    state: State,
    profile: Profile,
    machine: Machine,
    readings: Readings,
    dt_s: float,
    events: list[Event],
) -> State:
    """Look at the readings, withhold heat, latch trips. Nothing later may overrule it."""
    survey_ = survey(state, profile, machine, readings, dt_s)
    events += [latched(trip) for trip in survey_.new_trips]
    trips = state.trips + survey_.new_trips
    notices = state.notices
    if notices or survey_.active:
        steered, now_s = state.mode in STEERED, state.run_s + dt_s
        notices, told = noticed(notices, trips, survey_.active, now_s, is_steered=steered)
        events += told
    return State(
        run_s=state.run_s + dt_s,
        mode=(move(state.mode, Trigger.TRIP) or state.mode) if trips else state.mode,
        bath_c=survey_.bath_c,
        bowl_c=survey_.bowl_c,
        stand_in_c=state.stand_in_c,
        progress=state.progress,
        regulation=state.regulation,
        kept=state.kept,
        belief=state.belief,
        estimate=state.estimate,
        outlook=state.outlook,
        temper=state.temper,
        advice=state.advice,
        hands=state.hands,
        proof=state.proof,
        switches=state.switches,
        relay=state.relay,
        cooling=state.cooling,
        watch=survey_.watch,
        withheld=survey_.withheld,
        trips=trips,
        notices=notices,
        stirrer_rpm=state.stirrer_rpm,
        ended_s=state.ended_s + dt_s if state.mode in ENDED else 0.0,
        heat_j=state.heat_j + (machine.heater_w * dt_s if state.relay.on else 0.0),
    )


def _estimate(
    state: State, profile: Profile, machine: Machine, before: State, bath_c: float, dt_s: float
) -> State:
    """Follow the machine by what the relay did and the probes say, the bath's being `bath_c`."""
    belief = state.belief
    if belief is None:
        return first_estimate(state, profile, machine)
    is_stirred = before.stirrer_rpm > 0.0 and state.run_s >= state.hands.stirrer_until_s
    belief = stir(belief, is_stirred=is_stirred)
    belief = follow(belief, bath_c, state.bowl_c, was_on=before.relay.on, dt_s=dt_s)
    if before.cooling.on and machine.cooler is not None:
        belief = cooled(belief, machine.cooler, dt_s)
    if not machine.has_bowl:
        belief = without_bowl(belief)
    is_corrected = belief.since_s == 0.0
    estimate = estimate_of(belief) if is_corrected else at_once(state.estimate, belief)
    return replace(state, belief=belief, estimate=estimate)


def _advance(
    state: State,
    profile: Profile,
    machine: Machine,
    mode_before: Mode,
    dt_s: float,
    events: list[Event],
) -> State:
    """Let passing states pass; begin the first phase; follow the running one."""
    if mode_before is _IDLE and state.mode in STEERED:
        # Also where a start and a pause came in one tick: no phase is steered before it is entered.
        outcome = begin(profile, bowl_of(state, machine), state.progress)
        events += [*declared(machine), *as_seen(outcome.events, machine)]
        return replace(state, progress=outcome.progress)
    if state.mode in PASSING and state.mode is mode_before:
        return _settle(state)
    if state.mode is not _RUNNING:
        return state
    amounts = Cooling(state.belief, machine, profile.phases[state.progress.phase])
    outcome = advance(state.progress, profile, bowl_of(state, machine), dt_s, amounts)
    events += as_seen(outcome.events, machine)
    return replace(state, mode=outcome.mode, progress=outcome.progress)


def _settle(state: State) -> State:
    """From a passing state to the one it leads to; a run that has ended asks nothing any more."""
    state = replace(state, mode=move(state.mode, Trigger.SETTLE) or state.mode)
    if state.mode in ENDED and state.progress.ask is not None:
        return replace(state, progress=replace(state.progress, ask=None))
    return state


def _regulate(
    state: State, profile: Profile, machine: Machine, permit: Permit | None, dt_s: float
) -> State:
    """Ask for a duty; without good temperatures, or when nothing is steered, for none."""
    good = math.isfinite(bath_of(state, machine)) and math.isfinite(bowl_of(state, machine))
    if state.mode not in STEERED or not good or state.belief is None:
        idle = replace(state.regulation, duty=0.0)
        return replace(state, regulation=idle) if state.regulation.duty else state
    phase = profile.phases[state.progress.phase]
    if state.mode in PAUSED:
        setpoint_c = phase.pause_at_c
    else:
        setpoint_c = bowl_setpoint(phase, state.progress.start_bowl_c, state.progress.phase_s)
        setpoint_c += state.temper.warmed_k
    setpoint_c = nudged_c(setpoint_c, state.watch.memory.bowl)
    ceiling_c = ceiling_of(phase.bath_ceiling_c, setpoint_c, state, permit, machine)
    law = regulate if machine.has_bowl else regulate_by_bath
    regulation = law(
        state,
        state.belief,
        setpoint_c=setpoint_c,
        ceiling_c=ceiling_c,
        machine=machine,
        dt_s=dt_s,
    )
    return replace(state, regulation=regulation)


def _may_heat(state: State, machine: Machine, cut_c: float) -> bool:
    """The last word: every condition for heat, said once more and positively."""
    return state.proof.step in HEATED and _is_safe(state, machine, cut_c)


def _is_safe(state: State, machine: Machine, cut_c: float) -> bool:
    """Every condition under which a switch may close, be it to be tested alone."""
    return (
        state.mode in STEERED
        and not state.withheld
        and not state.trips
        and bath_of(state, machine) <= cut_c
        and math.isfinite(bowl_of(state, machine))
    )


def _command(
    state: State, profile: Profile, machine: Machine, before: State, dt_s: float
) -> tuple[State, Commands]:
    """Shape the duty to the relay, turn the stirrer where it may turn."""
    cut_c = bath_cut_c(state, profile, machine)
    if _may_heat(state, machine, cut_c):
        relay = shape(
            state.relay,
            state.regulation.duty,
            dt_s=dt_s,
            min_on_s=machine.min_on_s,
            min_off_s=least_off_s(state.relay, machine.min_off_s, dt_s),
            pulse_s=state.regulation.pulse_s,
        )
        if machine.has_mains or machine.has_current:
            relay = opened_to_look(state.relay, relay, dt_s)
    else:
        relay = force_off(state.relay, dt_s)
    rpm = _stirrer_rpm(state, profile, machine, before)
    memory = state.watch.memory
    stirring_s = memory.stirring_s + dt_s if rpm > 0.0 else 0.0
    if stirring_s != memory.stirring_s:
        memory = replace(memory, stirring_s=stirring_s)
    state = replace(state, relay=relay, stirrer_rpm=rpm, watch=replace(state.watch, memory=memory))
    cooling = _cooling(state, machine, dt_s)
    if cooling is not state.cooling:
        state = replace(state, cooling=cooling)
    return state, Commands(
        heater_on=relay.on,
        stirrer_rpm=rpm,
        cooling_on=cooling.on,
        bath_cut_c=cut_c,
        alone=alone_of(state.proof) if _is_safe(state, machine, cut_c) else 0,
    )


def _cooling(state: State, machine: Machine, dt_s: float) -> RelayMemory:
    """The cooling output, where there is one: on only in a run that goes on."""
    if machine.cooler is None:
        return state.cooling
    if state.mode not in STEERED:
        return force_off(state.cooling, dt_s)
    return driven(state, machine, state.regulation.bowl_setpoint_c, dt_s)


def _stirrer_rpm(state: State, profile: Profile, machine: Machine, before: State) -> float:
    """Turn only in chocolate that is soft enough; after the end, only to keep it from setting."""
    phase = profile.phases[state.progress.phase]
    if not machine.has_stirrer or state.switches.is_pressed:
        return 0.0
    bowl_c = bowl_of(state, machine)
    if state.mode in STEERED:
        wanted_rpm = phase.stirrer_rpm
    elif _may_stir_on(state, profile):
        wanted_rpm = before.stirrer_rpm
    else:
        return 0.0
    if math.isnan(bowl_c):
        return before.stirrer_rpm
    turning = before.stirrer_rpm > 0.0
    from_c = max(phase.stir_from_c, state.progress.stir_from_c)
    from_c -= STIR_HYSTERESIS_K if turning else 0.0
    return wanted_rpm if bowl_c >= from_c else 0.0


EMPTY = frozenset({Mode.IDLE, Mode.COMPLETE})  # not begun, or emptied by the cook
NO_STIRRING = frozenset({str(Cause.STIRRER_STOPPED)})


def _may_stir_on(state: State, profile: Profile) -> bool:
    """Whether the stirrer may keep a batch soft after the run has ended or tripped."""
    return (
        profile.stop_stirrer is StopStirrer.KEEP
        and state.mode not in EMPTY
        and state.ended_s <= STIR_ON_MAX_S
        and not any(trip.cause in NO_STIRRING for trip in state.trips)
    )


def _report(before: State, state: State, events: list[Event]) -> None:
    """Add what the whole tick changed."""
    if state.withheld != before.withheld:
        name = EventName.HEAT_WITHHELD if state.withheld else EventName.HEAT_PERMITTED
        events.append(Event(name=name, facts={"causes": ", ".join(state.withheld)}))
    outlook = state.outlook
    if outlook.obstacle is not _NO_OBSTACLE and outlook.obstacle_c != before.outlook.warned_c:
        events.append(
            Event(
                name=EventName.OBSTACLE_FOUND,
                facts={"target_c": outlook.obstacle_c, "what": obstacle_text(outlook)},
            )
        )
    if state.mode is not before.mode:
        events.append(
            Event(name=EventName.MODE_CHANGED, facts={"before": before.mode, "after": state.mode})
        )


def initial_state(beginning: Beginning = FRESH, profile: Profile | None = None) -> State:
    """A run that has not begun, heat off. Without a profile its start is not to be proven."""
    progress = Progress(
        phase=beginning.phase,
        dwelled_s=beginning.dwelled_s,
        answered=beginning.answered,
        verdict=beginning.verdict,
        stir_from_c=beginning.stir_from_c,
    )
    state = State(progress=progress, temper=beginning.temper or UNJUDGED, kept=beginning.machine)
    return begun(state, beginning, profile)
