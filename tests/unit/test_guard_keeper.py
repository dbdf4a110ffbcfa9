"""The order within one cycle of the guard: off before anything, on only after the disk.

Responsible for the cycle with a clock of the test's own and one book of all that happens; the
process around it is in test_guard_start.
"""

import errno
from dataclasses import replace
from itertools import pairwise

import pytest

from controller import notify
from controller.guard import voice as voice_module
from controller.guard.decision import Cause
from controller.guard.keeper import RETRY_MS
from controller.guard.latch import Memory
from controller.guard.messages import Rearm
from controller.guard.resets import Confirm
from controller.guard.voice import MINUTE_MS, MOST_LINES
from tests.helpers.guard_keeping import CYCLE_MS, LIMITS, Beat, Scene


def test_the_armed_mark_is_on_disk_a_whole_cycle_before_the_first_heat() -> None:
    scene = Scene()
    assert scene.cycle(scene.world.lease()) == ["wrote none armed", "told"]
    assert not scene.switches.is_on
    assert scene.cycle() == ["on", "told"]
    assert scene.world.memory == Memory(armed=True)


def test_heat_that_comes_and_goes_within_a_run_writes_nothing_more() -> None:
    scene = Scene()
    scene.heat()
    assert scene.cycle(scene.world.lease(heat=False)) == ["off", "told"]
    assert scene.cycle(scene.world.lease()) == ["on", "told"]


@pytest.mark.parametrize("disk_fails", [False, True])
def test_at_a_trip_the_line_goes_off_before_the_word_and_the_word_before_the_disk(
    disk_fails: bool,
) -> None:
    scene = Scene()
    scene.heat()
    scene.world.disk_fails = disk_fails
    last = "disk failed" if disk_fails else "wrote controller-lost armed"
    assert scene.cycle(hung_up=True) == ["off", "told", last]
    assert scene.says().since_s == scene.world.wall_s


def test_without_a_disk_there_is_no_heat_and_the_cause_is_told() -> None:
    scene = Scene()
    scene.world.disk_fails = True
    assert scene.cycle(scene.world.lease()) == ["disk failed", "told"]
    assert scene.latched is Cause.LATCH_UNREADABLE
    assert scene.says().latched is Cause.LATCH_UNREADABLE
    scene.run(1_000)
    assert not scene.switches.is_on


def test_a_disk_that_comes_back_is_written_at_the_next_try() -> None:
    scene = Scene()
    scene.heat()
    scene.world.disk_fails = True
    scene.cycle(hung_up=True)
    scene.world.disk_fails = False
    assert scene.cycle(after_ms=RETRY_MS - CYCLE_MS) == []
    assert scene.cycle(after_ms=CYCLE_MS) == ["wrote controller-lost armed"]


def test_a_farewell_clears_the_mark() -> None:
    scene = Scene()
    scene.heat()
    bye = scene.world.lease(heat=False, farewell=True)
    assert scene.cycle(bye) == ["off", "told", "wrote none"]


def test_a_trip_that_is_told_is_kept_with_its_word_until_a_person_clears_it() -> None:
    scene = Scene()
    scene.heat()
    lease = scene.world.lease
    last = {"heat": False, "farewell": True, "tripped": "level-lost"}
    did = scene.cycle(lease(), lease(**last), lease(), hung_up=True)
    assert did == ["off", "told", "wrote controller-tripped"]
    assert scene.says().tripped == scene.world.memory.tripped == "level-lost"

    again = Scene(scene.world.memory)
    again.cycle(waiting=[None])
    assert (again.says().latched, again.says().tripped) == ("controller-tripped", "level-lost")
    filled = Rearm(seen=Cause.CONTROLLER_TRIPPED, confirmed=Confirm.FILLED)
    again.cycle(rearm=filled, waiting=[None])
    assert again.world.memory == Memory()
    assert again.says().tripped == ""


def test_a_trip_s_word_is_not_said_of_another_cause() -> None:
    scene = Scene()
    scene.heat()
    late = scene.world.lease(heat=False, farewell=True, tripped="level-lost")
    scene.cycle(late, after_ms=LIMITS.short_lapse_ms + 1)
    assert (scene.says().latched, scene.says().tripped) == ("lease-lapsed", "")
    assert scene.says().also == scene.world.memory.also == ("level-lost",)


def test_a_trip_goes_off_is_told_and_is_on_disk_in_the_cycle_that_hears_of_it() -> None:
    scene = Scene()
    scene.heat()
    lease = scene.world.lease
    did = scene.cycle(lease(heat=False), lease(heat=False, tripped="tick-late"))
    assert did == ["off", "told", "wrote controller-tripped armed"]
    did = scene.cycle(lease(heat=False), lease(heat=False, tripped="relay-stuck-on"))
    assert did == ["told", "wrote controller-tripped armed"]
    memory = scene.world.memory
    assert (memory.tripped, memory.also) == ("tick-late", ("relay-stuck-on",))
    assert scene.cycle(lease(heat=False)) == ["told"]  # nothing new: no disk
    # At its end the run says the first once more, which changes nothing but that it is over.
    did = scene.cycle(lease(heat=False, farewell=True, tripped="tick-late"), hung_up=True)
    assert did == ["told", "wrote controller-tripped"]
    assert scene.world.memory == replace(memory, armed=False)


def test_after_a_power_cut_a_trip_of_minutes_before_is_still_what_must_be_seen_to() -> None:
    scene = Scene()
    scene.heat()
    scene.cycle(scene.world.lease(heat=False, tripped="relay-stuck-on"))
    scene.run(60_000)  # the run lives on, and asks for heat, which it never would
    again = Scene(scene.world.memory)
    assert (again.latched, again.keeper.guard.causes) == ("controller-tripped", ("relay-stuck-on",))
    again.run(11_000, renew=False)
    seen = Rearm(seen=Cause.CONTROLLER_TRIPPED, confirmed=Confirm.LOOKED)
    again.cycle(rearm=seen, waiting=[None])
    assert again.says().latched is Cause.CONTROLLER_TRIPPED


def test_what_the_guard_sees_after_a_trip_is_told_and_kept_too() -> None:
    scene = Scene(mains=True)
    scene.world.live = False
    scene.cycle(scene.world.lease(heat=False, tripped="tick-late"))
    scene.world.live = True  # a switch is stuck closed
    scene.run(LIMITS.mains_ms + 3 * CYCLE_MS, renew=False)
    assert scene.says().latched is Cause.CONTROLLER_TRIPPED
    assert scene.says().also == scene.world.memory.also == ("heater-live-when-off",)


def test_nothing_is_re_armed_while_the_run_is_still_there() -> None:
    scene = Scene()
    scene.heat()
    lease = scene.world.lease
    scene.cycle(lease(heat=False, tripped="tick-late"))
    word = Rearm(seen=Cause.CONTROLLER_TRIPPED)
    scene.cycle(lease(heat=False), rearm=word, waiting=[None])
    assert (scene.says().latched, scene.says().led) == ("controller-tripped", True)
    scene.run(60_000, renew=False)  # frozen, and not gone
    scene.cycle(rearm=word, waiting=[None])
    assert scene.says().latched is Cause.CONTROLLER_TRIPPED
    scene.cycle(lease(heat=False, farewell=True, tripped="tick-late"))
    assert not scene.says().led
    scene.cycle(rearm=word, waiting=[None])
    assert scene.says().latched is Cause.NONE
    # What is left of that run on the line latches nothing any more, and heats nothing.
    scene.cycle(lease(tripped="tick-late"), lease())
    scene.cycle(lease())
    assert (scene.latched, scene.switches.is_on) == (Cause.NONE, False)


def test_a_run_whose_program_died_is_no_longer_there() -> None:
    scene = Scene()
    scene.heat()
    scene.cycle(scene.world.lease(heat=False, tripped="tick-late"))
    scene.cycle(hung_up=True)
    assert scene.says().also == ("controller-lost",)
    assert not scene.says().led
    scene.cycle(rearm=Rearm(seen=Cause.CONTROLLER_TRIPPED, count=2), waiting=[None])
    assert scene.says().latched is Cause.NONE


@pytest.mark.parametrize(
    ("count", "latched"), [(1, "lease-lapsed"), (2, "none"), (3, "lease-lapsed")]
)
def test_a_person_clears_as_many_causes_as_they_were_shown(count: int, latched: str) -> None:
    scene = Scene(Memory(latched=Cause.LEASE_LAPSED, since_s=7, also=("tick-late",)))
    scene.cycle(rearm=Rearm(seen=Cause.LEASE_LAPSED, count=count), waiting=[None])
    assert scene.says().latched == latched


def test_what_was_latched_stays_latched_with_its_time() -> None:
    scene = Scene(Memory(latched=Cause.BATH_OVER_CAP, since_s=7))
    scene.run(200)
    assert not scene.switches.is_on
    assert scene.says().latched is Cause.BATH_OVER_CAP
    assert scene.says().since_s == 7


def test_a_restart_in_mid_run_is_dated_and_written_at_once() -> None:
    scene = Scene(Memory(latched=Cause.GUARD_RESTARTED))
    assert scene.cycle() == ["wrote guard-restarted"]
    assert scene.world.memory.since_s == scene.world.wall_s
    assert scene.latched is Cause.GUARD_RESTARTED


def test_a_person_clears_only_what_they_saw() -> None:
    scene = Scene(Memory(latched=Cause.LEASE_LAPSED, since_s=7))
    scene.cycle(rearm=Rearm(seen=Cause.CONTROLLER_LOST), waiting=[None])
    assert scene.says().latched is Cause.LEASE_LAPSED
    did = scene.cycle(rearm=Rearm(seen=Cause.LEASE_LAPSED), waiting=[None])
    assert did == ["told", "wrote none"]
    assert scene.says().latched is Cause.NONE
    assert scene.says().since_s == 0


def test_leases_that_waited_while_the_guard_stood_still_are_old() -> None:
    scene = Scene()
    scene.heat()
    scene.cycle(scene.world.lease(), after_ms=LIMITS.short_lapse_ms + 1)
    assert scene.latched is Cause.LEASE_LAPSED
    assert not scene.switches.is_on


def test_leases_that_a_cycle_left_for_the_next_are_as_old() -> None:
    scene = Scene()
    lease = scene.world.lease
    scene.cycle(lease(heat=False))
    gap_ms = LIMITS.lease_ms + 1
    assert "on" not in scene.cycle(lease(), after_ms=gap_ms, more=True)
    for more in (True, True, False):
        scene.cycle(lease(), more=more)
        assert not scene.keeper.guard.armed
    scene.cycle(lease())
    assert scene.keeper.guard.armed


def test_without_a_standstill_what_is_left_for_the_next_cycle_is_young_enough() -> None:
    scene = Scene()
    scene.cycle(scene.world.lease(), after_ms=LIMITS.lease_ms, more=True)
    scene.cycle(scene.world.lease(), more=True)
    assert scene.switches.is_on


def test_every_lease_of_a_cycle_counts_and_a_hang_up_after_them() -> None:
    scene = Scene()
    scene.heat()
    did = scene.cycle(scene.world.lease(), scene.world.lease(), hung_up=True)
    assert did[0] == "off"
    assert scene.latched is Cause.CONTROLLER_LOST


def test_wall_time_is_only_ever_shown() -> None:
    scene = Scene()
    scene.heat()
    for wall_s in (0, 2**40, 5):
        scene.world.wall_s = wall_s
        scene.run(500)
        assert scene.switches.is_on


def test_mains_that_stay_dead_or_live_are_seen() -> None:
    scene = Scene(mains=True)
    scene.world.live = False
    scene.heat()
    scene.run(LIMITS.mains_ms + 3 * CYCLE_MS)
    assert scene.latched is Cause.HEATER_DEAD_WHEN_ON

    scene = Scene(mains=True)
    scene.world.live = True
    scene.run(LIMITS.mains_ms + 3 * CYCLE_MS, renew=False)
    assert scene.latched is Cause.HEATER_LIVE_WHEN_OFF


def test_what_the_mains_live_input_sees_is_told_as_soon_as_it_changes() -> None:
    scene = Scene(mains=True)
    scene.world.live = False
    scene.run(1_000)
    before = len(scene.world.said)
    scene.world.live = True
    scene.run(CYCLE_MS, renew=False)
    assert [status.live for status in scene.world.said[before:]] == [True]
    assert {status.live for status in scene.world.said[:before]} == {False}


def test_the_heartbeat_toggles_about_five_times_a_second_and_dies_with_a_latch() -> None:
    scene = Scene()
    scene.run(1_000)
    levels = scene.heartbeat.levels
    assert len(levels) == 10
    assert all(one is not other for one, other in pairwise(levels))
    scene.cycle(hung_up=True)
    assert scene.latched is Cause.CONTROLLER_LOST
    scene.run(1_000, renew=False)
    assert levels[-9:] == [False] * 9


def test_a_cycle_that_breaks_off_beats_and_feeds_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    fed: list[str] = []
    monkeypatch.setattr(notify, "alive", lambda: fed.append("fed"))
    scene = Scene(mains=True)
    scene.cycle()
    assert fed == ["fed"]

    def gone(_self: Beat) -> bool:
        raise OSError(errno.ENODEV, "No such device")

    monkeypatch.setattr(Beat, "read", gone)
    with pytest.raises(OSError, match="No such device"):
        scene.cycle(after_ms=1_000)
    assert fed == ["fed"]
    assert scene.heartbeat.levels == []


def test_whoever_latches_and_rearms_all_the_time_fills_no_log(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lines: list[str] = []
    monkeypatch.setattr(voice_module, "say", lines.append)
    scene = Scene()
    for peer in range(3 * MOST_LINES):
        scene.cycle(scene.world.lease(peer=100 + peer))
        scene.cycle(hung_up=True)
        scene.cycle(rearm=Rearm(seen=Cause.CONTROLLER_LOST))
    kinds = ("armed:", "latched controller-lost:", "re-armed")
    assert [sum(line.startswith(kind) for line in lines) for kind in kinds] == [MOST_LINES] * 3
    said = len(lines)
    scene.cycle(after_ms=MINUTE_MS)
    assert lines[said].startswith(f"{3 * 2 * MOST_LINES} more lines")
