"""The guard's one step: silence and lapses, clocks that jump, and who is in charge.

The numbers are the table of the guard's limits, own engineering values, not published.
"""

import pytest

from controller.guard.decision import ECHO, MORE, Cause, Guard
from tests.helpers.guard_scene import BATH_MC, CAP_MC, LIMITS, Scene, heating


def test_wall_lease_one_short_lapse_recovers_with_the_next_good_lease() -> None:
    scene = heating()
    assert not scene.watch(9_900).heat
    assert not scene.look(100, lease=scene.lease._replace(cap_mc=CAP_MC)).heat
    assert scene.guard.latched is Cause.NONE
    assert scene.guard.lapsed
    assert not scene.speak(0, good=False).heat
    assert scene.speak(0, good=True).heat
    assert scene.guard.lapsed is False


def test_wall_lease_a_longer_silence_latches() -> None:
    scene = heating()
    scene.watch(LIMITS.short_lapse_ms)
    assert scene.look(1).latched is Cause.LEASE_LAPSED
    assert not scene.run(10_000).heat


@pytest.mark.parametrize(("looks", "every_ms"), [(100, 100), (10, 1_000), (0, 10_001)])
def test_a_controller_frozen_for_long_never_heats_again_when_it_goes_on(
    looks: int, every_ms: int
) -> None:
    scene = heating()
    scene.watch(looks * every_ms, every_ms)
    for _ in range(50):
        assert not scene.speak(every_ms).heat
    assert scene.guard.latched is Cause.LEASE_LAPSED


def test_a_silence_that_a_lease_ends_in_the_same_step_is_a_lapse_all_the_same() -> None:
    scene = heating()
    scene.speak(LIMITS.lease_ms)
    assert len(scene.guard.lapses_ms) == 0
    scene.look(LIMITS.lease_ms)
    guard = scene.speak(1)
    assert guard.lapses_ms == (scene.now_ms,)
    assert guard.heat


def test_a_lapse_is_counted_once() -> None:
    scene = heating()
    scene.watch(9_000)
    assert len(scene.guard.lapses_ms) == 1


def lapse(scene: Scene) -> Guard:
    """One silence of 2.1 s, and the lease that ends it."""
    scene.watch(2_100)
    return scene.speak(0)


def test_the_third_lapse_in_the_window_latches_at_its_beginning() -> None:
    scene = heating()
    assert lapse(scene).heat
    assert lapse(scene).heat
    scene.run(10_000)
    assert scene.watch(2_000).latched is Cause.NONE
    assert scene.look(1).latched is Cause.LEASE_LAPSED


@pytest.mark.parametrize(("apart_ms", "latched"), [(0, "none"), (-1, "lease-lapsed")])
def test_a_lapse_as_old_as_the_window_counts_no_more(apart_ms: int, latched: str) -> None:
    scene = heating()
    lapse(scene)
    first_ms = scene.guard.lapses_ms[0]
    lapse(scene)
    begins_ms = first_ms + LIMITS.lapse_window_ms + apart_ms
    while scene.now_ms < begins_ms - 3_000:
        scene.speak(1_000)
    scene.speak(begins_ms - 2_001 - scene.now_ms)
    scene.watch(2_000)
    assert scene.look(1).latched == latched
    assert len(scene.guard.lapses_ms) == 2 + (latched != "none")


def test_lapses_of_an_ended_run_are_not_held_against_the_next() -> None:
    scene = heating()
    lapse(scene)
    lapse(scene)
    scene.speak(farewell=True)
    assert scene.guard.lapses_ms == ()
    scene.another()
    scene.speak()
    assert lapse(scene).heat


def test_a_guard_that_stood_still_trusts_no_datagram_that_waited_for_it() -> None:
    scene = heating()
    assert not scene.speak(LIMITS.lease_ms + 1).heat
    assert not scene.speak(0).heat  # taken out of the same queue
    assert scene.guard.lapsed
    assert scene.speak(1).heat


def test_a_guard_that_stood_still_for_long_latches() -> None:
    scene = heating()
    assert scene.speak(LIMITS.short_lapse_ms + 1).latched is Cause.LEASE_LAPSED


def test_a_clock_that_goes_back_gets_no_heat_until_it_has_caught_up() -> None:
    scene = heating()
    assert not scene.speak(-1).heat
    assert scene.guard.seen_ms == scene.now_ms + 1
    assert scene.guard.latched is Cause.NONE
    assert scene.speak(2).heat
    scene.speak(-5_000)
    for _ in range(4):
        assert not scene.speak(1_000).heat
    assert not scene.speak(999).heat


@pytest.mark.parametrize("peer", [8, 0])
def test_a_stranger_in_a_run_latches(peer: int) -> None:
    scene = heating()
    scene.another(peer)
    assert scene.speak().latched is Cause.CONTROLLER_LOST
    assert not scene.guard.heat


def test_a_strangers_farewell_does_not_save_it() -> None:
    scene = heating()
    scene.another()
    assert scene.speak(farewell=True).latched is Cause.CONTROLLER_LOST


def test_without_a_run_a_new_controller_takes_the_place_of_the_old_for_good() -> None:
    scene = Scene()
    scene.speak(heat=False)
    old = scene.lease
    scene.another()
    assert scene.speak(heat=False).peer == 8
    assert scene.guard.barred == (7,)
    assert not scene.look(lease=old._replace(number=50, heat=True)).heat
    assert scene.guard.latched is Cause.NONE
    assert scene.speak(heat=True).heat


def test_a_new_controller_counts_from_one_however_far_the_old_one_had_counted() -> None:
    scene = Scene()
    scene.speak(number=500, heat=False)
    scene.another()
    assert scene.speak().heat


def test_what_the_old_controller_asked_is_not_asked_by_the_new() -> None:
    scene = Scene()
    scene.bath_mc = None
    scene.speak()
    scene.another()
    scene.speak(number=0)
    assert scene.guard.asked is False
    scene.bath_mc = BATH_MC
    assert not scene.look().heat


def test_a_farewell_ends_the_run_and_a_new_controller_may_begin() -> None:
    scene = heating()
    guard = scene.speak(farewell=True)
    assert guard.armed is False
    assert guard.asked is False
    assert guard.peer == 0
    assert scene.watch(60_000).latched is Cause.NONE
    scene.another()
    assert scene.speak().heat


@pytest.mark.parametrize("heated", [True, False])
def test_a_farewell_by_a_trip_latches_until_a_person_re_arms(heated: bool) -> None:
    scene = Scene()
    assert scene.speak(heat=heated).heat is heated
    guard = scene.speak(farewell=True, tripped="level-lost")
    assert guard.latched is Cause.CONTROLLER_TRIPPED
    assert guard.armed is guard.asked is guard.heat is False
    scene.another()
    assert not scene.run(10_000).heat
    scene.look(rearm=True)
    scene.another(9)
    assert scene.speak().heat


@pytest.mark.parametrize("changes", [{}, {"heat": False}, {"good": False}, {"alone": 1}])
def test_a_trip_latches_in_the_very_step_in_which_it_is_told(changes: dict[str, bool]) -> None:
    scene = heating()
    guard = scene.speak(tripped="level-lost", **changes)
    assert guard.latched is Cause.CONTROLLER_TRIPPED
    assert guard.causes == ("level-lost",)
    assert guard.heat is guard.asked is False
    assert guard.armed  # the run is not over
    guard = scene.speak(tripped="", farewell=False, good=True, heat=True)
    assert not guard.heat


def test_a_trip_that_waited_for_the_guard_is_as_true_as_before() -> None:
    scene = heating()
    guard = scene.speak(LIMITS.lease_ms + 1, tripped="level-lost")
    assert guard.latched is Cause.CONTROLLER_TRIPPED


def test_telling_of_a_trip_renews_nothing_and_moves_no_cap() -> None:
    scene = heating()
    before = scene.guard
    guard = scene.speak(tripped="level-lost", cap_mc=0)
    assert (guard.leased_ms, guard.cap_mc) == (before.leased_ms, before.cap_mc)


def test_the_first_cause_stays_and_later_ones_are_kept_beside_it() -> None:
    scene = heating()
    scene.speak(tripped="tick-late")
    scene.speak(tripped="relay-stuck-on")
    scene.speak(tripped="tick-late")
    guard = scene.speak(tripped="tick-late", farewell=True)  # as a run ends: nothing new
    assert guard.latched is Cause.CONTROLLER_TRIPPED
    assert guard.causes == ("tick-late", "relay-stuck-on")
    guard = scene.look(rearm=True)
    assert (guard.latched, guard.causes) == (Cause.NONE, ())


def test_what_the_guard_sees_itself_and_what_it_is_told_are_kept_in_their_order() -> None:
    scene = heating()
    scene.watch(20_000)
    assert scene.speak(tripped="level-lost").causes == ("lease-lapsed", "level-lost")
    scene = heating()
    scene.speak(tripped="level-lost")
    scene.bath_mc = CAP_MC + 1
    scene.watch(LIMITS.over_ms + 1_000)
    guard = scene.look(hung_up=True)
    assert guard.latched is Cause.CONTROLLER_TRIPPED
    assert guard.causes == ("level-lost", "bath-over-cap", "controller-lost")


def test_that_the_controller_tripped_since_the_guard_had_latched_is_no_cause_of_its_own() -> None:
    scene = heating()
    scene.watch(20_000)
    assert scene.speak(tripped=ECHO).causes == ("lease-lapsed",)
    scene = heating()
    assert scene.speak(tripped=ECHO).causes == (ECHO,)  # there must be something


def test_however_many_causes_are_made_up_what_is_remembered_is_bounded_and_grave() -> None:
    scene = heating()
    for number in range(2 * LIMITS.causes_max):
        scene.speak(tripped=f"cause-{number}")
    assert len(scene.guard.causes) == LIMITS.causes_max + 1
    assert scene.guard.causes[-1] == MORE


def test_a_trip_told_by_a_controller_that_is_done_is_nobody_s_any_more() -> None:
    scene = heating()
    scene.look(hung_up=True)
    scene.look(rearm=True)
    assert scene.speak(farewell=True, tripped="level-lost").latched is Cause.NONE


def test_a_trip_told_late_does_not_hide_the_first_cause() -> None:
    scene = heating()
    scene.watch(20_000)
    guard = scene.speak(farewell=True, tripped="level-lost")
    assert guard.latched is Cause.LEASE_LAPSED


def test_after_its_farewell_a_controller_is_not_heard_again() -> None:
    scene = heating()
    scene.speak(farewell=True)
    assert not scene.speak(farewell=False).heat
    assert scene.guard.latched is Cause.NONE


def test_a_hang_up_in_a_run_latches_at_once() -> None:
    scene = heating()
    guard = scene.look(hung_up=True)
    assert guard.latched is Cause.CONTROLLER_LOST
    assert guard.asked is False
    assert not guard.heat


def test_a_hang_up_after_a_farewell_is_in_order_even_in_one_step() -> None:
    scene = heating()
    farewell = scene.lease._replace(number=9, farewell=True)
    assert scene.look(lease=farewell, hung_up=True).latched is Cause.NONE
    assert scene.look(hung_up=True).latched is Cause.NONE


def test_a_last_lease_before_the_hang_up_gets_no_heat() -> None:
    scene = Scene()
    lease = scene.lease._replace(number=1)
    assert not scene.look(lease=lease, hung_up=True).heat
    assert scene.guard.latched is Cause.NONE


def test_without_a_run_a_controller_may_hang_up_and_come_back_with_newer_numbers() -> None:
    scene = Scene()
    scene.speak(heat=False)
    scene.look(hung_up=True)
    old = scene.lease._replace(heat=True)
    assert not scene.look(lease=old).heat
    assert scene.speak(heat=True).heat


def test_only_so_many_old_controllers_are_remembered_the_newest_ones() -> None:
    scene = Scene()
    for peer in range(1, 13):
        scene.another(peer)
        scene.speak(heat=False)
    assert scene.guard.barred == tuple(range(4, 12))
