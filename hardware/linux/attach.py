"""The way to attach a real machine: the one door to this package.

Responsible for putting thermometers, buses and stirrer together; not for the heater, which is
handed in: it belongs to the guard.
"""

from collections.abc import Callable
from contextlib import ExitStack, closing, suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.ports import Devices, Heater, Permission, Sensor, Stirrer
from hardware.absent import NoStirrer, NoThermometer
from hardware.bus import Buses
from hardware.linux import hwmon
from hardware.linux.errors import AttachError
from hardware.linux.gpio import Output, open_button, open_output, open_shaft, open_switch
from hardware.linux.inputs import FilePlan, FileSwitch, InputPlan, Shaft, Switch
from hardware.linux.kernel import persisting_outputs
from hardware.linux.load import LoadPlan
from hardware.linux.load import measured as load_of
from hardware.linux.platinum import Platinum
from hardware.linux.pwm import PwmPlan, PwmStirrer
from hardware.linux.thermistor import Thermistor
from hardware.linux.thermometers import ThermometerPlan, place_of
from hardware.switched import SwitchedCooler, SwitchedStirrer

__all__ = [
    "AttachError",
    "FilePlan",
    "InputPlan",
    "LinuxMachine",
    "LinuxPlan",
    "LoadPlan",
    "Platinum",
    "PwmPlan",
    "Thermistor",
    "ThermometerPlan",
    "persisting_outputs",
]

ROOT = Path("/")


@dataclass(frozen=True, slots=True, kw_only=True)
class LinuxPlan:
    """What a real machine is made of."""

    bath: ThermometerPlan | None  # None: the machine does without
    bowl: ThermometerPlan | None
    stirrer_line: str | None
    stirrer_pwm: PwmPlan | None = None  # in place of a line
    cooling_line: str | None = None
    buzzer_line: str | None = None
    lamp_line: str | None = None
    level: InputPlan | None = None
    shaft: InputPlan | None = None
    current: ThermometerPlan | None = None  # a chip of hwmon that measures the element's current
    load: LoadPlan | None = None
    lid: InputPlan | FilePlan | None = None
    stop: InputPlan | FilePlan | None = None


class SwitchedIndicator:
    """A buzzer or lamp on a line."""

    def __init__(self, output: Output) -> None:
        """Off."""
        self._output = output

    def drive(self, *, on: bool, now_s: float) -> None:  # noqa: ARG002 - the port's contract
        """Sound or shine; a line that is gone calls nobody, and ends no run."""
        with suppress(OSError):
            self._output.drive(on=on)


class LinuxMachine:
    """A real machine's devices; a context that measures while it lasts.

    After its end stirrer and cooling stand and the readings grow old.
    """

    devices: Devices

    def __init__(
        self,
        plan: LinuxPlan,
        *,
        heater: Heater,
        permit: Permission | None,
        clock_s: Callable[[], float],
        root: Path = ROOT,
        open_line: Callable[[str], Output] = open_output,
    ) -> None:
        """Take the lines that there are, driven off; nothing is measured yet.

        Args:
            plan: What the machine is made of.
            heater: The heater behind its guard.
            permit: The guard's word.
            clock_s: The clock that the sensors are given moments of, s.
            root: Where the kernel's files begin.
            open_line: Takes an output by its name.

        Raises:
            AttachError: the line can't be had, or a thermometer's name stands for more than one.
        """
        self._buses = Buses(clock_s)
        bath, bowl, current, load = _measured(plan, self._buses, root)
        lines = (plan.stirrer_line, plan.cooling_line, plan.buzzer_line, plan.lamp_line)
        self._lines, (stirrer, cooler, buzzer, lamp) = _taken(open_line, *lines)
        self.devices = Devices(
            bath=bath or NoThermometer(),
            bowl=bowl or NoThermometer(),
            heater=heater,
            stirrer=self._stirrer(plan.stirrer_pwm, stirrer, root),
            permit=permit,
            level=self._input(plan.level, open_switch),
            shaft=self._input(plan.shaft, open_shaft),
            lid=self._switch(plan.lid, open_switch, root),
            stop=self._switch(plan.stop, open_button, root),
            current=current,
            load=load,
            cooler=None if cooler is None else SwitchedCooler(cooler),
            buzzer=None if buzzer is None else SwitchedIndicator(buzzer),
            lamp=None if lamp is None else SwitchedIndicator(lamp),
        )

    def _stirrer(self, pwm: PwmPlan | None, line: Output | None, root: Path) -> Stirrer:
        """By PWM, by a line, or none; AttachError when the output can't be had."""
        if pwm is None:
            return NoStirrer() if line is None else SwitchedStirrer(line)
        try:
            return self._lines.enter_context(closing(PwmStirrer(pwm, root)))
        except AttachError:
            self._lines.close()
            raise

    def _switch(
        self,
        plan: InputPlan | FilePlan | None,
        opened: Callable[[InputPlan], Switch],
        root: Path,
    ) -> Sensor | None:
        """A switch on a line or in a file, or none."""
        return FileSwitch(plan, root) if isinstance(plan, FilePlan) else self._input(plan, opened)

    def _input(
        self, plan: InputPlan | None, opened: Callable[[InputPlan], Switch | Shaft]
    ) -> Sensor | None:
        """A switch or a shaft, or none; AttachError when its line can't be had."""
        if plan is None:
            return None
        try:
            return self._lines.enter_context(closing(opened(plan)))
        except AttachError:
            self._lines.close()
            raise

    def __enter__(self) -> Self:
        """Begin to measure, and give the first round some time."""
        self._buses.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Measure no more, stop stirrer and cooling and let their lines go."""
        self._buses.close()
        self._lines.close()

    def take(self) -> None:
        """One round on every bus, by the caller: for tests, and for a look before a run."""
        self._buses.take()


def _measured(plan: LinuxPlan, buses: Buses, root: Path) -> list[Sensor | None]:
    """Bath, bowl, current and load, as far as there are any, each on its bus."""
    sensors: list[Sensor | None] = []
    motor = None if plan.load is None else plan.load.chip
    wanted = (
        (plan.bath, hwmon.WARMTH),
        (plan.bowl, hwmon.WARMTH),
        (plan.current, hwmon.CURRENT),
        (motor, hwmon.CURRENT),
    )
    for one, what in wanted:
        if one is None:
            sensors.append(None)
            continue
        place = place_of(one, root, what)
        measure = place.measure
        if plan.load is not None and one is motor:
            measure = load_of(plan.load, measure)
        sensors.append(buses.hang(place.bus, measure))
    return sensors


def _taken(
    open_line: Callable[[str], Output], *names: str | None
) -> tuple[ExitStack, list[Output | None]]:
    """The lines of these names, and what lets go of them: at once where a later can't be had."""
    with ExitStack() as taken:
        lines = [
            None if name is None else taken.enter_context(closing(open_line(name)))
            for name in names
        ]
        return taken.pop_all(), lines
