"""Every way in which a thermometer's file fails, injected into the file under the real loop.

Responsible for what the loop makes of it: the fault's name, heat off, and the cause of the trip
within its time; not for files that block.
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
from hardware.linux.attach import ThermometerPlan
from tests.helpers import kernel_tree
from tests.helpers.file_machine import COUPLE, HWMON, NTC, ONE_WIRE, PLATINUM, FileMachine

BEGINS_S = 60  # heat is on all the time by then
WAIT_S = 30  # after so long without a value a run ends: the profile's wait for a lost thermometer
W1 = f"sys/bus/w1/devices/{ONE_WIRE_IDS['bath']}/w1_slave"
W1_BOWL = f"sys/bus/w1/devices/{ONE_WIRE_IDS['bowl']}/w1_slave"
INPUT = "sys/class/hwmon/hwmon0/temp1_input"
ALARM = "sys/class/hwmon/hwmon0/temp1_fault"
CODE = "sys/bus/iio/devices/iio:device0/in_temp_raw"
REGISTER = "sys/bus/iio/devices/iio:device0/fault_ovuv"
COUPLED = "sys/bus/iio/devices/iio:device3/in_temp_raw"
DIVIDED = "sys/bus/iio/devices/iio:device6/in_voltage0_raw"
ZEROS = kernel_tree.slave_text(bytes(9))
GONE = kernel_tree.slave_text(b"\xff" * 9, verdict="NO")


class Case(NamedTuple):
    """One failure of a file, what it is called, and what the run ends with."""

    name: str
    kind: tuple[ThermometerPlan, ThermometerPlan]
    file: str
    breaks: Callable[[Path], None]
    fault: Fault

    @property
    def which(self) -> str:
        """Whose thermometer it is."""
        return "bowl" if self.file == W1_BOWL else "bath"


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
    Case("1-wire: an empty read", ONE_WIRE, W1, holds(""), Fault.NO_ANSWER),
    Case("1-wire: no presence", ONE_WIRE, W1, holds(GONE), Fault.NO_ANSWER),
    Case("1-wire: pulled", ONE_WIRE, W1, unplug, Fault.NO_ANSWER),
    Case("1-wire: checksum", ONE_WIRE, W1, holds(spoilt(720)), Fault.CHECKSUM),
    Case("1-wire: all zero", ONE_WIRE, W1, holds(ZEROS), Fault.ALL_ZERO),
    Case("1-wire: power-on value", ONE_WIRE, W1, holds(told(85 * 16)), Fault.POWER_ON_VALUE),
    Case("1-wire: -109.9 °C", ONE_WIRE, W1, holds(told(-1758)), Fault.DEVICE),
    Case("1-wire: the bowl's, empty", ONE_WIRE, W1_BOWL, holds(""), Fault.NO_ANSWER),
    Case("1-wire: an error", ONE_WIRE, W1, error, Fault.DEVICE),
    Case("1-wire: no sense", ONE_WIRE, W1, holds("t=45000\n"), Fault.DEVICE),
    Case("hwmon: an empty read", HWMON, INPUT, holds(""), Fault.NO_ANSWER),
    Case("hwmon: no number", HWMON, INPUT, holds("lukewarm\n"), Fault.DEVICE),
    Case("hwmon: out of every range", HWMON, INPUT, holds("150001\n"), Fault.DEVICE),
    Case("hwmon: a second one of its name", HWMON, INPUT, twin, Fault.DEVICE),
    Case("hwmon: pulled", HWMON, INPUT, unplug, Fault.NO_ANSWER),
    Case("hwmon: an error", HWMON, INPUT, error, Fault.DEVICE),
    Case("hwmon: sensor open", HWMON, ALARM, holds("1\n"), Fault.DEVICE),
    Case("hwmon: never measured", HWMON, INPUT, holds("0\n"), Fault.ALL_ZERO),
    Case("platinum: open", PLATINUM, CODE, holds("32767\n"), Fault.NO_ANSWER),
    Case("platinum: shorted", PLATINUM, CODE, holds("3\n"), Fault.DEVICE),
    Case("platinum: overdriven", PLATINUM, REGISTER, holds("1\n"), Fault.DEVICE),
    Case("platinum: its register gone", PLATINUM, REGISTER, gone, Fault.DEVICE),
    Case("platinum: an error", PLATINUM, CODE, error, Fault.DEVICE),
    Case("platinum: never measured", PLATINUM, CODE, holds("0\n"), Fault.ALL_ZERO),
    Case("platinum: pulled", PLATINUM, CODE, unplug, Fault.NO_ANSWER),
    Case("platinum: a second one of its name", PLATINUM, CODE, twin, Fault.DEVICE),
    Case("thermocouple: broken, says the chip", COUPLE, COUPLED, error, Fault.DEVICE),
    Case("thermocouple: out of every range", COUPLE, COUPLED, holds("19400\n"), Fault.DEVICE),
    Case("thermocouple: never measured", COUPLE, COUPLED, holds("0\n"), Fault.ALL_ZERO),
    Case("thermocouple: pulled", COUPLE, COUPLED, unplug, Fault.NO_ANSWER),
    Case("thermistor: open", NTC, DIVIDED, holds("26400\n"), Fault.NO_ANSWER),
    Case("thermistor: shorted", NTC, DIVIDED, holds("1\n"), Fault.DEVICE),
    Case("thermistor: never measured", NTC, DIVIDED, holds("0\n"), Fault.ALL_ZERO),
    Case("thermistor: an error", NTC, DIVIDED, error, Fault.DEVICE),
    Case("thermistor: pulled", NTC, DIVIDED, unplug, Fault.NO_ANSWER),
]


@dataclass(slots=True)
class Story:
    """What a run was like."""

    moments: list[Moment]
    seen: dict[float, Reading]  # of the thermometer in question, by the second


def told_by(case: Case, root: Path) -> Story:
    """The run with that failure, which stays."""
    machine, seen = FileMachine(root, case.kind), dict[float, Reading]()
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


class Lie(NamedTuple):
    """Whole readings that can't be true: the code in each second since, and what that is called."""

    code: Callable[[int], int | None]  # of 1/16 °C; None: the bench's own
    cause: str
    heat_ends_s: int
    within_s: int


JUMP = 12 * 16
# What 1-wire gave with its data wire pulled is refused by the driver; these it can't refuse.
LIES = {
    "too hot for any bath": Lie(lambda _s: 100 * 16, "bath-probe-out-of-range", 2, WAIT_S + 2),
    "too cold": Lie(lambda _s: -6 * 16, "bath-probe-out-of-range", 2, WAIT_S + 2),
    # A jump is believed when it comes three times in a row: these never do.
    "a slack contact": Lie(
        lambda s: 20 * 16 + JUMP * (s % 5 + 1) if s % 4 == 0 else None, "bath-probe-jumping", 60, 60
    ),
    "frozen while it heats": Lie(lambda _s: 21 * 16, "bath-probe-frozen", 60, 60),
}


@pytest.mark.parametrize("name", LIES)
def test_a_whole_reading_that_can_not_be_true_ends_in_its_named_cause_in_time(
    tmp_path: Path, name: str
) -> None:
    lie, machine = LIES[name], FileMachine(tmp_path, ONE_WIRE)

    def due(now_s: float) -> None:
        machine.files.show(now_s)
        since_s = round(now_s) - BEGINS_S
        code = lie.code(since_s) if since_s >= 0 else None
        if code is not None:
            holds(told(code))(tmp_path / W1)
        if since_s == lie.within_s + 5:
            machine.halt()
        machine.linux.take()

    moments = machine.run(due)
    assert moments[BEGINS_S - 1].heater_on
    assert not any(one.heater_on for one in moments[BEGINS_S + lie.heat_ends_s :])
    trips = moments[-1].state.trips
    assert trips
    assert trips[0].cause == lie.cause
    assert trips[0].at_s <= BEGINS_S + lie.within_s
