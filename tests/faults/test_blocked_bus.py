"""A bus that blocks in the kernel: the loop goes on to the second, and says what is wrong.

Responsible for a thermometer's file that blocks for half a minute of the run's own time, under the
real loop, drivers and threads; not for broken files, which answer at once.
"""

import os
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import pytest

from controller.core.state import Mode
from controller.ports import Moment
from hardware import bus
from hardware.bench.kernel_files import ONE_WIRE_IDS
from hardware.linux.attach import ThermometerPlan
from tests.helpers.file_machine import COUPLE, HWMON, NTC, ONE_WIRE, PLATINUM, FileMachine

LONG_S = 60.0  # a time-out, never waited for in full
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


@dataclass(slots=True)
class Block:
    """A file at which its reader waits for as long as wanted."""

    file: Path
    content: bytes | None = None  # as it was before; None: it wasn't there

    def begin(self) -> None:
        """Let whoever opens that file wait."""
        self.content = self.file.read_bytes() if self.file.exists() else None
        draft = self.file.with_name(".fifo")
        os.mkfifo(draft)
        draft.replace(self.file)  # at once, so that nobody finds no file

    def end(self) -> None:
        """Answer whoever waits there, and let nobody wait any more."""
        if not self.file.is_fifo():
            return
        handle = os.open(self.file, os.O_WRONLY)
        if self.content is None:
            self.file.unlink()
        else:
            draft = self.file.with_name(".file")
            draft.write_bytes(self.content)
            draft.replace(self.file)
        os.write(handle, self.content or b"0\n")
        os.close(handle)


class Case(NamedTuple):
    """A kind of bus, the file at which its driver will wait, and whose thermometer it is."""

    kind: tuple[ThermometerPlan, ThermometerPlan]
    file: str  # for hwmon one that the bench doesn't write, and that the driver looks for first
    which: str
    is_only_bus: bool = False  # both thermometers wait


IIO = "sys/bus/iio/devices/iio:device"
CASES = {
    "hwmon, bath": Case(HWMON, "sys/class/hwmon/hwmon0/temp1_fault", "bath"),
    "hwmon, bowl": Case(HWMON, "sys/class/hwmon/hwmon1/temp1_fault", "bowl"),
    "1-wire": Case(
        ONE_WIRE, f"sys/bus/w1/devices/{ONE_WIRE_IDS['bath']}/w1_slave", "bath", is_only_bus=True
    ),
    "platinum": Case(PLATINUM, f"{IIO}0/in_temp_raw", "bath"),
    "thermocouple": Case(COUPLE, f"{IIO}3/in_temp_raw", "bath"),
    "thermistor, bowl": Case(NTC, f"{IIO}7/in_voltage0_raw", "bowl"),
}


@pytest.fixture(autouse=True)
def _nobody_waits_afterwards() -> Iterator[None]:
    """Every thread must have come back from its file."""
    yield
    for thread in [one for one in threading.enumerate() if one.name.startswith("bus ")]:
        thread.join(LONG_S)
        assert not thread.is_alive()


def run(root: Path, case: Case, monkeypatch: pytest.MonkeyPatch, lasts_s: int) -> list[Moment]:
    """The loop over buses, one of which blocks for so many seconds of its time."""
    rounds, machine = Rounds(monkeypatch), FileMachine(root, case.kind)
    block, over_s = Block(root / case.file), BEGINS_S + lasts_s

    def due(now_s: float) -> None:
        is_blocked = BEGINS_S <= now_s < over_s
        if now_s == BEGINS_S:
            block.begin()
        elif now_s == over_s:
            block.end()  # before the bench writes another file in its place
        elif now_s == over_s + AFTER_S:
            machine.halt()
        if not is_blocked:
            machine.files.show(now_s)
        if not (is_blocked and case.is_only_bus):
            rounds.wait(4)  # while one bus is blocked the other goes on alone

    with machine.linux:
        moments = machine.run(due)
        block.end()
    return moments


def assert_no_tick_was_late(moments: list[Moment]) -> None:
    """Each second has its tick, none skipped."""
    assert [moment.now_s for moment in moments] == [float(tick) for tick in range(len(moments))]
    causes = {notice.cause for moment in moments for notice in moment.state.notices}
    assert "tick-late" not in causes


@pytest.mark.parametrize("name", CASES)
def test_a_bus_that_blocks_ends_in_its_cause_with_heat_off_and_makes_no_tick_late(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    case = CASES[name]
    moments = run(tmp_path, case, monkeypatch, BLOCKED_S)
    assert_no_tick_was_late(moments)
    assert all(moment.heater_on for moment in moments[BEGINS_S - 15 : BEGINS_S])
    assert not any(moment.heater_on for moment in moments[BEGINS_S + STALE_AFTER_S + 1 :])
    last = moments[-1].state
    assert last.mode is Mode.ABORTED
    causes = {trip.cause for trip in last.trips}
    other = {"bath-probe-stale", "bowl-probe-stale"} if case.is_only_bus else set()
    assert causes == {f"{case.which}-probe-stale"} | other
    assert last.trips[0].at_s <= BEGINS_S + STALE_AFTER_S + WAIT_S + 2
    assert len(moments) > BEGINS_S + BLOCKED_S  # stirring went on, and with it the loop


@pytest.mark.parametrize("name", ["hwmon, bath", "hwmon, bowl"])
def test_a_bus_that_blocks_for_ten_seconds_withholds_heat_and_no_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    moments = run(tmp_path, CASES[name], monkeypatch, SHORT_S)
    assert_no_tick_was_late(moments)
    assert moments[-1].state.trips == ()
    heated = [moment.heater_on for moment in moments]
    assert not any(heated[BEGINS_S + STALE_AFTER_S + 1 : BEGINS_S + SHORT_S])
    assert any(heated[BEGINS_S + SHORT_S : BEGINS_S + SHORT_S + AFTER_S])
