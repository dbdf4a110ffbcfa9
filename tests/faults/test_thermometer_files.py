"""Every way in which a thermometer's file fails, injected into the file under the real loop.

Responsible for what the loop makes of it: the fault's name, heat off, and the cause of the trip
within its time; not for files that block, nor for whole readings that lie.
"""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import pytest

from controller.core.interlock_rows import _SAID
from controller.core.signals import Fault, Reading
from controller.ports import Moment
from hardware.bench.kernel_files import ONE_WIRE_IDS
from tests.helpers import kernel_tree
from tests.helpers.file_machine import PAIRS, FileMachine
from tests.helpers.thermometer_list import Driver, Failing

BEGINS_S = 60  # heat is on all the time by then
WAIT_S = 30  # after so long without a value a run ends: the profile's wait for a lost thermometer
W1 = f"sys/bus/w1/devices/{ONE_WIRE_IDS['bath']}/w1_slave"
W1_BOWL = f"sys/bus/w1/devices/{ONE_WIRE_IDS['bowl']}/w1_slave"
INPUT = "sys/class/hwmon/hwmon0/temp1_input"
INPUT_BOWL = "sys/class/hwmon/hwmon1/temp1_input"
ALARM = "sys/class/hwmon/hwmon0/temp1_fault"
CODE = "sys/bus/iio/devices/iio:device0/in_temp_raw"
CODE_BOWL = "sys/bus/iio/devices/iio:device1/in_temp_raw"
REGISTER = "sys/bus/iio/devices/iio:device0/fault_ovuv"
COUPLED = "sys/bus/iio/devices/iio:device3/in_temp_raw"
COUPLED_BOWL = "sys/bus/iio/devices/iio:device4/in_temp_raw"
COUPLED_SCALE = "sys/bus/iio/devices/iio:device3/in_temp_scale"
DIVIDED = "sys/bus/iio/devices/iio:device6/in_voltage0_raw"
DIVIDED_BOWL = "sys/bus/iio/devices/iio:device7/in_voltage0_raw"
OF_BOWL = (W1_BOWL, INPUT_BOWL, CODE_BOWL, COUPLED_BOWL, DIVIDED_BOWL)
ZEROS = kernel_tree.slave_text(bytes(9))
# By IEC 60751 49.0 Ω of a 100 Ω element, at a reference of 400 Ω.
AT_MINUS_127 = "4014\n"
GONE = kernel_tree.slave_text(b"\xff" * 9, verdict="NO")


class Case(NamedTuple):
    """One failure of a file, and what it is called."""

    driver: Driver
    mode: Failing
    file: str
    breaks: Callable[[Path], None]
    fault: Fault
    note: str = ""

    @property
    def which(self) -> str:
        """Whose thermometer it is."""
        return "bowl" if self.file in OF_BOWL else "bath"

    @property
    def name(self) -> str:
        """In words."""
        return f"{self.driver}: {self.mode}{self.note and f' ({self.note})'}"


def holds(text: str) -> Callable[[Path], None]:
    """The file with another content."""

    def breaks(path: Path) -> None:
        path.unlink(missing_ok=True)
        path.write_text(text, encoding="ascii")

    return breaks


def error(path: Path) -> None:
    """A true EIO."""
    path.unlink()
    path.symlink_to("/proc/self/mem")


def unplug(path: Path) -> None:
    """The whole folder goes, as the kernel does it."""
    path.parent.rename(path.parents[1].with_name("unplugged"))


def twin(path: Path) -> None:
    """Another chip of the same name is plugged in: which of them is ours?"""
    shutil.copytree(path.parent, path.parents[1] / f"{path.parent.name}9")


def other(path: Path) -> None:
    """In its place hangs another, of another id."""
    path.parent.rename(path.parents[1] / "28-0000000000ff")


def gone(path: Path) -> None:
    """That file alone goes."""
    path.unlink()


def spoilt(code: int) -> str:
    """A reading with one wrong byte."""
    return kernel_tree.slave_text(kernel_tree.scratchpad(code)[:8] + b"\x01", verdict="NO")


def told(code: int) -> str:
    """A whole reading of that code."""
    return kernel_tree.slave_text(kernel_tree.scratchpad(code))


CASES = [
    # 1-wire
    Case(Driver.ONE_WIRE, Failing.EMPTY, W1, holds(""), Fault.NO_ANSWER),
    Case(Driver.ONE_WIRE, Failing.EMPTY, W1_BOWL, holds(""), Fault.NO_ANSWER, "the bowl's"),
    Case(Driver.ONE_WIRE, Failing.PULLED, W1, holds(GONE), Fault.NO_ANSWER, "no presence"),
    Case(Driver.ONE_WIRE, Failing.PULLED, W1, unplug, Fault.NO_ANSWER, "its folder gone"),
    Case(Driver.ONE_WIRE, Failing.TWIN, W1, other, Fault.NO_ANSWER),
    Case(Driver.ONE_WIRE, Failing.CHECKSUM, W1, holds(spoilt(720)), Fault.CHECKSUM),
    Case(Driver.ONE_WIRE, Failing.ALL_ZERO, W1, holds(ZEROS), Fault.ALL_ZERO),
    Case(Driver.ONE_WIRE, Failing.POWER_ON, W1, holds(told(85 * 16)), Fault.POWER_ON_VALUE),
    Case(Driver.ONE_WIRE, Failing.TOO_COLD_TO_BE, W1, holds(told(-127 * 16)), Fault.DEVICE),
    Case(
        Driver.ONE_WIRE, Failing.TOO_COLD_TO_BE, W1, holds(told(-1758)), Fault.DEVICE, "-109.9 °C"
    ),
    Case(Driver.ONE_WIRE, Failing.ERROR, W1, error, Fault.DEVICE),
    Case(Driver.ONE_WIRE, Failing.NO_NUMBER, W1, holds("t=45000\n"), Fault.DEVICE),
    # hwmon
    Case(Driver.HWMON, Failing.EMPTY, INPUT, holds(""), Fault.NO_ANSWER),
    Case(Driver.HWMON, Failing.NO_NUMBER, INPUT, holds("lukewarm\n"), Fault.DEVICE),
    Case(Driver.HWMON, Failing.TOO_COLD_TO_BE, INPUT, holds("-127000\n"), Fault.DEVICE),
    Case(Driver.HWMON, Failing.TOO_COLD_TO_BE, INPUT, holds("150001\n"), Fault.DEVICE, "150 °C"),
    Case(Driver.HWMON, Failing.TWIN, INPUT, twin, Fault.DEVICE),
    Case(Driver.HWMON, Failing.PULLED, INPUT, unplug, Fault.NO_ANSWER),
    Case(Driver.HWMON, Failing.ERROR, INPUT, error, Fault.DEVICE),
    Case(Driver.HWMON, Failing.OPEN, ALARM, holds("1\n"), Fault.DEVICE),
    Case(Driver.HWMON, Failing.ALL_ZERO, INPUT, holds("0\n"), Fault.ALL_ZERO),
    Case(Driver.HWMON, Failing.EMPTY, INPUT_BOWL, holds(""), Fault.NO_ANSWER, "the bowl's"),
    # a ratio converter with platinum
    Case(Driver.PLATINUM, Failing.EMPTY, CODE, holds(""), Fault.NO_ANSWER),
    Case(Driver.PLATINUM, Failing.NO_NUMBER, CODE, holds("lukewarm\n"), Fault.DEVICE),
    Case(Driver.PLATINUM, Failing.OPEN, CODE, holds("32767\n"), Fault.NO_ANSWER),
    Case(Driver.PLATINUM, Failing.SHORT, CODE, holds("3\n"), Fault.DEVICE),
    Case(Driver.PLATINUM, Failing.TOO_COLD_TO_BE, CODE, holds(AT_MINUS_127), Fault.DEVICE),
    Case(Driver.PLATINUM, Failing.ERROR, REGISTER, holds("1\n"), Fault.DEVICE, "overdriven"),
    Case(Driver.PLATINUM, Failing.ERROR, REGISTER, gone, Fault.DEVICE, "its register gone"),
    Case(Driver.PLATINUM, Failing.ERROR, CODE, error, Fault.DEVICE),
    Case(Driver.PLATINUM, Failing.ALL_ZERO, CODE, holds("0\n"), Fault.ALL_ZERO),
    Case(Driver.PLATINUM, Failing.PULLED, CODE, unplug, Fault.NO_ANSWER),
    Case(Driver.PLATINUM, Failing.TWIN, CODE, twin, Fault.DEVICE),
    Case(Driver.PLATINUM, Failing.OPEN, CODE_BOWL, holds("32767\n"), Fault.NO_ANSWER, "the bowl's"),
    # a thermocouple's converter
    Case(Driver.COUPLE, Failing.EMPTY, COUPLED, holds(""), Fault.NO_ANSWER),
    Case(Driver.COUPLE, Failing.NO_NUMBER, COUPLED, holds("lukewarm\n"), Fault.DEVICE),
    Case(Driver.COUPLE, Failing.OPEN, COUPLED, error, Fault.DEVICE),
    Case(Driver.COUPLE, Failing.ERROR, COUPLED_SCALE, gone, Fault.DEVICE),
    Case(Driver.COUPLE, Failing.TOO_COLD_TO_BE, COUPLED, holds(f"{-127 * 128}\n"), Fault.DEVICE),
    Case(Driver.COUPLE, Failing.TOO_COLD_TO_BE, COUPLED, holds("19400\n"), Fault.DEVICE, "152 °C"),
    Case(Driver.COUPLE, Failing.ALL_ZERO, COUPLED, holds("0\n"), Fault.ALL_ZERO),
    Case(Driver.COUPLE, Failing.PULLED, COUPLED, unplug, Fault.NO_ANSWER),
    Case(Driver.COUPLE, Failing.TWIN, COUPLED, twin, Fault.DEVICE),
    Case(Driver.COUPLE, Failing.OPEN, COUPLED_BOWL, error, Fault.DEVICE, "the bowl's"),
    # a voltage converter with a thermistor
    Case(Driver.NTC, Failing.EMPTY, DIVIDED, holds(""), Fault.NO_ANSWER),
    Case(Driver.NTC, Failing.NO_NUMBER, DIVIDED, holds("lukewarm\n"), Fault.DEVICE),
    Case(Driver.NTC, Failing.OPEN, DIVIDED, holds("26400\n"), Fault.NO_ANSWER),
    Case(Driver.NTC, Failing.SHORT, DIVIDED, holds("1\n"), Fault.DEVICE),
    Case(Driver.NTC, Failing.TOO_COLD_TO_BE, DIVIDED, holds("26390\n"), Fault.NO_ANSWER),
    Case(Driver.NTC, Failing.ALL_ZERO, DIVIDED, holds("0\n"), Fault.ALL_ZERO),
    Case(Driver.NTC, Failing.ERROR, DIVIDED, error, Fault.DEVICE),
    Case(Driver.NTC, Failing.PULLED, DIVIDED, unplug, Fault.NO_ANSWER),
    Case(Driver.NTC, Failing.TWIN, DIVIDED, twin, Fault.DEVICE),
    Case(Driver.NTC, Failing.OPEN, DIVIDED_BOWL, holds("26400\n"), Fault.NO_ANSWER, "the bowl's"),
]


@dataclass(slots=True)
class Story:
    """What a run was like."""

    moments: list[Moment]
    seen: dict[float, Reading]  # of the thermometer in question, by the second


def told_by(case: Case, root: Path) -> Story:
    """The run with that failure, which stays."""
    machine, seen = FileMachine(root, PAIRS[case.driver]), dict[float, Reading]()
    sensor = machine.linux.devices.bath if case.which == "bath" else machine.linux.devices.bowl

    def due(now_s: float) -> None:
        if now_s <= BEGINS_S:
            machine.files.show(now_s)
        if now_s == BEGINS_S:
            case.breaks(root / case.file)
        if now_s == BEGINS_S + WAIT_S + 5:
            machine.halt()
        machine.linux.take()
        seen[now_s] = sensor.read(now_s)

    return Story(machine.run(due), seen)


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_a_file_that_fails_ends_in_its_named_cause_in_time_and_heat_is_off_at_once(
    tmp_path: Path, case: Case
) -> None:
    story = told_by(case, tmp_path)
    assert story.moments[BEGINS_S - 1].heater_on
    assert (story.seen[BEGINS_S].fault, story.seen[BEGINS_S].age_s) == (case.fault, 0.0)
    assert not any(moment.heater_on for moment in story.moments[BEGINS_S:])
    trips = story.moments[-1].state.trips
    assert trips[0].cause == f"{case.which}-probe-missing"
    assert f"({_SAID[case.fault]})" in trips[0].what
    assert trips[0].at_s <= BEGINS_S + WAIT_S + 1
