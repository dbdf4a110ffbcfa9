"""Looking at the computer: numbers from handed-in sources and clocks, and from the real ones."""

import math
import threading
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from controller.core.state import Event, EventName
from controller.core.vitals import Vitals
from controller.errors import AccessError, BusyError, Exit
from controller.ports import Moment
from controller.trials import Trial
from controller.trials.trial import set_up
from controller.wiring import execute
from controller.wiring.self_watch import (
    SelfWatch,
    Sources,
    disk_left_mb,
    held_mb,
    lateness_s,
    left_mb,
    real_sources,
    refuse_unless_sound,
)

MINUTE_S = 60.0


@dataclass
class Computer:
    """A computer of which a test says all."""

    held: float = 50.0
    left: float = 900.0
    names: tuple[str, ...] = ("MainThread", "journal", "link", "bus w1", "keyboard")
    disk: float = 9000.0
    wall: float = 1.7e9
    boot: float = 1000.0
    fault: str = ""
    looks: list[Vitals] = field(default_factory=list)

    def sources(self) -> Sources:
        """What the self-watch is given to look at."""
        return Sources(
            held_mb=lambda: self.held,
            left_mb=lambda: self.left,
            threads=lambda: self.names,
            disk_left_mb=lambda: self.disk,
            wall_s=lambda: self.wall,
            boot_s=lambda: self.boot,
        )

    def pass_s(self, seconds: float) -> None:
        """Both clocks go on."""
        self.wall += seconds
        self.boot += seconds


@dataclass
class Listener:
    """A teller that keeps what happened."""

    events: list[Event] = field(default_factory=list)

    def tell(self, moment: Moment) -> None:
        """Keep what happened in one tick."""
        self.events += moment.events


def watched(computer: Computer) -> SelfWatch:
    return SelfWatch(computer.sources(), lambda: computer.fault)


def test_memory_counts_from_ten_minutes_after_the_start() -> None:
    computer = Computer()
    watch = watched(computer)
    grown = []
    for held in (50.0, 80.0, 81.0, 90.0, 160.0):
        computer.held = held
        grown.append(watch.look().memory_grown_mb)
        computer.pass_s(5 * MINUTE_S)
    assert grown == [0.0, 0.0, 1.0, 10.0, 80.0]


def test_a_run_whose_first_look_comes_late_counts_from_it() -> None:
    computer = Computer()
    watch = watched(computer)
    computer.pass_s(20 * MINUTE_S)
    assert watch.look().memory_grown_mb == 0.0


def test_only_threads_that_a_run_needs_are_missed() -> None:
    computer = Computer()
    watch = watched(computer)
    assert watch.look().ended == ()
    computer.names = ("MainThread", "link")
    seen = watch.look()
    assert (seen.ended, seen.threads) == (("bus w1", "journal"), 2)


def test_a_time_of_day_that_is_set_is_told_once_however_long_the_looks_are_apart() -> None:
    computer = Computer()
    watch = watched(computer)
    computer.pass_s(10.0)
    assert watch.look().clock_jump_s == pytest.approx(0.0)
    computer.wall -= 3600.0
    computer.pass_s(90.0)
    assert watch.look().clock_jump_s == pytest.approx(-3600.0)
    computer.pass_s(10.0)
    assert watch.look().clock_jump_s == pytest.approx(0.0)


def test_disk_memory_and_the_record_s_fault_are_handed_on() -> None:
    computer = Computer(left=70.0, disk=4.0, fault="No space left on device")
    seen = watched(computer).look()
    assert (seen.memory_left_mb, seen.disk_left_mb) == (70.0, 4.0)
    assert seen.record_fault == "No space left on device"


def test_a_look_grows_old_until_the_next() -> None:
    computer = Computer()
    watch = watched(computer)
    assert watch.read() is None
    watch.look()
    computer.pass_s(61.0)
    read = watch.read()
    assert read is not None
    assert read.age_s == 61.0


def test_the_thread_looks_at_once_and_ends_when_told() -> None:
    computer = Computer()
    watch = watched(computer)
    watch.start()
    assert watch.read() is not None
    thread = next(one for one in threading.enumerate() if one.name == "self-watch")
    watch.stop()
    thread.join(10.0)
    assert not thread.is_alive()


@pytest.mark.parametrize(
    ("computer", "late_s", "error", "said"),
    [
        (Computer(disk=20.0), 0.0, AccessError, r"disk-nearly-full.*20 MB left.*--journal-dir"),
        (Computer(left=20.0), 0.0, BusyError, r"memory-short.*20 MB of memory.*End other"),
        (Computer(), 2.0, BusyError, r"computer-busy.*2\.0 s too long.*End other programs"),
    ],
)
def test_no_run_starts_on_a_computer_that_can_not_carry_it(
    computer: Computer, late_s: float, error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        refuse_unless_sound(computer.sources(), lambda: late_s)


def test_what_is_gone_a_moment_later_keeps_no_run_from_starting() -> None:
    waits = iter((2.0, 0.01))
    refuse_unless_sound(Computer().sources(), lambda: next(waits))
    assert list(waits) == []


def test_this_very_computer_tells_of_itself(tmp_path: Path) -> None:
    seen = SelfWatch(real_sources(tmp_path)).look()
    assert 1.0 < seen.memory_left_mb < 1e8
    assert 0.0 <= seen.disk_left_mb < 1e10
    assert seen.threads >= 1
    assert 5.0 < held_mb() < 1e5
    assert lateness_s() >= 0.0


def test_a_run_tells_what_its_computer_lacks_and_goes_on_heating() -> None:
    computer = Computer(disk=3.0, names=("MainThread",), left=12.0)
    stage = set_up(Trial(profile="water-trial", machine="brisk", give_up_after_s=60.0))
    listener = Listener()
    result = execute(replace(stage.order, looks_at=computer.sources(), tellers=(listener,)))
    raised = {
        str(event.facts["cause"]): (event.facts["what"], event.facts["heat_withheld"])
        for event in listener.events
        if event.name is EventName.ALARM_RAISED
    }
    assert raised["disk-nearly-full"] == ("The disk of the record has 3 MB left.", False)
    assert raised["memory-short"] == ("The computer has 12 MB of memory left.", False)
    assert (result.outcome, result.state.trips) == (Exit.STOPPED, ())
    assert result.state.heat_j > 0.0


def test_what_the_kernel_does_not_say_is_not_a_number(tmp_path: Path) -> None:
    none, odd = tmp_path / "none", tmp_path / "odd"
    odd.write_text("MemAvailable: many\n")
    for path in (none, odd):
        assert math.isnan(held_mb(path))
        assert math.isnan(left_mb(path))
    assert math.isnan(disk_left_mb(none))
