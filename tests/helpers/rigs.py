"""Rigs for the conformance suite: devices of each kind, ways to break them, a witness of the heat.

Responsible for putting them together; not for what is expected of a device.
"""

import math
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, ExitStack, closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from controller.guard.board import Board as GuardsBoard
from controller.guard.lines import FileLine, Line, open_line
from controller.guard.settings import LineAt, LineKind, PointAt
from controller.ports import Devices, Kind
from hardware.bench.attach import Bench, BenchFault, attach
from hardware.bench.board import GUARD_UNIT, RUN_UNIT, Board, boards_of
from hardware.bench.file_machine import FULL_RPM, PWM, FileMachine
from hardware.bench.file_machine import HEATER as FILE_HEATER
from hardware.bench.file_machine import LID as FILE_LID
from hardware.bench.file_machine import STOP as FILE_STOP
from hardware.bench.kernel_files import ONE_WIRE_IDS
from hardware.linux.attach import (
    FilePlan,
    LinuxMachine,
    LinuxPlan,
    LoadPlan,
    Platinum,
    PwmPlan,
    ThermometerPlan,
)
from hardware.modbus.attach import ModbusMachine
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

# Some of the bench's faults, for when it stands behind real drivers, which are slower.
BROKEN_BEHIND = (
    BenchFault.BATH_PROBE_OPEN,
    BenchFault.BATH_PROBE_NAN,
    BenchFault.BOWL_PROBE_OPEN,
    BenchFault.LEVEL_LOST,
    BenchFault.SHAFT_LOST,
    BenchFault.RELAY_OPEN,
)
HEATER = LineAt(kind=LineKind.MODBUS, place="coil 0", point=PointAt(table="coil", address=0))
FITTED = frozenset(
    {"level", "shaft", "load", "mains-live", "current", "second-switch", "lid", "stop"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """Devices under test, ways to break them, and a witness of the heat."""

    devices: Devices
    breakages: tuple[Callable[[], None], ...]
    heated_j: Callable[[], float]  # heat that has really gone into the element
    measure: Callable[[float], None] = lambda _now_s: None  # what threads do by that moment
    close: Callable[[], None] = lambda: None
    press: Callable[[], None] = lambda: None  # the stop button
    open_lid: Callable[[bool], None] = lambda _is_open: None


def _bench(_folder: Path, machine: str, kind: Kind, fitted: frozenset[str] = FITTED) -> Rig:
    """A bench as a rig."""
    bench: Bench = attach(
        machine=machine, seed=3, kind=kind, batch_kg=1.5, seed_share=0.0, fitted=fitted
    )
    return Rig(
        devices=bench.devices,
        breakages=tuple(partial(bench.inject, fault) for fault in BenchFault),
        heated_j=lambda: bench.truth().energy_j,
        press=partial(press, bench),
        open_lid=bench.plant.open_lid,
    )


def press(bench: Bench) -> None:
    """Press the bench's stop button, where it has one."""
    if bench.stop_button is not None:
        bench.stop_button.is_pressed = True


class Meter:
    """A heater that counts its heat, in place of the guard's."""

    def __init__(self) -> None:
        """Off."""
        self.heated_j = 0.0
        self._on = False
        self._since_s = 0.0

    def drive(
        self,
        *,
        on: bool,
        now_s: float,
        cap_c: float = 0.0,
        good: bool = True,
        alone: int = 0,  # noqa: ARG002 - the Heater's contract
    ) -> None:
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
        kernel_tree.hwmon(folder, 3, "ina219", 900, file="curr1_input") / "curr1_input",
        kernel_tree.switch(folder, "lid"),
        kernel_tree.switch(folder, "stop"),
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
        press=lambda: _spoil(folder / "lines/stop", b"0\n"),
        open_lid=lambda is_open: _spoil(folder / "lines/lid", b"0\n" if is_open else b"1\n"),
    )


def _files(folder: Path) -> Rig:
    """The bench as a tree of the kernel's files, and the real drivers over it, as a rig."""
    clock, bench = Hand(), water_bench()
    served = FileMachine(bench, folder)
    served.follow(0.0)
    heater = LineHeater(FileLine(str(folder / FILE_HEATER)))
    machine = LinuxMachine(
        LinuxPlan(
            bath=ThermometerPlan(kind="1-wire", place=ONE_WIRE_IDS["bath"]),
            bowl=ThermometerPlan(kind="hwmon", place="bowl"),
            stirrer_line=None,
            stirrer_pwm=PwmPlan(path=f"/{PWM}", period_s=0.001, full_rpm=FULL_RPM),
            lid=FilePlan(path=FILE_LID, active_low=False),
            stop=FilePlan(path=FILE_STOP, active_low=False),
        ),
        heater=heater,
        permit=None,
        clock_s=clock,
        root=folder,
    )

    def measure(now_s: float) -> None:
        heater.turn()
        served.follow(clock.at_s)
        clock.at_s = now_s
        served.follow(now_s)
        machine.take()

    return Rig(
        devices=machine.devices,
        breakages=tuple(partial(bench.inject, fault) for fault in BROKEN_BEHIND),
        heated_j=lambda: bench.truth().energy_j,
        measure=measure,
        close=heater.close,
        press=lambda: _spoil(folder / FILE_STOP, b"0\n"),
        open_lid=bench.plant.open_lid,
    )


class LineHeater:
    """A heater on a line of the guard's, without the guard's decision: told, it only notes."""

    def __init__(self, line: Line) -> None:
        """Off."""
        self._line = line
        self._wanted = False

    def drive(
        self,
        *,
        on: bool,
        now_s: float,  # noqa: ARG002 - the Heater's contract
        cap_c: float = 0.0,
        good: bool = True,
        alone: int = 0,  # noqa: ARG002 - the Heater's contract
    ) -> None:
        """Note it."""
        self._wanted = on and good and cap_c >= 0.0

    def turn(self) -> None:
        """What the guard does in its own time."""
        self._line.set(self._wanted)

    def close(self) -> None:
        """Let go."""
        self._line.close()


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
    heater = LineHeater(open_line(HEATER, guards))
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
            *(partial(bench.inject, fault) for fault in BROKEN_BEHIND),
            units[RUN_UNIT].restart,
        ),
        heated_j=lambda: bench.truth().energy_j,
        measure=measure,
        close=stack.close,
        press=partial(press, bench),
        open_lid=bench.plant.open_lid,
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
    "bench as files": _files,
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
            load=LoadPlan(
                chip=ThermometerPlan(kind="hwmon", place="ina219"), supply_v=12.0, idle_a=0.2
            ),
            lid=FilePlan(path="lines/lid", active_low=False),
            stop=FilePlan(path="lines/stop", active_low=False),
        ),
    ),
}
