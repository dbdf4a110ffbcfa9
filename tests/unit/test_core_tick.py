"""The order of one tick, and its last word on heat."""

import math
from typing import Any

import pytest

from controller.core.evidence import Memory, ProbeMemory
from controller.core.reasons import why
from controller.core.signals import Reading, Verb, missing
from controller.core.state import (
    EventName,
    Mode,
    Progress,
    RelayMemory,
    Trip,
    Watch,
)
from controller.core.tick import _may_heat, initial_state, tick
from tests.helpers.records import replace
from tests.helpers.scene import (
    CODE_K,
    STILL,
    Rig,
    asks,
    heating,
    machine,
    names,
    phase,
    profile,
    readings,
    state,
)

NAN = math.nan
FITTED = machine(has_level=True, has_shaft=True)
TRIP = Trip(cause="level-lost", at_s=1.0, what="No water.", action="Fill it.")


# --- heat -----------------------------------------------------------------------------------------


def test_nothing_is_heated_or_stirred_before_the_start() -> None:
    rig = Rig(bath_c=38.0, bowl_c=38.0).run(5)
    assert rig.is_in(Mode.IDLE)
    assert rig.heater_off
    assert rig.state.stirrer_rpm == 0.0
    assert rig.state.progress == Progress()


def test_a_start_enters_the_first_phase_and_heats_in_the_same_tick() -> None:
    rig = Rig(bath_c=30.0, bowl_c=30.0)
    events = rig.step(asks(Verb.START))
    assert names(events)[-2:] == [EventName.PHASE_ENTERED, EventName.MODE_CHANGED]
    assert rig.is_in(Mode.RUNNING)
    assert rig.heater_on
    assert rig.state.progress.start_bowl_c == 30.0


def test_a_start_and_a_pause_in_one_tick_still_enter_the_first_phase() -> None:
    rig = Rig(bath_c=30.0, bowl_c=30.0)
    events = rig.step(asks(Verb.START), asks(Verb.PAUSE))
    assert names(events)[-2:] == [EventName.PHASE_ENTERED, EventName.MODE_CHANGED]
    assert rig.is_in(Mode.PAUSING)
    assert rig.state.progress.start_bowl_c == 30.0


def test_a_start_and_a_stop_in_one_tick_never_heat() -> None:
    rig = Rig(bath_c=30.0, bowl_c=30.0)
    rig.step(asks(Verb.START), asks(Verb.STOP))
    assert rig.heater_off
    assert rig.is_in(Mode.STOPPING)
    assert rig.facts(EventName.PHASE_ENTERED) == []


HOT = Reading(56.0)
FAULTS = [
    ("bath", missing(), "bath-probe-missing"),
    ("bath", Reading(NAN), "bath-probe-not-a-number"),
    ("bath", Reading(30.0, age_s=6.0), "bath-probe-stale"),
    ("bath", Reading(85.0), "bath-probe-out-of-range"),
    ("bath", HOT, "bath-probe-jumping"),
    ("bowl", missing(), "bowl-probe-missing"),
    ("bowl", Reading(NAN), "bowl-probe-not-a-number"),
    ("bowl", Reading(30.0, age_s=6.0), "bowl-probe-stale"),
    ("bowl", Reading(85.0), "bowl-probe-out-of-range"),
    ("bowl", HOT, "bowl-probe-jumping"),
    ("level", Reading(0.0), "level-lost"),
    ("shaft", Reading(0.0), "stirrer-stopped"),
]


@pytest.mark.parametrize(("name", "fault", "cause"), FAULTS)
def test_heat_is_off_in_the_very_tick_of_a_fault_and_back_once_it_is_gone(
    name: str, fault: Reading, cause: str
) -> None:
    sound: dict[str, Any] = {"level": Reading(1.0), "shaft": Reading(30.0)}
    rig = Rig(profile=STILL, machine=FITTED, bath_c=38.0, bowl_c=38.0, is_live=False)
    rig.step(asks(Verb.START), **sound)
    for _ in range(10):
        rig.step(**sound)
    assert rig.heater_on
    events = rig.step(**sound | {name: fault})
    assert rig.heater_off
    assert rig.state.withheld == (cause,)
    assert names(events) == [EventName.HEAT_WITHHELD]
    assert events[0].facts == {"causes": cause}
    events = rig.step(**sound)
    assert names(events) == [EventName.HEAT_PERMITTED]
    for _ in range(3):
        rig.step(**sound)
    assert rig.heater_on
    assert rig.state.trips == ()


def test_a_fault_that_lasts_trips_and_aborts_in_the_tick_of_the_trip() -> None:
    rig = heating().run(30)
    seen = [rig.step(bath=missing()) for _ in range(11)]  # the profile waits 10 s
    assert not any(EventName.TRIP_LATCHED in names(events) for events in seen[:10])
    assert names(seen[10]) == [EventName.TRIP_LATCHED, EventName.MODE_CHANGED]
    assert seen[10][0].facts == {
        "cause": "bath-probe-missing",
        "priority": "medium",
        "why": why("bath-probe-missing"),
        "what": "The bath probe gives no value (it does not answer).",
        "action": "Unplug; check the bath probe's plug and wire; replace the probe if that does "
        "not help, then start again.",
    }
    assert rig.is_in(Mode.ABORTING)
    assert rig.state.regulation.duty == 0.0
    assert rig.step()[-1].facts == {"before": "aborting", "after": "aborted"}


def test_a_trip_latches_for_ever_though_the_cause_is_gone() -> None:
    rig = heating()
    for _ in range(11):
        rig.step(bath=missing())
    rig.run(100)
    rig.step(asks(Verb.START), asks(Verb.RESUME), asks(Verb.ACKNOWLEDGE))
    rig.run(20)
    assert rig.causes == ["bath-probe-missing"]
    assert rig.is_in(Mode.ABORTED)
    assert rig.heater_off


def test_the_first_cause_stays_first_and_later_ones_are_appended() -> None:
    rig = heating()
    for _ in range(11):
        rig.step(bath=missing())
    first = rig.state.trips
    for _ in range(11):
        rig.step(bath=missing(), bowl=missing())
    assert rig.causes == ["bath-probe-missing", "bowl-probe-missing"]
    assert rig.state.trips[:1] == first
    assert len(rig.facts(EventName.TRIP_LATCHED)) == 2


def test_a_trip_overrules_what_is_asked_in_the_same_tick() -> None:
    rig = Rig(profile=STILL, bath_c=30.0, bowl_c=30.0)
    for _ in range(5):
        rig.step(bath=missing())
    events = rig.step(asks(Verb.START), bath=missing())
    assert rig.is_in(Mode.ABORTING)
    assert names(events) == [
        EventName.TRIP_LATCHED,
        EventName.REQUEST_REFUSED,
        EventName.MODE_CHANGED,
    ]


def test_a_trip_after_the_end_is_kept_and_leaves_the_run_ended() -> None:
    rig = heating()
    rig.step(asks(Verb.STOP))
    rig.run(2)
    for _ in range(11):
        rig.step(bath=missing())
    assert rig.causes == ["bath-probe-missing"]
    assert rig.is_in(Mode.STOPPED)


@pytest.mark.parametrize(
    "broken",
    [
        {"mode": Mode.IDLE},
        {"mode": Mode.STOPPING},
        {"mode": Mode.ABORTING},
        {"mode": Mode.STOPPED},
        {"mode": Mode.ABORTED},
        {"mode": Mode.COMPLETE},
        {"withheld": ("tick-late",)},
        {"trips": (TRIP,)},
        {"bath_c": 55.01},
        {"bath_c": NAN},
        {"bowl_c": NAN},
        {"bowl_c": math.inf},
    ],
)
def test_the_last_word_on_heat_needs_every_condition(broken: dict[str, Any]) -> None:
    sound = state(bath_c=55.0)
    assert _may_heat(sound, machine(), 55.0)
    assert not _may_heat(replace(sound, **broken), machine(), 55.0)


@pytest.mark.parametrize("mode", [Mode.RUNNING, Mode.PAUSING, Mode.PAUSED, Mode.RESUMING])
def test_heat_is_permitted_in_the_steered_modes(mode: Mode) -> None:
    assert _may_heat(state(mode=mode), machine(), 55.0)


def test_a_closed_relay_opens_in_its_first_second_when_heat_is_withheld() -> None:
    given = state(relay=RelayMemory(on=True, held_s=0.0, owed_s=9.0))
    long = machine(min_on_s=600.0)
    after, commands, _ = tick(given, STILL, long, readings(bath_c=55.5, bowl_c=40.0), 1.0)
    assert not commands.heater_on
    assert after.relay == RelayMemory(on=False, held_s=0.0, owed_s=0.0)


@pytest.mark.parametrize("dt_s", [0.0, -3.0, math.nan])
def test_a_clock_that_does_not_move_on_gives_no_relay_its_rest(dt_s: float) -> None:
    given = state(relay=RelayMemory(on=False, held_s=4.0))
    after, commands, _ = tick(given, STILL, machine(), readings(bath_c=40.0, bowl_c=40.0), dt_s)
    assert not commands.heater_on
    assert after.relay.held_s == 4.0


@pytest.mark.parametrize(
    ("changes", "cut_c"),
    [
        ({}, 55.0),
        ({"bath_never_above_c": 54.0}, 54.0),
        ({"bath_never_above_c": 54.0, "bath_max_c": 53.0}, 53.0),
        ({"phase_cut_c": 90.0, "bath_never_above_c": 90.0, "bath_max_c": 90.0}, 70.0),
    ],
)
def test_the_cut_in_force_is_the_lowest_of_all_limits(
    changes: dict[str, float], cut_c: float
) -> None:
    of = profile(
        phase(bath_cut_c=changes.get("phase_cut_c", 55.0)),
        bath_never_above_c=changes.get("bath_never_above_c", 60.0),
    )
    own = machine(bath_max_c=changes.get("bath_max_c", 62.0))
    over = readings(bath_c=cut_c + 0.01)
    given = state(watch=Watch(memory=Memory(bath=ProbeMemory(value_c=cut_c))))
    after, commands, _ = tick(given, of, own, over, 1.0)
    assert commands.bath_cut_c == cut_c
    assert after.withheld == ("bath-over-limit",)
    after, _, _ = tick(given, of, own, readings(bath_c=cut_c), 1.0)
    assert after.withheld == ()


def test_once_the_bath_has_come_down_the_cut_follows_to_just_over_the_ceiling() -> None:
    of = profile(phase(dwell_s=0.0), phase("hold", bath_ceiling_c=38.0))
    rig = Rig(profile=of, bath_c=51.0, bowl_c=38.0, is_live=False).start()

    def cut_c(bath_c: float) -> float:
        rig.bath_c = bath_c
        rig.step()
        assert rig.commands is not None
        return rig.commands.bath_cut_c

    assert cut_c(51.0) == 55.0  # the phase began with a hot bath: its own cut holds
    assert cut_c(50.0 - CODE_K) == 52.0  # at the ceiling of 50 °C it is down
    assert cut_c(51.0) == 52.0
    rig.bowl_c = 40.0
    rig.run(9, until=lambda r: r.state.progress.phase == 1)
    assert cut_c(49.0) == 55.0  # the next phase has not seen a cool bath yet
    assert [cut_c(c) for c in (46.5, 44.0, 41.5, 39.0, 37.5)] == [55.0, 55.0, 55.0, 55.0, 40.0]
    assert not rig.state.trips


@pytest.mark.parametrize(
    ("never_c", "max_c", "limit_c"), [(58.0, 60.0, 58.0), (58.0, 50.0, 50.0), (90.0, 90.0, 60.0)]
)
def test_the_bowl_s_limit_is_the_lowest_of_all_limits(
    never_c: float, max_c: float, limit_c: float
) -> None:
    of, own = profile(bowl_never_above_c=never_c), machine(bowl_max_c=max_c)
    fell = Progress(start_bowl_c=limit_c + 1.0)  # a bowl that was never under its target
    given = state(progress=fell, watch=Watch(memory=Memory(bowl=ProbeMemory(value_c=limit_c))))
    for bowl_c, withheld in ((limit_c, ()), (limit_c + 0.01, ("bowl-over-limit",))):
        after, _, _ = tick(given, of, own, readings(bowl_c=bowl_c), 1.0)
        assert after.withheld == withheld


def test_probe_offsets_are_applied() -> None:
    own = machine(bath_offset_k=0.5, bowl_offset_k=-0.25)
    after, _, _ = tick(initial_state(), profile(), own, readings(30.0, 31.0), 1.0)
    assert (after.bath_c, after.bowl_c) == (30.5, 30.75)


def test_heat_asked_for_is_counted_from_the_nominal_power() -> None:
    given = state(relay=RelayMemory(on=True, held_s=9.0))
    after, _, _ = tick(given, STILL, machine(), readings(), 1.5)
    assert after.heat_j == 750.0
    assert after.run_s == 101.5
    after, _, _ = tick(state(), STILL, machine(), readings(), 1.5)
    assert after.heat_j == 0.0


# --- time -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("dt_s", [0.0, -1.0, NAN, -math.inf])
def test_a_step_that_is_no_time_withholds_heat_and_counts_as_one_period(dt_s: float) -> None:
    rig = heating()
    before = rig.state.run_s
    rig.step(dt_s=dt_s)
    assert rig.heater_off
    assert rig.state.withheld == ("tick-late",)
    assert rig.state.run_s == before + 1.0


@pytest.mark.parametrize("dt_s", [10.01, 900.0, math.inf])
def test_a_step_that_is_too_long_withholds_heat_and_counts_as_the_longest(dt_s: float) -> None:
    rig = heating()
    before = rig.state.run_s
    rig.step(dt_s=dt_s)
    assert rig.heater_off
    assert rig.state.withheld == ("tick-late",)
    assert rig.state.run_s == before + 10.0


def test_the_longest_good_step_is_ten_seconds() -> None:
    rig = heating()
    rig.step(dt_s=10.0)
    assert rig.heater_on


@pytest.mark.parametrize("late_s", [1.01, NAN, math.inf])
def test_a_late_tick_withholds_heat_and_three_in_a_minute_trip(late_s: float) -> None:
    rig = heating()
    for _ in range(2):
        rig.step(late_s=late_s)
        assert rig.heater_off
    assert rig.causes == []
    rig.run(20)
    assert rig.heater_on
    rig.step(late_s=late_s)
    assert rig.causes == ["tick-late"]


def test_a_tick_late_by_one_period_is_not_yet_late() -> None:
    rig = heating()
    for _ in range(20):
        rig.step(late_s=1.0)
    assert rig.heater_on
    assert rig.causes == []
