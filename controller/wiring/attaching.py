"""From a machine file to devices that answer: those of a bench, or of a real machine.

Responsible for choosing parts and standing the guard before the heater; not for running them.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass, replace
from typing import Protocol

from controller.clock import Clock, RealClock
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.errors import HardwareError, MachineFileError
from controller.files.attach_shape import BenchAttach, LinuxAttach
from controller.files.board_shape import ModbusAttach
from controller.files.input_shape import FileAt, InputAt, LoadAt
from controller.files.machine_file import MachineFile
from controller.files.profile_file import seed_share
from controller.files.thermometer_shape import PlatinumMade, ThermistorMade, ThermometerAt
from controller.guard.beside import GuardBeside
from controller.guard.client import GuardedHeater
from controller.ports import Devices, Heater, Panel, Permission, Sensor, Truth
from controller.wiring.board_attaching import board_machine
from hardware.absent import NoHeater, NoStirrer, NoThermometer
from hardware.bench.attach import Bench
from hardware.bench.attach import attach as open_bench
from hardware.bench.laws import FIRST
from hardware.linux.attach import (
    AttachError,
    FilePlan,
    InputPlan,
    LinuxMachine,
    LinuxPlan,
    LoadPlan,
    Platinum,
    PwmPlan,
    Thermistor,
    ThermometerPlan,
)
from hardware.modbus.attach import AttachError as BoardError
from hardware.modbus.attach import ModbusMachine

__all__ = ["Attached", "Bench", "attach", "attach_bench", "guarded", "thermometers_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Attached:
    """A machine whose devices answer."""

    devices: Devices
    panels: tuple[Panel, ...]
    truth: Callable[[], Truth] | None  # a bench knows; a machine can't
    farewell: Callable[[float, str], None]  # tells the guard that the run has ended, and its trip
    close: Callable[[], None] = lambda: None  # lets go of the devices; heat is off by then


def attach(machine_file: MachineFile, profile: Profile, clock: Clock) -> Attached:
    """The devices that the machine file names. Nothing is energised.

    Raises:
        MachineFileError: the bench it asks for can't be, or a real machine has no guard.
        HardwareError: no guard answers, or a device can't be had.
        BusyError: the guard serves another controller.
    """
    if isinstance(machine_file.attach, BenchAttach):
        machine = machine_file.machine
        return guarded(attach_bench(machine_file.attach, machine, profile), machine)
    return _attach_real(machine_file.attach, machine_file, clock)


def _attach_real(
    plan: LinuxAttach | ModbusAttach, machine_file: MachineFile, clock: Clock
) -> Attached:
    name = machine_file.machine.name
    if machine_file.guard is None:
        raise MachineFileError(
            f"Machine {name} has no table [guard], and no real heater is driven without one; "
            "hardware/README.md shows how to write it."
        )
    heater = GuardedHeater(machine_file.guard.sockets)
    try:
        machine = _real_machine(plan, heater, heater, clock)
    except (AttachError, BoardError) as error:
        heater.close()
        raise HardwareError(f"Machine {name}: {error}") from error
    stack = ExitStack()
    stack.callback(heater.close)
    stack.enter_context(machine)
    return Attached(
        devices=machine.devices,
        panels=(),
        truth=None,
        farewell=heater.farewell,
        close=stack.close,
    )


@contextmanager
def thermometers_of(machine_file: MachineFile) -> Iterator[Mapping[str, Sensor]]:
    """The thermometers of a real machine by name, `bath` and `bowl`, and nothing else of it.

    Those that it does without are left out; a bench has none of its own outside a run.

    Raises:
        HardwareError: a thermometer can't be had.
    """
    plan = machine_file.attach
    if isinstance(plan, BenchAttach):
        yield {}
        return
    try:
        machine = _real_machine(_without_outputs(plan), NoHeater(), None, RealClock())
    except (AttachError, BoardError) as error:
        raise HardwareError(f"Machine {machine_file.machine.name}: {error}") from error
    devices = machine.devices
    named = (("bath", plan.bath, devices.bath), ("bowl", plan.bowl, devices.bowl))
    with machine:
        yield {name: sensor for name, at, sensor in named if at is not None}


def _without_outputs(plan: LinuxAttach | ModbusAttach) -> LinuxAttach | ModbusAttach:
    if isinstance(plan, ModbusAttach):
        return replace(plan, stirrer=None, cooling=None)
    return LinuxAttach(bath=plan.bath, bowl=plan.bowl, stirrer_line=None, root=plan.root)


def _real_machine(
    plan: LinuxAttach | ModbusAttach, heater: Heater, permit: Permission | None, clock: Clock
) -> LinuxMachine | ModbusMachine:
    """The machine of the kernel's interfaces, or of a board."""
    if isinstance(plan, ModbusAttach):
        return board_machine(plan, heater, permit, clock.now_s)
    return LinuxMachine(
        LinuxPlan(
            bath=thermometer_plan(plan.bath),
            bowl=thermometer_plan(plan.bowl),
            stirrer_line=plan.stirrer_line,
            stirrer_pwm=None if plan.stirrer_pwm is None else PwmPlan(**asdict(plan.stirrer_pwm)),
            cooling_line=plan.cooling_line,
            buzzer_line=plan.buzzer_line,
            lamp_line=plan.lamp_line,
            current=thermometer_plan(plan.heater_current),
            level=None if plan.level is None else InputPlan(**asdict(plan.level)),
            shaft=None if plan.shaft is None else InputPlan(**asdict(plan.shaft)),
            lid=_switch(plan.lid),
            stop=_switch(plan.stop),
            load=_load(plan.load),
        ),
        heater=heater,
        permit=permit,
        clock_s=clock.now_s,
        root=plan.root,
    )


def _switch(at: InputAt | FileAt | None) -> InputPlan | FilePlan | None:
    if at is None:
        return None
    return FilePlan(**asdict(at)) if isinstance(at, FileAt) else InputPlan(**asdict(at))


def _load(at: LoadAt | None) -> LoadPlan | None:
    chip = None if at is None else thermometer_plan(at.chip)
    if at is None or chip is None:
        return None
    return LoadPlan(chip=chip, supply_v=at.supply_v, idle_a=at.idle_a)


def thermometer_plan(at: ThermometerAt | None) -> ThermometerPlan | None:
    """A thermometer of the machine file in the driver's words."""
    if at is None:
        return None
    plan = ThermometerPlan(kind=at.kind, place=at.place)
    if isinstance(at.made, PlatinumMade):
        return replace(plan, platinum=Platinum(**asdict(at.made)))
    if isinstance(at.made, ThermistorMade):
        numbers = asdict(at.made)
        return replace(plan, channel=numbers.pop("channel"), thermistor=Thermistor(**numbers))
    return plan


def attach_bench(
    plan: BenchAttach,
    machine: Machine,
    profile: Profile,
    *,
    room_c: float | None = None,
    law: str | None = None,
    filled: float = 1.0,
) -> Bench:
    """The bench that a machine file names, with the profile's chocolate in its bowl.

    Args:
        plan: which bench, and the seed of its noise.
        machine: what its owner believes of it, and what is fitted.
        profile: what goes into the bowl.
        room_c: the room's true temperature, °C; None means the bench's own.
        law: the law by which its chocolate crystallises; None means the first.
        filled: what is really weighed in, as a share of what should be.

    Raises:
        MachineFileError: there can't be such a bench.
    """
    try:
        return open_bench(
            machine=plan.machine,
            seed=plan.seed,
            kind=profile.kind,
            batch_kg=machine.batch_kg,
            seed_share=seed_share(profile),
            fitted=_fitted(plan, machine),
            answer_after_s=plan.answer_after_s,
            room_c=room_c,
            law=law or FIRST,
            filled=filled,
        )
    except ValueError as error:
        raise MachineFileError(f"Machine {machine.name}: {error}") from error


def _fitted(plan: BenchAttach, machine: Machine) -> frozenset[str]:
    """What the bench is fitted with, by the bench's words."""
    fitted = {
        "level": machine.has_level,
        "shaft": machine.has_shaft,
        "load": machine.has_load,
        "lid": machine.has_lid,
        "stop": machine.has_stop,
        "second-switch": plan.second_switch,
        "buzzer": plan.buzzer,
        "lamp": plan.lamp,
        "mains-live": machine.has_mains,
        "current": machine.has_current,
        "pump": machine.cooler is not None and not machine.cooler.is_fan,
        "fan": machine.cooler is not None and machine.cooler.is_fan,
    }
    return frozenset(name for name, is_fitted in fitted.items() if is_fitted)


class Simulated(Protocol):
    """A bench, or what stands before one."""

    devices: Devices
    operator: Panel
    guard_probe: Sensor
    mains_live: Sensor | None

    @property
    def truth(self) -> Callable[[], Truth]:
        """What only a bench knows."""
        ...


def guarded(bench: Simulated, machine: Machine) -> Attached:
    """A bench whose heater stands behind the guard's own decision, in this process."""
    guard = GuardBeside(
        bench.devices.heater,
        bench.guard_probe,
        cap_c=machine.bath_max_c,
        mains_live=bench.mains_live,
    )
    devices = bench.devices
    return Attached(
        devices=replace(
            devices,
            bath=devices.bath if machine.has_bath else NoThermometer(),
            bowl=devices.bowl if machine.has_bowl else NoThermometer(),
            stirrer=devices.stirrer if machine.has_stirrer else NoStirrer(),
            heater=guard,
            permit=guard,
        ),
        panels=(bench.operator,),
        truth=bench.truth,
        farewell=guard.farewell,
    )
