"""What holds in every tick, whatever the probes say and whoever asks for what.

Readings are finite, not a number, missing, stale or wild; steps are good, late or senseless.
"""

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.core.announcement import Announcement, Deed
from controller.core.machine import Machine
from controller.core.moves import Trigger, move
from controller.core.profile import Action, LateAction, Profile, StopStirrer, When
from controller.core.relay import force_off, shape
from controller.core.signals import (
    NOT_LATCHED,
    Fault,
    Permit,
    Reading,
    Readings,
    Request,
    Source,
    Verb,
    missing,
)
from controller.core.stand_in import bath_of, bowl_of
from controller.core.state import ENDED, STEERED, Event, Mode, RelayMemory, State
from controller.core.surveillance import bath_cut_c
from controller.core.tick import initial_state, tick
from tests.helpers.records import replace
from tests.helpers.scene import machine, phase, profile, question

OWN = machine(has_level=True, has_shaft=True)
# Also machines that do without a thermometer or a stirrer.
LIMP = (
    replace(OWN, has_bath=False),
    replace(OWN, has_bowl=False),
    replace(OWN, has_stirrer=False, has_shaft=False),
)
CEILING_C = 50.0  # of the bath, in every phase here
ALL = settings(
    max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
NAN = math.nan
owns = st.sampled_from([OWN, OWN, *LIMP])

calm = st.floats(30.0, 44.0).map(lambda value: round(value * 16) / 16)
wild = st.sampled_from([NAN, math.inf, -math.inf, -127.0, 85.0, 0.0, 54.9, 55.1, 61.0, 1e300])
faulty = st.builds(
    Reading,
    st.one_of(calm, wild),
    st.sampled_from([0.0, 4.9, 5.1, 600.0, NAN, math.inf]),
    st.sampled_from(list(Fault)),
)
good = calm.map(Reading)
thermometers = st.one_of(good, good, good, st.one_of(wild.map(Reading), faulty))
switches = st.one_of(st.none(), st.just(Reading(1.0)), st.just(Reading(1.0)), faulty)
shafts = st.one_of(st.none(), st.just(Reading(30.0)), st.just(Reading(30.0)), faulty)
wishes = st.builds(
    Request,
    verb=st.sampled_from(list(Verb)),
    source=st.sampled_from(list(Source)),
    ask_id=st.sampled_from(["", "look", "other"]),
    choice=st.sampled_from(["done", "longer", "give-up", "perhaps"]),
    announcement=st.one_of(
        st.none(),
        st.builds(
            Announcement,
            deed=st.sampled_from(list(Deed)),
            mass_kg=st.sampled_from([NAN, -1.0, 0.2, 5.0, math.inf]),
            share=st.sampled_from([NAN, -1.0, 0.9, 1.0, 2.0]),
            temp_c=st.sampled_from([NAN, -1.0, 0.0, 20.0, 100.0, math.inf]),
        ),
    ),
)
permits = st.one_of(
    st.none(),
    st.builds(
        Permit,
        latched=st.just(NOT_LATCHED),
        age_s=st.sampled_from([0.0, 9.0, math.inf]),
        bath_c=st.one_of(calm, st.sampled_from([NAN, 54.9, 55.1, 1e300])),
    ),
)
looks = st.builds(
    Readings,
    bath=thermometers,
    bowl=thermometers,
    level=switches,
    shaft=shafts,
    permit=permits,
    late_s=st.sampled_from([0.0] * 12 + [1.5, NAN]),
    requests=st.lists(wishes, max_size=2).map(tuple),
)
steps_s = st.sampled_from([1.0] * 12 + [0.25, 3.0, 10.0, 11.0, 0.0, -1.0, NAN, math.inf])
ticks = st.lists(st.tuples(looks, steps_s, st.integers(1, 8)), min_size=1, max_size=15)
profiles = st.builds(
    lambda stop, late, moment: profile(
        phase(
            questions=(
                question(
                    when=moment,
                    bowl_c=39.0,
                    action=Action.SWAP_WATER,
                    unanswered_s=20.0,
                    unanswered="done",
                ),
            ),
            late_after_s=60.0,
            late_action=late,
            rate_limit_k_per_min=2.0,
        ),
        phase("hold", bath_cut_c=50.0),
        stop_stirrer=stop,
    ),
    st.sampled_from(list(StopStirrer)),
    st.sampled_from(list(LateAction)),
    st.sampled_from(list(When)),
)
Script = list[tuple[Readings, float, int]]
START = Readings(
    bath=Reading(38.0),
    bowl=Reading(38.0),
    level=Reading(1.0),
    requests=(Request(verb=Verb.START),),
)


def seen_by(own: Machine, look: Readings) -> Readings:
    """What there is to be read on this machine."""
    return replace(
        look,
        bath=look.bath if own.has_bath else missing(),
        bowl=look.bowl if own.has_bowl else missing(),
    )


def play(
    script: Script, of: Profile, own: Machine = OWN
) -> list[tuple[State, bool, float, tuple[Event, ...]]]:
    """Every tick of the script: state, heater, step and events. Each look is held for a while."""
    state = initial_state()
    seen = []
    for look, dt_s, times in [(START, 1.0, 1), *script]:
        for again in range(times):
            now = seen_by(own, look if again == 0 else replace(look, requests=()))
            state, commands, events = tick(state, of, own, now, dt_s)
            assert commands.heater_on is state.relay.on
            assert commands.bath_cut_c <= 55.0
            seen.append((state, commands.heater_on, dt_s, events))
    return seen


@ALL
@given(ticks, profiles, owns)
def test_heat_needs_a_running_untripped_unwithheld_machine_under_its_cut(
    script: Script, of: Profile, own: Machine
) -> None:
    for state, heater_on, _, _ in play(script, of, own):
        bath_c = bath_of(state, own)
        assert 0.0 <= state.regulation.duty <= 1.0
        assert bath_c < CEILING_C or not state.regulation.duty
        if heater_on:
            assert state.mode in STEERED
            assert state.trips == ()
            assert state.withheld == ()
            assert bath_c <= bath_cut_c(state, of, own)
            assert math.isfinite(bowl_of(state, own))


@ALL
@given(ticks, profiles, st.sampled_from(LIMP))
def test_a_machine_that_does_without_a_part_shows_no_guess_and_turns_nothing(
    script: Script, of: Profile, own: Machine
) -> None:
    for state, _, _, events in play(script, of, own):
        told_c = [event.facts["bowl_c"] for event in events if "bowl_c" in event.facts]
        assert own.has_bowl or all(math.isnan(float(bowl_c)) for bowl_c in told_c)
        assert own.has_bath or math.isnan(state.bath_c)
        assert own.has_bowl or math.isnan(state.bowl_c)
        assert own.has_bowl or not state.outlook.is_ready
        assert own.has_stirrer or not state.stirrer_rpm


@ALL
@given(ticks, profiles)
def test_a_trip_is_latched_for_ever_and_ends_the_run(script: Script, of: Profile) -> None:
    known: tuple[str, ...] = ()
    for state, _, _, _ in play(script, of):
        causes = tuple(trip.cause for trip in state.trips)
        assert causes[: len(known)] == known
        assert len(set(causes)) == len(causes)
        if causes:
            assert state.mode in {Mode.ABORTING, *ENDED}
        known = causes


@ALL
@given(ticks, profiles, owns)
def test_minimum_times_are_broken_only_by_a_forced_off(
    script: Script, of: Profile, own: Machine
) -> None:
    held_s, was_on = math.inf, False
    for state, heater_on, dt_s, _ in play(script, of, own):
        held_s += min(dt_s, 10.0) if dt_s > 0.0 else 0.0
        if heater_on == was_on:
            continue
        is_forced = state.withheld or state.trips or state.mode not in STEERED
        is_forced = is_forced or not bath_of(state, own) <= bath_cut_c(state, of, own)
        if heater_on:
            assert held_s >= OWN.min_off_s
        else:
            assert held_s >= OWN.min_on_s or is_forced
        held_s, was_on = 0.0, heater_on


@ALL
@given(ticks, profiles, owns)
def test_the_state_stays_finite_where_it_must(script: Script, of: Profile, own: Machine) -> None:
    for state, _, _, _ in play(script, of, own):
        heat = state.watch.memory.heat
        numbers = (
            state.run_s,
            state.ended_s,
            state.heat_j,
            state.stirrer_rpm,
            state.relay.owed_s,
            state.regulation.duty,
            state.regulation.trim_k,
            state.progress.phase_s,
            state.progress.settled_s,
            state.progress.dwelled_s,
            state.progress.asked_s,
            heat.lagged,
            heat.since_change_k,
            heat.given_s,
            heat.lost_k,
            heat.expected_k,
            state.watch.memory.bath.unchanged_s,
            *state.watch.unsafe_s,
        )
        assert all(math.isfinite(number) for number in numbers)
        assert not math.isinf(state.bath_c)
        assert not math.isinf(state.bowl_c)
        assert not math.isinf(state.stand_in_c)
        assert not math.isinf(state.regulation.bath_setpoint_c)
        assert not state.regulation.bath_setpoint_c > CEILING_C
        assert len(heat.trail) <= 14
        assert len(state.watch.memory.bath.jumps) <= 11


@ALL
@given(ticks, profiles)
def test_every_change_of_mode_is_a_row_or_a_chain_of_rows_of_the_table(
    script: Script, of: Profile
) -> None:
    before = Mode.IDLE
    for state, _, _, _ in play(script, of):
        reached = {before}
        for _ in range(4):  # a trip or two wishes and a settling fit into one tick
            reached |= {
                new for mode in reached for one in Trigger if (new := move(mode, one)) is not None
            }
        assert state.mode in reached
        if before in ENDED:
            assert state.mode is before
        before = state.mode


@ALL
@given(ticks, profiles)
def test_the_same_script_gives_the_same_run(script: Script, of: Profile) -> None:
    assert repr(play(script, of)) == repr(play(script, of))


duties = st.one_of(st.just(0.0), st.just(1.0), st.floats(0.0, 1.0))


@ALL
@given(
    st.lists(st.tuples(duties, st.integers(1, 30), st.booleans()), min_size=1, max_size=20),
    st.floats(0.0, 12.0),
    st.floats(0.0, 12.0),
    st.sampled_from([0.25, 1.0, 3.0]),
    st.floats(0.0, 20.0),
)
def test_the_relay_never_switches_faster_than_it_may(
    script: list[tuple[float, int, bool]],
    min_on_s: float,
    min_off_s: float,
    dt_s: float,
    pulse_s: float,
) -> None:
    memory = RelayMemory()
    held_s = math.inf
    for duty, times, forced in script:
        for _ in range(times):
            was = memory
            held_s += dt_s
            if forced:
                memory = force_off(memory, dt_s)
                assert not memory.on
            else:
                memory = shape(
                    memory,
                    duty,
                    dt_s=dt_s,
                    min_on_s=min_on_s,
                    min_off_s=min_off_s,
                    pulse_s=pulse_s,
                )
            if memory.on is not was.on:
                assert forced or held_s >= (min_on_s if was.on else min_off_s)
                held_s = 0.0
            assert memory.held_s == held_s


@ALL
@given(st.floats(0.0, 1.0), st.floats(0.0, 8.0), st.floats(0.0, 8.0))
def test_the_relay_s_average_is_the_duty(duty: float, min_on_s: float, min_off_s: float) -> None:
    memory = RelayMemory()
    on_s = 0.0
    for _ in range(1500):
        memory = shape(memory, duty, dt_s=1.0, min_on_s=min_on_s, min_off_s=min_off_s)
        on_s += memory.on
    assert abs(on_s - 1500.0 * duty) <= 2.0 * max(min_on_s, min_off_s, 1.0) + 1.0
