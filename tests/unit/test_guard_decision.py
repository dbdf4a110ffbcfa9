"""The guard's one step: each condition for heat, thermometer and caps, latch, read-back.

The numbers are the table of the guard's limits, own engineering values, not published.
"""

import pytest

from controller.guard.decision import Cause, Guard, Lease, Limits, Sight, begin
from tests.helpers.guard_scene import BATH_MC, CAP_MC, LIMITS, START_MS, Scene, heating


@pytest.mark.parametrize("cause", list(Cause))
def test_a_guard_begins_off_whatever_its_latch_file_said(cause: Cause) -> None:
    guard = begin(START_MS, cause)
    assert not guard.heat
    assert not guard.armed
    assert guard.latched is cause
    assert Scene(latched=cause).speak().heat is (cause is Cause.NONE)


def test_the_limits_are_those_of_the_table() -> None:
    assert Limits(cap_mc=1) == Limits(
        cap_mc=1,
        lease_ms=2_000,
        short_lapse_ms=10_000,
        lapses_max=3,
        lapse_window_ms=60_000,
        sample_age_ms=5_000,
        sample_lost_ms=30_000,
        over_ms=2_000,
        mains_ms=3_000,
        barred_max=8,
    )


def test_nothing_is_assumed_of_a_sight_or_of_a_guard() -> None:
    assert Sight(now_ms=5) == Sight(
        now_ms=5,
        lease=None,
        hung_up=False,
        bath_mc=None,
        bath_age_ms=0,
        mains_live=None,
        rearm=False,
    )
    assert begin(5, Cause.NONE) == Guard(
        heat=False,
        latched=Cause.NONE,
        armed=False,
        peer=0,
        number=0,
        barred=(),
        asked=False,
        cap_mc=0,
        leased_ms=0,
        lapsed=False,
        lapses_ms=(),
        seen_ms=5,
        gap_ms=4,
        sampled_ms=5,
        over=False,
        within_ms=5,
        agreed_ms=5,
    )
    assert not Lease(peer=1, number=1, heat=True, cap_mc=1, good=True).farewell
    assert not Lease(peer=1, number=1, heat=True, cap_mc=1, good=True).tripped


def test_a_good_lease_that_asks_gets_heat_at_once_and_arms() -> None:
    guard = Scene().speak()
    assert guard.heat
    assert guard.armed


@pytest.mark.parametrize(
    "changes", [{"heat": False}, {"good": False}, {"farewell": True}, {"peer": 0}, {"number": 0}]
)
def test_a_lease_that_does_not_ask_rightly_gets_none(changes: dict[str, int]) -> None:
    guard = Scene().speak(**changes)
    assert not guard.heat
    assert not guard.armed


def test_nobody_is_never_in_charge() -> None:
    scene = Scene()
    assert not scene.speak(peer=0).heat
    assert scene.guard.peer == 0
    assert not scene.speak(peer=0).heat


@pytest.mark.parametrize("changes", [{"heat": False}, {"good": False}, {"farewell": True}])
def test_heat_ends_in_the_step_that_sees_such_a_lease(changes: dict[str, bool]) -> None:
    guard = heating().speak(**changes)
    assert not guard.heat
    assert guard.latched is Cause.NONE


def test_heat_lasts_for_the_time_of_a_lease_and_not_a_moment_longer() -> None:
    scene = heating()
    assert scene.look(LIMITS.lease_ms).heat
    assert not scene.look(1).heat


def test_a_repeated_or_older_number_extends_nothing() -> None:
    scene = heating()
    first = scene.lease
    newest = scene.speak(1_000).number
    for old in (first, scene.lease, first._replace(cap_mc=59_000)):
        scene.look(500, lease=old)
    assert scene.guard.number == newest
    assert scene.guard.cap_mc == CAP_MC
    assert not scene.look(501, lease=first).heat


def test_numbers_may_leave_some_out() -> None:
    scene = heating()
    scene.speak(1_500, number=500)
    assert scene.watch(1_900).heat


def test_a_bad_lease_uses_its_number_up_and_renews_nothing() -> None:
    scene = heating()
    scene.speak(1_000, good=False)
    assert not scene.look(100, lease=scene.lease._replace(good=True)).heat
    assert scene.guard.leased_ms == START_MS + 100
    assert scene.guard.asked is False


@pytest.mark.parametrize(
    ("bath_mc", "age_ms", "heat"),
    [
        (BATH_MC, 0, True),
        (BATH_MC, LIMITS.sample_age_ms, True),
        (BATH_MC, LIMITS.sample_age_ms + 1, False),
        (BATH_MC, -1, False),
        (None, 0, False),
        (CAP_MC, 0, True),
        (CAP_MC + 1, 0, False),
    ],
)
def test_wall_guard_thermometer_heat_needs_its_own_fresh_value_within_the_cap(
    bath_mc: int | None, age_ms: int, heat: object
) -> None:
    scene = heating()
    scene.bath_mc, scene.age_ms = bath_mc, age_ms
    assert scene.look().heat is heat


@pytest.mark.parametrize("asked_mc", [60_000, 60_001, 90_000])
def test_wall_cap_no_lease_raises_the_machines_limit(asked_mc: int) -> None:
    scene = Scene()
    scene.bath_mc = LIMITS.cap_mc
    assert scene.speak(cap_mc=asked_mc).heat
    scene.bath_mc = LIMITS.cap_mc + 1
    assert not scene.speak().heat


def test_wall_cap_a_phases_lower_cap_counts_from_the_lease_that_brings_it() -> None:
    scene = heating()
    assert not scene.speak(cap_mc=BATH_MC - 1).heat
    assert scene.speak(cap_mc=BATH_MC).heat


def test_over_the_cap_drops_heat_at_once_and_latches_later_even_if_nobody_speaks() -> None:
    scene = heating()
    scene.bath_mc = CAP_MC + 1
    assert not scene.look().heat
    assert scene.look(LIMITS.over_ms - 100).latched is Cause.NONE
    assert scene.look(1).latched is Cause.BATH_OVER_CAP
    scene.bath_mc = BATH_MC
    assert not scene.speak().heat


def test_a_short_excess_is_forgotten() -> None:
    scene = heating()
    for bath_mc in (CAP_MC + 1, BATH_MC) * 20:
        scene.bath_mc = bath_mc
        scene.speak(1_000)
    assert scene.guard.latched is Cause.NONE
    assert scene.guard.heat


def test_a_thermometer_that_falls_silent_does_not_end_an_excess() -> None:
    scene = heating()
    scene.bath_mc = CAP_MC + 1
    scene.speak()
    scene.bath_mc = None
    assert scene.speak(LIMITS.over_ms - 100).latched is Cause.NONE
    assert scene.speak(1).latched is Cause.BATH_OVER_CAP


def test_a_thermometer_that_falls_silent_does_not_begin_an_excess() -> None:
    scene = heating()
    scene.bath_mc = None
    scene.run(10_000)
    scene.bath_mc = CAP_MC + 1
    assert scene.speak(1_000).latched is Cause.NONE


def test_a_thermometer_without_a_value_latches_after_its_time() -> None:
    scene = heating()
    scene.bath_mc = None
    scene.run(29_000)
    assert scene.speak(1_000).latched is Cause.NONE
    assert scene.speak(1).latched is Cause.GUARD_PROBE_LOST


def test_the_time_without_a_value_counts_from_when_the_last_one_was_measured() -> None:
    scene = heating()
    scene.age_ms = 4_000
    scene.look(0)
    scene.bath_mc = None
    scene.run(25_000)
    assert scene.speak(1_000).latched is Cause.NONE
    assert scene.speak(1).latched is Cause.GUARD_PROBE_LOST


def test_without_a_run_neither_bath_nor_thermometer_nor_silence_latches() -> None:
    for bath_mc in (CAP_MC + 20_000, None):
        scene = Scene()
        scene.bath_mc = bath_mc
        for _ in range(60):
            scene.speak(1_000)
        assert scene.watch(60_000).latched is Cause.NONE
        scene.bath_mc = BATH_MC
        assert scene.speak().heat


def test_wall_latch_the_first_cause_stays_whatever_comes() -> None:
    scene = heating(mains=True)
    scene.look(hung_up=True)
    scene.stuck = True
    scene.bath_mc = CAP_MC + 1
    scene.watch(60_000)
    scene.another()
    scene.run(10_000)
    scene.speak(farewell=True)
    assert scene.guard.latched is Cause.CONTROLLER_LOST


@pytest.mark.parametrize("cause", [cause for cause in Cause if cause is not Cause.NONE])
def test_wall_latch_no_heat_until_a_person_re_arms(cause: Cause) -> None:
    scene = Scene(latched=cause)
    assert not scene.run(100_000).heat
    scene.look(rearm=True)
    assert scene.guard.latched is Cause.NONE
    assert not scene.guard.heat
    scene.another()
    assert scene.speak().heat


def test_a_re_arm_gives_the_old_run_nothing_though_its_controller_still_asks() -> None:
    scene = heating()
    scene.bath_mc = CAP_MC + 1
    assert scene.run(3_000).latched is Cause.BATH_OVER_CAP
    scene.bath_mc = BATH_MC
    scene.look(rearm=True)
    guard = scene.run(10_000)
    assert not guard.heat
    assert guard.latched is Cause.NONE
    scene.another()
    assert scene.speak().heat


def test_after_a_re_arm_neither_of_two_controllers_heats() -> None:
    scene = heating()
    zombie = scene.lease
    scene.another()
    scene.speak()
    scene.look(rearm=True)
    assert scene.guard.barred == (7, 8)
    assert not scene.speak().heat
    assert not scene.look(lease=zombie._replace(number=1_000)).heat


def test_a_re_arm_while_nothing_is_latched_does_nothing() -> None:
    scene = heating()
    guard = scene.look(rearm=True)
    assert guard.heat
    assert guard.peer == 7


def test_a_re_arm_forgets_the_old_runs_lapses_and_times() -> None:
    scene = heating()
    scene.watch(20_000)
    # No cap is in force yet, so any bath is over it.
    assert scene.look(rearm=True) == begin(scene.now_ms, Cause.NONE)._replace(
        barred=(7,), gap_ms=START_MS - 1, over=True
    )


def test_a_re_arm_in_the_step_after_a_gap_still_trusts_no_old_datagram() -> None:
    scene = Scene(latched=Cause.GUARD_RESTARTED)
    scene.now_ms += 60_000
    lease = scene.lease._replace(number=1)
    assert not scene.look(lease=lease, rearm=True).heat


def test_wall_read_back_a_heater_live_when_off_latches_without_a_run_too() -> None:
    scene = Scene()
    scene.stuck = True
    scene.watch(LIMITS.mains_ms)
    assert scene.guard.latched is Cause.NONE
    assert scene.look(1).latched is Cause.HEATER_LIVE_WHEN_OFF


def test_wall_read_back_a_heater_live_when_told_off_in_a_run_latches() -> None:
    scene = heating(mains=True)
    scene.run(10_000)
    scene.speak(heat=False)
    scene.stuck = True
    scene.run(3_000)
    assert scene.guard.latched is Cause.NONE
    assert scene.look(1).latched is Cause.HEATER_LIVE_WHEN_OFF


def test_wall_read_back_a_heater_dead_when_told_on_latches() -> None:
    scene = heating(mains=True)
    scene.look()
    scene.stuck = False
    scene.run(3_000)
    assert scene.guard.latched is Cause.NONE
    assert scene.look(1).latched is Cause.HEATER_DEAD_WHEN_ON
    assert not scene.guard.heat


def test_mains_that_follow_the_switch_are_in_order() -> None:
    scene = Scene(mains=True)
    for second in range(100):
        scene.speak(1_000, heat=second % 4 < 2)
    assert scene.guard.latched is Cause.NONE


def test_of_two_causes_in_one_step_the_stuck_switch_is_said() -> None:
    scene = heating(mains=True)
    scene.speak(heat=False)
    scene.stuck, scene.bath_mc = True, CAP_MC + 1
    assert scene.look(LIMITS.mains_ms + 1).latched is Cause.HEATER_LIVE_WHEN_OFF


@pytest.mark.parametrize("alone", [1, 2])
def test_a_switch_is_tested_alone_where_heat_might_be_on(alone: int) -> None:
    scene = Scene(mains=True)
    tested = scene.speak(alone=alone)
    assert (tested.heat, tested.alone, tested.armed) == (True, alone, True)
    assert scene.look().alone == alone
    both = scene.speak(alone=0)
    assert (both.heat, both.alone) == (True, 0)
    assert scene.watch(10_000).latched is Cause.NONE or not scene.guard.heat


def test_no_switch_is_tested_without_every_condition_for_heat() -> None:
    scene = Scene()
    scene.bath_mc = CAP_MC + 1
    assert (scene.speak(alone=1).heat, scene.guard.alone) == (False, 0)
    scene.bath_mc = None
    assert (scene.speak(alone=1).heat, scene.guard.alone) == (False, 0)
    scene.bath_mc = CAP_MC - 1
    assert (scene.speak(alone=1, good=False).heat, scene.guard.alone) == (False, 0)
    assert (scene.speak(alone=1, heat=False, good=True).heat, scene.guard.alone) == (False, 0)
    assert Scene(latched=Cause.BATH_OVER_CAP).speak(alone=1).alone == 0
    scene.speak(alone=1, heat=True)
    assert scene.look(LIMITS.lease_ms + 1).alone == 0


def test_wall_read_back_a_heater_that_is_live_by_one_switch_alone_latches() -> None:
    scene = Scene(mains=True)
    scene.speak(alone=1)
    scene.stuck = True
    for _ in range(3):
        scene.speak(1_000)
    assert scene.guard.latched is Cause.NONE
    assert scene.speak(1_000).latched is Cause.HEATER_LIVE_WHEN_OFF
    assert (scene.guard.heat, scene.guard.alone) == (False, 0)


def test_a_heater_that_stays_dead_by_one_switch_alone_is_in_order() -> None:
    scene = Scene(mains=True)
    for _ in range(10):
        scene.speak(1_000, alone=2)
    assert scene.guard.latched is Cause.NONE
