"""A bus that blocks in the kernel: the loop goes on to the second, and says what is wrong.

Responsible for a thermometer's file that blocks for half a minute of the run's own time, under the
real loop, drivers and threads; not for broken files, which answer at once.
"""

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.core.state import Mode
from controller.ports import Moment
from hardware import bus
from tests.helpers.file_machine import HWMON, FileMachine

LONG_S = 20.0  # a time-out, never waited for in full
BEGINS_S = 100
BLOCKED_S = 30
SHORT_S = 10  # shorter than a stale value may last
STALE_AFTER_S = 5
WAIT_S = 10
AFTER_S = 20


class Rounds:
    """The buses of a machine, whose measurements are waited for: real threads, real files."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """None yet."""
        self.taken = threading.Semaphore(0)
        take = bus.Thermometer.take

        def counted(thermometer: bus.Thermometer) -> None:
            take(thermometer)
            self.taken.release()

        monkeypatch.setattr(bus.Thermometer, "take", counted)
        monkeypatch.setattr(bus, "PAUSE_S", 0.0001)

    def wait(self, count: int) -> None:
        """Until so many more measurements have been taken."""
        while self.taken.acquire(blocking=False):
            pass
        for _ in range(count):
            assert self.taken.acquire(timeout=LONG_S)


def block(file: Path) -> None:
    """Let whoever opens that file wait."""
    os.mkfifo(file)


def unblock(file: Path) -> None:
    """Answer whoever waits there, and let nobody wait any more."""
    handle = os.open(file, os.O_WRONLY)
    file.unlink()
    os.write(handle, b"0\n")
    os.close(handle)


@pytest.fixture(autouse=True)
def _nobody_waits_afterwards() -> Iterator[None]:
    """Every thread must have come back from its file."""
    yield
    for thread in [one for one in threading.enumerate() if one.name.startswith("bus ")]:
        thread.join(LONG_S)
        assert not thread.is_alive()


def run(root: Path, number: int, monkeypatch: pytest.MonkeyPatch, lasts_s: int) -> list[Moment]:
    """The loop over two buses, one of which blocks for so many seconds of its time."""
    rounds, machine = Rounds(monkeypatch), FileMachine(root, HWMON)
    # The driver looks there first; the bench writes no such file.
    file = root / f"sys/class/hwmon/hwmon{number}/temp1_fault"
    over_s = BEGINS_S + lasts_s

    def due(now_s: float) -> None:
        machine.files.show(now_s)
        if now_s == BEGINS_S:
            block(file)
        elif now_s == over_s:
            unblock(file)
        elif now_s == over_s + AFTER_S:
            machine.halt()
        rounds.wait(4)  # while one bus is blocked the other goes on alone

    with machine.linux:
        moments = machine.run(due)
        if file.exists():
            unblock(file)
    return moments


def assert_no_tick_was_late(moments: list[Moment]) -> None:
    """Each second has its tick, none skipped."""
    assert [moment.now_s for moment in moments] == [float(tick) for tick in range(len(moments))]
    causes = {notice.cause for moment in moments for notice in moment.state.notices}
    assert "tick-late" not in causes


@pytest.mark.parametrize(("number", "which"), [(0, "bath"), (1, "bowl")])
def test_a_bus_that_blocks_ends_in_its_cause_with_heat_off_and_makes_no_tick_late(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, which: str
) -> None:
    moments = run(tmp_path, number, monkeypatch, BLOCKED_S)
    assert_no_tick_was_late(moments)
    assert all(moment.heater_on for moment in moments[BEGINS_S - 15 : BEGINS_S])
    assert not any(moment.heater_on for moment in moments[BEGINS_S + STALE_AFTER_S + 1 :])
    last = moments[-1].state
    assert last.mode is Mode.ABORTED
    assert [trip.cause for trip in last.trips] == [f"{which}-probe-stale"]
    assert last.trips[0].at_s <= BEGINS_S + STALE_AFTER_S + WAIT_S + 2
    assert len(moments) > BEGINS_S + BLOCKED_S  # stirring went on, and with it the loop


@pytest.mark.parametrize("number", [0, 1])
def test_a_bus_that_blocks_for_ten_seconds_withholds_heat_and_no_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    moments = run(tmp_path, number, monkeypatch, SHORT_S)
    assert_no_tick_was_late(moments)
    assert moments[-1].state.trips == ()
    heated = [moment.heater_on for moment in moments]
    assert not any(heated[BEGINS_S + STALE_AFTER_S + 1 : BEGINS_S + SHORT_S])
    assert any(heated[BEGINS_S + SHORT_S : BEGINS_S + SHORT_S + AFTER_S])
