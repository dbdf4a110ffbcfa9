"""One suite for everything that claims to be a device: what the daemon relies on in the ports.

Responsible for the contract of `controller.ports`; not for how well a device does its work. A
new kind of hardware joins by adding a factory to `RIGS`.
"""

import math
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, ExitStack, closing, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pytest

from controller.guard.board import Board as GuardsBoard
from controller.guard.lines import Line, open_line
from controller.guard.settings import LineAt, LineKind, PointAt
from controller.ports import Devices, Fault, Kind, Quality, Reading, Sensor
from hardware.bench.attach import Bench, BenchFault, attach
from hardware.bench.board import GUARD_UNIT, RUN_UNIT, Board, boards_of
from hardware.linux.attach import LinuxMachine, LinuxPlan, Platinum, ThermometerPlan
from hardware.modbus.attach import ModbusMachine
from hardware.modbus.client import Client
from tests.helpers import kernel_tree
from tests.helpers.kernel_tree import BATH_ID, BOWL_ID
from tests.helpers.records import replace
from tests.helpers.served_board import (
    Hand,
    guards_board,
    machine_plan,
    pty_boards,
    tcp_boards,
    water_bench,
)

# Those that a board tells of; it has more sensors than these, and every fault of the bench behind.
BROKEN_ON_A_BOARD = (
    BenchFault.BATH_PROBE_OPEN,
    BenchFault.BATH_PROBE_NAN,
    BenchFault.BOWL_PROBE_OPEN,
    BenchFault.LEVEL_LOST,
    BenchFault.SHAFT_LOST,
    BenchFault.RELAY_OPEN,
)
HEATER = LineAt(kind=LineKind.MODBUS, place="coil 0", point=PointAt(table="coil", address=0))
FITTED = frozenset({"level", "shaft", "load", "mains-live", "current", "second-switch"})
TICKS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """Devices under test, ways to break them, and a witness of the heat."""

    devices: Devices
    breakages: tuple[Callable[[], None], ...]
    heated_j: Callable[[], float]  # heat that has really gone into the element
    measure: Callable[[float], None] = lambda _now_s: None  # what threads do by that moment
    close: Callable[[], None] = lambda: None


def _bench(_folder: Path, machine: str, kind: Kind, fitted: frozenset[str] = FITTED) -> Rig:
    """A bench as a rig."""
    bench: Bench = attach(
        machine=machine, seed=3, kind=kind, batch_kg=1.5, seed_share=0.0, fitted=fitted
    )
    return Rig(
        devices=bench.devices,
        breakages=tuple(partial(bench.inject, fault) for fault in BenchFault),
        heated_j=lambda: bench.truth().energy_j,
    )


class Meter:
    """A heater that counts its heat, in place of the guard's."""

    def __init__(self) -> None:
        """Off."""
        self.heated_j = 0.0
        self._on = False
        self._since_s = 0.0

    def drive(self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True) -> None:
        """Count what went in since the last word."""
        if self._on:
            self.heated_j += 500.0 * max(0.0, now_s - self._since_s)
        self._on = on and good and cap_c >= 0.0
        self._since_s = now_s


class NoLine:
    """A line that goes nowhere."""

    def __init__(self, name: str) -> None:
        """Off."""
        self.name = name

    def drive(self, *, on: bool) -> None:
        """Nothing."""

    def close(self) -> None:
        """Nothing."""


SPOILT = (
    b"",
    b"lukewarm\n",
    b"45000\n" * 1000,
    kernel_tree.slave_text(bytes(9)).encode(),
    kernel_tree.slave_text(b"\xff" * 9, verdict="NO").encode(),
    kernel_tree.slave_text(kernel_tree.scratchpad(85 * 16)).encode(),
)


def _unplug(path: Path) -> None:
    path.unlink(missing_ok=True)


def _break(path: Path) -> None:
    """A true EIO."""
    _unplug(path)
    path.symlink_to("/proc/self/mem")


def _spoil(path: Path, content: bytes) -> None:
    _unplug(path)
    path.write_bytes(content)


def _linux(folder: Path, plan: LinuxPlan) -> Rig:
    """A real machine over a plain tree of the kernel's files, as a rig. Its threads don't run."""
    files = [
        kernel_tree.one_wire(folder, BATH_ID, 45 * 16) / "w1_slave",
        kernel_tree.one_wire(folder, BOWL_ID, 504) / "w1_slave",
        kernel_tree.hwmon(folder, 0, "tmp102", 45_000) / "temp1_input",
        kernel_tree.hwmon(folder, 1, "lm75", 31_500) / "temp1_input",
        kernel_tree.ratio_converter(folder, 0, 9625) / "in_temp_raw",
        kernel_tree.thermocouple(folder, 1, 31.5) / "in_temp_raw",
        kernel_tree.hwmon(folder, 2, "ina226", 2_170, file="curr1_input") / "curr1_input",
    ]
    moment, meter = [0.0], Meter()
    machine = LinuxMachine(
        plan,
        heater=meter,
        permit=None,
        clock_s=lambda: moment[0],
        root=folder,
        open_line=NoLine,
    )

    def measure(now_s: float) -> None:
        moment[0] = now_s
        machine.take()

    ways: list[Callable[[Path], None]] = [
        _unplug,
        _break,
        *(partial(_spoil, content=content) for content in SPOILT),
    ]
    return Rig(
        devices=machine.devices,
        breakages=tuple(partial(way, path) for way in ways for path in files),
        heated_j=lambda: meter.heated_j,
        measure=measure,
    )


class BoardHeater:
    """A heater on the guard's board, without the guard's decision: told, it only notes."""

    def __init__(self, line: Line) -> None:
        """Off."""
        self._line = line
        self._wanted = False

    def drive(self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True) -> None:  # noqa: ARG002 - the Heater's contract
        """Note it."""
        self._wanted = on and good and cap_c >= 0.0

    def turn(self) -> None:
        """What the guard does in its own time."""
        self._line.set(self._wanted)


ROUND_S = 4.0  # shorter than the boards' time-out, so that their outputs stay
MOST_ROUNDS = 10  # a longer silence of a test is one of its host, too


def _modbus(
    _folder: Path,
    boards: Callable[[Mapping[int, Board]], AbstractContextManager[str]],
    is_bare: bool,
) -> Rig:
    """The bench as boards on a wire, as a rig. The bus's thread doesn't run."""
    clock, bench, stack = Hand(), water_bench(), ExitStack()
    units = boards_of(bench, clock)
    for unit in units.values():
        unit.host_loss_s = 5.0
    at = {unit: stack.enter_context(boards({unit: one})) for unit, one in units.items()}
    guards = stack.enter_context(closing(GuardsBoard(guards_board(at[GUARD_UNIT]))))
    heater = BoardHeater(open_line(HEATER, guards))
    plan = machine_plan(at[RUN_UNIT])
    if is_bare:
        plan = replace(plan, level=None, shaft=None, load=None)
    machine = ModbusMachine(plan, heater=heater, permit=None, clock_s=clock)
    stack.callback(machine.close)

    def measure(now_s: float) -> None:
        rounds = math.ceil((now_s - clock.at_s) / ROUND_S)
        for number in range(rounds if rounds <= MOST_ROUNDS else 1):
            clock.at_s = clock.at_s if number == 0 else clock.at_s + ROUND_S
            heater.turn()
            machine.take()
        clock.at_s = now_s
        machine.take()

    return Rig(
        devices=machine.devices,
        breakages=(
            *(partial(bench.inject, fault) for fault in BROKEN_ON_A_BOARD),
            units[RUN_UNIT].restart,
        ),
        heated_j=lambda: bench.truth().energy_j,
        measure=measure,
        close=stack.close,
    )


RIGS: dict[str, Callable[[Path], Rig]] = {
    "reference bench with dark": partial(_bench, machine="reference", kind=Kind.DARK),
    "brisk bench with milk": partial(_bench, machine="brisk", kind=Kind.MILK),
    "reference bench with water": partial(_bench, machine="reference", kind=Kind.WATER),
    "bench with a pump": partial(
        _bench, machine="reference", kind=Kind.DARK, fitted=frozenset({"pump"})
    ),
    "bench with a fan": partial(
        _bench, machine="reference", kind=Kind.DARK, fitted=frozenset({"fan"})
    ),
    "bench that calls": partial(
        _bench, machine="reference", kind=Kind.DARK, fitted=frozenset({"buzzer", "lamp"})
    ),
    "bare bench": partial(_bench, machine="reference", kind=Kind.DARK, fitted=frozenset()),
    "linux with 1-wire": partial(
        _linux,
        plan=LinuxPlan(
            bath=ThermometerPlan(kind="1-wire", place=BATH_ID),
            bowl=ThermometerPlan(kind="1-wire", place=BOWL_ID),
            stirrer_line="GPIO27",
            cooling_line="GPIO23",
            buzzer_line="GPIO24",
            lamp_line="GPIO25",
        ),
    ),
    "linux with converters": partial(
        _linux,
        plan=LinuxPlan(
            bath=ThermometerPlan(
                kind="platinum",
                place="max31865",
                platinum=Platinum(zero_ohm=100.0, reference_ohm=400.0),
            ),
            bowl=ThermometerPlan(kind="iio", place="max31856"),
            stirrer_line="GPIO27",
        ),
    ),
    "boards over tcp": partial(_modbus, boards=tcp_boards, is_bare=False),
    "boards on serial lines": partial(
        _modbus,
        boards=pty_boards,  # slower than the other, so with fewer sensors
        is_bare=True,
    ),
    "linux with hwmon": partial(
        _linux,
        plan=LinuxPlan(
            bath=ThermometerPlan(kind="hwmon", place="tmp102"),
            bowl=ThermometerPlan(kind="hwmon", place="/sys/class/hwmon/hwmon1/temp1_input"),
            stirrer_line="GPIO27",
            current=ThermometerPlan(kind="hwmon", place="ina226"),
        ),
    ),
}


@pytest.fixture(params=RIGS)
def rig(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Rig]:
    """Each rig in turn."""
    made = RIGS[str(request.param)](tmp_path)
    yield made
    made.close()


@contextmanager
def no_waiting() -> Iterator[None]:
    """Let every wait of this thread fail: a device returns at once."""

    def refuse(*_args: object, **_kwargs: object) -> None:
        raise AssertionError("a device waited")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(time, "sleep", refuse)
        patch.setattr(threading.Event, "wait", refuse)
        patch.setattr(threading.Condition, "wait", refuse)
        patch.setattr(Client, "read", refuse)
        patch.setattr(Client, "switch", refuse)
        yield


def sensors(devices: Devices) -> dict[str, Sensor]:
    """All that reads."""
    fitted = {
        "bath": devices.bath,
        "bowl": devices.bowl,
        "level": devices.level,
        "shaft": devices.shaft,
        "load": devices.load,
        "current": devices.current,
    }
    return {name: sensor for name, sensor in fitted.items() if sensor is not None}


def one_tick(rig: Rig, now_s: float, *, on: bool, rpm: float) -> dict[str, Reading]:
    """What the daemon does in one tick."""
    rig.measure(now_s)
    readings = {name: sensor.read(now_s) for name, sensor in sensors(rig.devices).items()}
    rig.devices.heater.drive(on=on, now_s=now_s)
    rig.devices.stirrer.drive(rpm=rpm, now_s=now_s)
    if rig.devices.cooler is not None:
        rig.devices.cooler.drive(on=not on, now_s=now_s)
    for indicator in (rig.devices.buzzer, rig.devices.lamp):
        if indicator is not None:
            indicator.drive(on=on, now_s=now_s)
    return readings


def is_lawful(reading: Reading) -> bool:
    """Whether a reading keeps the contract: an age, and no number beside a fault."""
    faultless = reading.fault is Fault.NONE
    return reading.age_s >= 0.0 and (faultless or math.isnan(reading.value))


def test_a_whole_device_gives_good_readings(rig: Rig) -> None:
    for tick in range(TICKS):
        for reading in one_tick(rig, float(tick), on=True, rpm=30.0).values():
            assert is_lawful(reading)
            assert reading.quality is Quality.GOOD


def test_the_heater_is_off_until_told(rig: Rig) -> None:
    for tick in range(TICKS):
        for sensor in sensors(rig.devices).values():
            sensor.read(float(tick))
    assert rig.heated_j() == 0.0


def test_the_heater_heats_when_told_and_not_after_it_is_told_off(rig: Rig) -> None:
    one_tick(rig, 0.0, on=True, rpm=0.0)
    one_tick(rig, 10.0, on=False, rpm=0.0)
    heated_j = rig.heated_j()
    assert heated_j > 0.0
    for tick in range(11, 11 + TICKS):
        one_tick(rig, float(tick), on=False, rpm=0.0)
    assert rig.heated_j() == heated_j


def test_telling_the_heater_the_same_again_changes_nothing(rig: Rig) -> None:
    for _ in range(3):
        rig.devices.heater.drive(on=False, now_s=1.0)
    one_tick(rig, 20.0, on=False, rpm=0.0)
    assert rig.heated_j() == 0.0


def test_every_break_is_a_value_and_never_an_exception(rig: Rig) -> None:
    for number, broken in enumerate(rig.breakages):
        one_tick(rig, number * 10.0, on=True, rpm=30.0)
        broken()
        for second in range(1, 10):
            readings = one_tick(rig, number * 10.0 + second, on=second % 2 == 0, rpm=30.0)
            assert all(is_lawful(reading) for reading in readings.values())


def test_a_clock_that_stands_or_steps_back_is_no_error(rig: Rig) -> None:
    for now_s in (100.0, 100.0, 40.0, 100.25, 100.0, 101.0):
        for reading in one_tick(rig, now_s, on=True, rpm=30.0).values():
            assert is_lawful(reading)


def test_a_long_silence_is_no_error(rig: Rig) -> None:
    one_tick(rig, 0.0, on=False, rpm=0.0)
    readings = one_tick(rig, 7200.0, on=False, rpm=0.0)
    assert all(reading.quality is Quality.GOOD for reading in readings.values())


@pytest.mark.parametrize("rpm", [0.0, -30.0, math.nan, math.inf, 1e9])
def test_the_stirrer_takes_any_number(rig: Rig, rpm: float) -> None:
    one_tick(rig, 0.0, on=False, rpm=rpm)
    readings = one_tick(rig, 30.0, on=False, rpm=rpm)
    assert all(is_lawful(reading) for reading in readings.values())
    assert all(math.isfinite(reading.value) for reading in readings.values())


def test_a_fitted_shaft_follows_the_stirrer(rig: Rig) -> None:
    one_tick(rig, 0.0, on=False, rpm=30.0)
    turning = one_tick(rig, 20.0, on=False, rpm=0.0)
    standing = one_tick(rig, 40.0, on=False, rpm=0.0)
    assert ("shaft" in turning) == (rig.devices.shaft is not None)
    if "shaft" in turning:
        assert turning["shaft"].value == pytest.approx(30.0, rel=0.1)
        assert standing["shaft"].value == 0.0
