"""Limits kept twice and two clocks compared: what withholds heat, what trips."""

import pytest

from controller.core.interlock_rows import Cause
from controller.core.profile import Profile
from controller.core.selfcheck import ClockMemory, Seal, compare_clocks, is_intact, seal
from controller.core.signals import Verb
from controller.core.tick import tick
from tests.helpers.records import replace
from tests.helpers.scene import Rig, asks, heating, machine, phase, profile, readings

OF = profile(phase(), phase(name="hold"))
ON = machine()


def test_sealed_limits_are_intact() -> None:
    sealed = seal(OF, ON)
    assert is_intact(sealed, OF, ON, 0)
    assert is_intact(sealed, OF, ON, 1)


@pytest.mark.parametrize(
    "changed",
    [
        replace(OF, bowl_never_above_c=59.0),
        replace(OF, bath_never_above_c=61.5),
        profile(phase(bath_cut_c=60.0), phase(name="hold")),
        profile(phase(bath_ceiling_c=51.0), phase(name="hold")),
    ],
)
def test_a_profile_s_limit_that_changes_in_mid_run_is_noticed(changed: Profile) -> None:
    assert not is_intact(seal(OF, ON), changed, ON, 0)


@pytest.mark.parametrize("field", ["bath_max_c", "bowl_max_c"])
def test_a_machine_s_limit_that_changes_in_mid_run_is_noticed(field: str) -> None:
    changed = machine(**{field: getattr(ON, field) + 1.0})
    assert not is_intact(seal(OF, ON), OF, changed, 0)


def test_two_copies_that_disagree_are_noticed() -> None:
    sealed = seal(OF, ON)
    first = (sealed.reciprocals[0][0] * 1.001, *sealed.reciprocals[0][1:])
    broken = Seal(sealed.values, (first, *sealed.reciprocals[1:]))
    assert not is_intact(broken, OF, ON, 0)
    assert is_intact(broken, OF, ON, 1)


def test_a_run_whose_limits_are_loosened_trips_in_the_same_tick() -> None:
    rig = heating()
    loosened = replace(rig.machine, bath_max_c=rig.machine.bath_max_c + 5.0)
    state, commands, _ = tick(rig.state, rig.profile, loosened, readings(30.0, 30.0), 1.0)
    assert [trip.cause for trip in state.trips] == ["limits-changed"]
    assert not commands.heater_on


def test_clocks_add_up_within_a_window_and_begin_anew_after_it() -> None:
    memory = ClockMemory()
    for _ in range(60):
        memory = compare_clocks(memory, 1.0, 0.025)
    assert memory.ahead_s == pytest.approx(1.5)
    assert compare_clocks(memory, 1.0, 0.0) == ClockMemory(1.0, 0.0)


@pytest.mark.parametrize("slept_s", [60.0, -60.0, 1.9])
@pytest.mark.parametrize("after_s", [0, 1, 30, 58, 59, 60])
def test_a_sleep_is_remembered_for_a_whole_window_wherever_it_falls(
    after_s: int, slept_s: float
) -> None:
    memory = ClockMemory()
    for _ in range(after_s):
        memory = compare_clocks(memory, 1.0, 0.0)
    parted = [memory := compare_clocks(memory, 1.0, slept_s)]
    parted += [memory := compare_clocks(memory, 1.0, 0.0) for _ in range(100)]
    assert sum(one.ahead_s == slept_s for one in parted) in (60, 61)
    assert parted[-1].ahead_s == 0.0


def test_clocks_that_part_slowly_are_remembered_from_where_they_have_parted() -> None:
    memory = ClockMemory(window_s=50.0, ahead_s=1.75)
    assert compare_clocks(memory, 1.0, 0.04) == ClockMemory(51.0, 1.79)
    assert compare_clocks(memory, 1.0, 0.06) == ClockMemory(0.0, 1.81)
    assert compare_clocks(ClockMemory(50.0, 2.0), 1.0, 0.0) == ClockMemory(51.0, 2.0)


def test_a_suspended_machine_gets_no_heat_until_its_clocks_agree_for_a_minute() -> None:
    rig = Rig(bath_c=30.0, bowl_c=30.0).start()
    rig.run(5)
    assert rig.heater_on
    rig.step(ahead_s=3600.0)
    assert rig.heater_off
    assert "clocks-disagree" in rig.state.withheld
    rig.run(61)
    assert not rig.state.withheld
    assert rig.causes == []


@pytest.mark.parametrize("slept_s", [60.0, -60.0])
def test_what_changed_while_the_computer_slept_accuses_no_part(slept_s: float) -> None:
    rig = heating().run(60)
    rig.bath_c, rig.bowl_c = rig.bath_c + 6.0, rig.bowl_c + 4.0
    rig.step(ahead_s=slept_s)
    assert rig.state.withheld == (Cause.CLOCKS_DISAGREE,)
    assert rig.state.watch.memory.heat.given_s == 0.0  # heat's account is begun anew
    assert rig.state.watch.memory.heat.settling_s > 0.0
    assert rig.state.watch.memory.seen.touched_s != rig.state.run_s  # nobody touched it


def test_a_start_needs_no_second_clock() -> None:
    rig = Rig(bath_c=30.0, bowl_c=30.0)
    rig.step(asks(Verb.START))
    assert rig.heater_on
