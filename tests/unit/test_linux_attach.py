"""A real machine put together: over plain trees of the kernel's files and a line that is a list.

Responsible for the door of the package; not for single files, threads or the GPIO bindings.
"""

import math
import threading
from collections.abc import Sequence
from functools import partial
from pathlib import Path

import pytest

from controller.ports import Fault, Permit, Quality, Reading
from hardware import bus
from hardware.linux import attach as linux
from hardware.linux import one_wire
from hardware.linux.attach import AttachError, InputPlan, LinuxMachine, LinuxPlan, ThermometerPlan
from tests.helpers import kernel_tree
from tests.helpers.kernel_tree import BATH_ID, BOWL_ID
from tests.helpers.records import replace

LONG_S = 60.0
ONE_WIRE = LinuxPlan(
    bath=ThermometerPlan(kind="1-wire", place=BATH_ID),
    bowl=ThermometerPlan(kind="1-wire", place=BOWL_ID),
    stirrer_line="GPIO27",
)
HWMON = LinuxPlan(
    bath=ThermometerPlan(kind="hwmon", place="tmp102"),
    bowl=ThermometerPlan(kind="hwmon", place="/sys/class/hwmon/hwmon1/temp1_input"),
    stirrer_line="GPIO27",
)


class Line:
    """A line that remembers how it was driven."""

    def __init__(self, name: str) -> None:
        """Off."""
        self.name = name
        self.driven: list[bool] = []
        self.closings = 0

    def drive(self, *, on: bool) -> None:
        """Remember."""
        self.driven.append(on)

    def close(self) -> None:
        """Remember."""
        self.closings += 1


class Guard:
    """A heater and its guard's word that do nothing."""

    def drive(
        self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True, alone: int = 0
    ) -> None:
        """Nothing."""

    def read(self, now_s: float) -> Permit:
        """Nothing latched."""
        return Permit(latched="none", age_s=now_s, bath_c=45.0)

    def latch(self, causes: Sequence[str], now_s: float) -> None:
        """Nothing."""


GUARD = Guard()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A tree with two thermometers of each kind: bath 45 °C, bowl 31.5 °C."""
    kernel_tree.one_wire(tmp_path, BATH_ID, 45 * 16)
    kernel_tree.one_wire(tmp_path, BOWL_ID, 504)
    kernel_tree.hwmon(tmp_path, 0, "tmp102", 45_000)
    kernel_tree.hwmon(tmp_path, 1, "lm75", 31_500)
    return tmp_path


def machine_on(root: Path, plan: LinuxPlan, line: Line | None = None) -> LinuxMachine:
    """A machine on that tree, its clock standing at 100 s."""
    return LinuxMachine(
        plan,
        heater=GUARD,
        permit=GUARD,
        clock_s=lambda: 100.0,
        root=root,
        open_line=Line if line is None else lambda _name: line,
    )


@pytest.mark.parametrize("plan", [ONE_WIRE, HWMON])
def test_bath_and_bowl_are_the_thermometers_of_the_plan(root: Path, plan: LinuxPlan) -> None:
    machine = machine_on(root, plan)
    machine.take()
    assert machine.devices.bath.read(100.0).value == 45.0
    assert machine.devices.bowl.read(100.0).value == 31.5


def test_the_heater_is_the_guards_and_what_is_not_fitted_is_none(root: Path) -> None:
    devices = machine_on(root, ONE_WIRE).devices
    assert devices.heater is GUARD
    assert devices.permit is GUARD
    assert (devices.level, devices.shaft, devices.load, devices.current) == (None,) * 4


@pytest.mark.parametrize("plan", [ONE_WIRE, HWMON])
def test_in_its_context_a_machine_has_values_at_once_and_ends_its_threads(
    root: Path, plan: LinuxPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bus, "PAUSE_S", 0.001)
    line = Line("GPIO27")
    with machine_on(root, plan, line) as machine:
        assert machine.devices.bath.read(100.0).quality is Quality.GOOD
        assert machine.devices.bowl.read(100.0).quality is Quality.GOOD
        threads = [one for one in threading.enumerate() if one.name.startswith("bus ")]
        assert line.closings == 0
    assert line.closings == 1
    assert threads
    for thread in threads:
        thread.join(LONG_S)
        assert not thread.is_alive()


def buses_of(machine: LinuxMachine, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the threads that a machine starts; none of them measures."""
    started: list[str] = []
    monkeypatch.setattr(threading.Thread, "start", lambda self: started.append(self.name))
    monkeypatch.setattr(bus, "FIRST_ROUND_S", 0.0)
    with machine:
        return started


def test_thermometers_of_one_bus_share_a_thread(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert buses_of(machine_on(root, ONE_WIRE), monkeypatch) == ["bus devices"]


def test_thermometers_of_two_buses_do_not(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # As the kernel lays it out: /sys/bus/w1/devices holds links into the folders of the masters.
    for number, name in enumerate((BATH_ID, BOWL_ID), start=1):
        link = root / "sys/bus/w1/devices" / name
        master = root / f"sys/devices/w1_bus_master{number}"
        master.mkdir(parents=True)
        link.rename(master / name)
        link.symlink_to(master / name)
    names = buses_of(machine_on(root, ONE_WIRE), monkeypatch)
    assert names == ["bus w1_bus_master1", "bus w1_bus_master2"]


def test_chips_of_hwmon_do_not_wait_for_each_other(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert buses_of(machine_on(root, HWMON), monkeypatch) == ["bus hwmon0", "bus hwmon1"]


def test_what_hangs_on_one_bus_of_the_board_shares_a_thread_whatever_its_driver(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # As the kernel lays it out: the classes hold links into the folders of the buses.
    bus_folder = root / "sys/devices/platform/soc/i2c-1"
    kernel_tree.iio(root, 0, "mcp9600", in_temp_raw="5000", in_temp_scale="6.25")
    for link, device in (
        ("sys/class/hwmon/hwmon0", "1-0048/hwmon/hwmon0"),
        ("sys/bus/iio/devices/iio:device0", "1-0060/iio:device0"),
    ):
        (bus_folder / device).parent.mkdir(parents=True)
        (root / link).rename(bus_folder / device)
        (root / link).symlink_to(bus_folder / device)
    plan = replace(HWMON, bowl=ThermometerPlan(kind="iio", place="mcp9600"))
    assert buses_of(machine_on(root, plan), monkeypatch) == ["bus i2c-1"]
    machine = machine_on(root, plan)
    machine.take()
    assert machine.devices.bath.read(100.0).value == 45.0
    assert machine.devices.bowl.read(100.0).value == 31.25


def test_a_name_that_stands_for_two_converters_is_refused(root: Path) -> None:
    for number in (0, 1):
        kernel_tree.thermocouple(root, number, 45.0)
    plan = replace(HWMON, bath=ThermometerPlan(kind="iio", place="max31856"))
    with pytest.raises(AttachError, match='more than one IIO device at "max31856"; write'):
        machine_on(root, plan)


@pytest.mark.parametrize("plan", [ONE_WIRE, HWMON])
def test_a_thermometer_that_is_not_there_yet_is_no_answer_and_comes_when_plugged(
    tmp_path: Path, plan: LinuxPlan
) -> None:
    machine = machine_on(tmp_path, plan)
    machine.take()
    assert machine.devices.bath.read(100.0).fault is Fault.NO_ANSWER
    assert machine.devices.bowl.read(100.0).fault is Fault.NO_ANSWER
    kernel_tree.one_wire(tmp_path, BATH_ID, 45 * 16)
    kernel_tree.hwmon(tmp_path, 5, "tmp102", 45_000)
    machine.take()
    assert machine.devices.bath.read(100.0).value == 45.0
    assert machine.devices.bowl.read(100.0).fault is Fault.NO_ANSWER


def test_a_foreign_thermometer_on_the_bus_is_not_read(root: Path) -> None:
    (root / "sys/bus/w1/devices" / BOWL_ID).rename(root / "sys/bus/w1/devices/28-ffffffffffff")
    machine = machine_on(root, ONE_WIRE)
    machine.take()
    assert machine.devices.bowl.read(100.0).fault is Fault.NO_ANSWER


def test_a_name_that_stands_for_two_chips_is_refused_before_a_line_is_taken(root: Path) -> None:
    kernel_tree.hwmon(root, 2, "tmp102", 20_000)
    taken: list[str] = []

    def take(name: str) -> Line:
        taken.append(name)
        return Line(name)

    with pytest.raises(AttachError, match='There are 2 hwmon chips named "tmp102"; write'):
        LinuxMachine(
            HWMON, heater=GUARD, permit=None, clock_s=lambda: 0.0, root=root, open_line=take
        )
    assert taken == []


def test_the_stirrers_line_is_taken_by_its_name(root: Path) -> None:
    taken: list[str] = []

    def take(name: str) -> Line:
        taken.append(name)
        return Line(name)

    LinuxMachine(
        replace(ONE_WIRE, stirrer_line="STIR"),
        heater=GUARD,
        permit=None,
        clock_s=lambda: 0.0,
        root=root,
        open_line=take,
    )
    assert taken == ["STIR"]


@pytest.mark.parametrize(
    ("rpm", "turns"),
    [(30.0, True), (0.5, True), (0.0, False), (-30.0, False), (math.nan, False), (math.inf, False)],
)
def test_the_stirrer_turns_for_a_speed_above_zero_and_nothing_else(
    root: Path, rpm: float, turns: bool
) -> None:
    line = Line("GPIO27")
    machine_on(root, ONE_WIRE, line).devices.stirrer.drive(rpm=rpm, now_s=0.0)
    assert line.driven == [turns]


def test_a_bus_that_hangs_at_the_start_holds_the_start_up_no_longer_than_it_may(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bus, "FIRST_ROUND_S", 0.0)
    go = threading.Event()
    monkeypatch.setattr(one_wire, "measure", partial(_hang, go))
    with machine_on(root, ONE_WIRE) as machine:
        assert machine.devices.bath.read(100.0).fault is Fault.NO_ANSWER
        go.set()


def _hang(go: threading.Event, _folder: Path) -> Reading:
    go.wait(LONG_S)
    return Reading(45.0)


PUMPED = replace(ONE_WIRE, cooling_line="GPIO23")


def test_a_cooling_output_has_a_line_of_its_own_which_is_let_go_of_in_the_end(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(threading.Thread, "start", lambda _: None)
    monkeypatch.setattr(bus, "FIRST_ROUND_S", 0.0)
    lines: dict[str, Line] = {}
    machine = LinuxMachine(
        PUMPED,
        heater=GUARD,
        permit=None,
        clock_s=lambda: 0.0,
        root=root,
        open_line=lambda name: lines.setdefault(name, Line(name)),
    )
    assert list(lines) == ["GPIO27", "GPIO23"]
    with machine:
        assert machine.devices.cooler is not None
        machine.devices.cooler.drive(on=True, now_s=1.0)
        machine.devices.cooler.drive(on=False, now_s=2.0)
    assert lines["GPIO23"].driven == [True, False]
    assert [line.closings for line in lines.values()] == [1, 1]
    assert machine_on(root, ONE_WIRE).devices.cooler is None


def test_the_stirrers_line_is_let_go_of_where_the_other_can_not_be_had(root: Path) -> None:
    first = Line("GPIO27")

    def take(name: str) -> Line:
        if name != first.name:
            raise AttachError("taken")
        return first

    with pytest.raises(AttachError, match="taken"):
        LinuxMachine(
            PUMPED, heater=GUARD, permit=None, clock_s=lambda: 0.0, root=root, open_line=take
        )
    assert first.closings == 1


class Taken:
    """An input that gives a number, and remembers that it was let go of."""

    def __init__(self, value: float) -> None:
        """Held."""
        self.value, self.closings = value, 0

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """The number."""
        return Reading(self.value)

    def close(self) -> None:
        """Remember."""
        self.closings += 1


def test_level_and_shaft_are_inputs_which_are_let_go_of_in_the_end(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    level, shaft = Taken(1.0), Taken(30.0)
    monkeypatch.setattr(linux, "open_switch", lambda _plan: level)
    monkeypatch.setattr(linux, "open_shaft", lambda _plan: shaft)
    monkeypatch.setattr(threading.Thread, "start", lambda _: None)
    monkeypatch.setattr(bus, "FIRST_ROUND_S", 0.0)
    one = InputPlan(line="GPIO5", active_low=False, debounce_s=0.05)
    with machine_on(root, replace(ONE_WIRE, level=one, shaft=one)) as machine:
        assert machine.devices.level is level
        assert machine.devices.shaft is shaft
    assert (level.closings, shaft.closings) == (1, 1)


def test_the_stirrers_line_is_let_go_of_where_an_input_can_not_be_had(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_plan: InputPlan) -> Taken:
        raise AttachError("taken")

    monkeypatch.setattr(linux, "open_switch", refuse)
    line = Line("GPIO27")
    one = InputPlan(line="GPIO5", active_low=False, debounce_s=0.05)
    with pytest.raises(AttachError, match="taken"):
        machine_on(root, replace(ONE_WIRE, level=one), line)
    assert line.closings == 1
