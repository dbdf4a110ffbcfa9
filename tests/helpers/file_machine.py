"""A bench behind the real drivers of Linux: thermometers in files, under the loop, simulated time.

Responsible for putting that together and running it; not for what is broken, nor any expectation.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import structlog

from controller.core.profile import Profile, StopStirrer
from controller.core.signals import Request, Verb
from controller.daemon import Crew, Daemon
from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.files.profile_file import load_profile
from controller.guard.beside import GuardBeside
from controller.ports import Moment, Question, Reading, Sensor
from hardware.bench.attach import Bench, attach
from hardware.bench.kernel_files import ONE_WIRE_IDS, KernelFiles
from hardware.linux.attach import (
    LinuxMachine,
    LinuxPlan,
    Platinum,
    Thermistor,
    ThermometerPlan,
)
from tests.helpers.records import replace
from tests.helpers.thermometer_list import Driver

ONE_WIRE = (
    ThermometerPlan(kind="1-wire", place=ONE_WIRE_IDS["bath"]),
    ThermometerPlan(kind="1-wire", place=ONE_WIRE_IDS["bowl"]),
)
HWMON = (
    ThermometerPlan(kind="hwmon", place="bath"),
    ThermometerPlan(kind="hwmon", place="/sys/class/hwmon/hwmon1/temp1_input"),
)
PT100 = Platinum(zero_ohm=100.0, reference_ohm=400.0)
PLATINUM = (
    ThermometerPlan(kind="platinum", place="bath-pt100", platinum=PT100),
    ThermometerPlan(kind="platinum", place="bowl-pt100", platinum=PT100),
)
COUPLE = (
    ThermometerPlan(kind="iio", place="bath-couple"),
    ThermometerPlan(kind="iio", place="bowl-couple"),
)
# The divider and the constants of hardware/README.md, which the bench's files have, too.
MADE = Thermistor(
    series_ohm=10_000.0,
    supply_mv=3300.0,
    is_to_ground=True,
    a=1.0295e-3,
    b=2.391e-4,
    c=1.568e-7,
)
NTC = (
    ThermometerPlan(kind="thermistor", place="bath-ntc", thermistor=MADE),
    ThermometerPlan(kind="thermistor", place="bowl-ntc", thermistor=MADE),
)
PAIRS = {
    Driver.ONE_WIRE: ONE_WIRE,
    Driver.HWMON: HWMON,
    Driver.PLATINUM: PLATINUM,
    Driver.COUPLE: COUPLE,
    Driver.NTC: NTC,
}


class NoLine:
    """A line that goes nowhere."""

    def __init__(self, name: str) -> None:
        """Off."""

    def drive(self, *, on: bool) -> None:
        """Nothing."""

    def close(self) -> None:
        """Nothing."""


@dataclass(slots=True)
class Seconds:
    """A clock that is handed in: each wait is over at once, and does what is due by then."""

    due: Callable[[float], object] = lambda _now_s: None
    at_s: float = 0.0

    def now_s(self) -> float:
        """Seconds of the run."""
        return self.at_s

    def other_s(self) -> float:
        """The same."""
        return self.at_s

    def wait_until(self, when_s: float) -> None:
        """The next second."""
        self.at_s = max(self.at_s, when_s)
        self.due(self.at_s)

    def wake(self) -> None:
        """Nobody waits."""


@dataclass(slots=True)
class Watch:
    """Starts the run, and keeps each tick."""

    moments: list[Moment] = field(default_factory=list)

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """A start."""
        return () if self.moments else (Request(verb=Verb.START),)

    def tell(self, moment: Moment) -> None:
        """Keep it."""
        self.moments.append(moment)


class Liar:
    """A whole thermometer whose values are made up."""

    def __init__(self, true: Sensor, told_c: Callable[[float], float | None]) -> None:
        """What it would say, and what it says instead at a moment; None: nothing instead."""
        self._true, self._told_c = true, told_c

    def read(self, now_s: float) -> Reading:
        """What is told, °C."""
        reading, told_c = self._true.read(now_s), self._told_c(now_s)
        return reading if told_c is None else Reading(told_c)


class FileMachine:
    """A bench of water in a tree of files, the drivers that read it, and the loop over them."""

    def __init__(self, root: Path, thermometers: tuple[ThermometerPlan, ThermometerPlan]) -> None:
        """At room temperature, nothing running."""
        machine_file = load_machine_file(bench_machine_path("brisk"))
        self.machine = replace(
            machine_file.machine, has_level=False, has_shaft=False, has_load=False
        )
        profile = load_profile("water-trial", self.machine)
        # Stirring goes on after a run that was stopped, so that the loop does.
        self.profile: Profile = replace(profile, stop_stirrer=StopStirrer.KEEP)
        self.bench: Bench = attach(
            machine="brisk",
            seed=1,
            kind=profile.kind,
            batch_kg=self.machine.batch_kg,
            seed_share=0.0,
            fitted=frozenset(),
        )
        ports = self.bench.devices
        self._root = root
        self.files = KernelFiles(root, {"bath": ports.bath, "bowl": ports.bowl})
        self.files.show(0.0)
        self.clock, self.watch = Seconds(), Watch()
        guard = GuardBeside(ports.heater, self.bench.guard_probe, cap_c=self.machine.bath_max_c)
        self.linux = LinuxMachine(
            LinuxPlan(bath=thermometers[0], bowl=thermometers[1], stirrer_line="GPIO27"),
            heater=guard,
            permit=guard,
            clock_s=self.clock.now_s,
            root=root,
            open_line=NoLine,
        )

    def lies(self, told_c: Callable[[float], float | None]) -> None:
        """From now on the bath's files hold what is `told_c` at a moment, where it is anything."""
        ports = self.bench.devices
        self.files = KernelFiles(self._root, {"bath": Liar(ports.bath, told_c), "bowl": ports.bowl})

    def run(self, due: Callable[[float], None]) -> list[Moment]:
        """To the end of the run; `due` is called as each second begins, before it is read."""
        self.clock.due = due
        daemon = Daemon(
            profile=self.profile,
            machine=self.machine,
            # The bench's own motor, which turns what the files' machine would.
            devices=replace(self.linux.devices, stirrer=self.bench.devices.stirrer),
            crew=Crew(panels=[self.watch, self.bench.operator], tellers=[self.watch]),
            clock=self.clock,
            log=structlog.get_logger(),
        )
        self.halt = daemon.halt
        daemon.run()
        return self.watch.moments
