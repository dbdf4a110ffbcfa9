"""A whole profile over a tree of the kernel's files: the real loop and drivers, a bench behind.

Responsible for a run in simulated time, and for the command that serves such a tree; not for single
files, nor for what becomes of broken ones (faults).
"""

import signal
from dataclasses import dataclass, field
from pathlib import Path

import structlog

from controller.core.profile import Profile
from controller.core.signals import Request, Verb
from controller.core.state import Mode
from controller.daemon import Crew, Daemon
from controller.errors import Exit
from controller.files.attach_shape import LinuxAttach
from controller.files.machine_file import MachineFile, load_machine_file
from controller.files.profile_file import load_profile
from controller.guard.beside import GuardBeside
from controller.guard.lines import FileLine
from controller.guard.probe import read_mc
from controller.ports import Moment, Question, Reading, missing
from controller.wiring.attaching import _real_machine
from hardware.bench.file_machine import HEATER, FileMachine
from hardware.bench.kernel_files import ONE_WIRE_IDS
from tests.helpers.guard_stage import until
from tests.helpers.process import end, start
from tests.helpers.records import replace
from tests.helpers.served_board import Hand, water_bench

BOARD_FILE = Path(__file__).resolve().parents[1] / "helpers" / "board_machine.toml"
MOST_S = 3600
ATTACHED = f"""
[fitted]
level_switch = false
shaft_pulses = false
load_signal = false

[attach]
kind = "linux"
root = "tree"

[attach.bath]
kind = "1-wire"
id = "{ONE_WIRE_IDS["bath"]}"

[attach.bowl]
kind = "platinum"
name = "bowl-pt100"
reference = "400 ohm"

[attach.stirrer]
pwm = "/sys/class/pwm/pwmchip0/pwm0"
full = "60 rpm"

[guard.main]
kind = "file"
path = "tree/{HEATER}"

[guard.probe]
kind = "1-wire"
path = "tree/sys/bus/w1/devices/{ONE_WIRE_IDS["guard"]}/temperature"
"""


def machine_file_in(folder: Path) -> MachineFile:
    """A machine whose files lie in `tree` beside it."""
    sizes = BOARD_FILE.read_text(encoding="utf-8").partition("[fitted]")[0]
    path = folder / "kitchen.toml"
    path.write_text(sizes + ATTACHED, encoding="utf-8")
    return load_machine_file(path)


def short_trial(machine_file: MachineFile) -> Profile:
    """The water trial between lower temperatures and with shorter dwells."""
    profile = load_profile("water-trial", machine_file.machine)
    phases = tuple(
        replace(phase, bowl_target_c=target_c, dwell_s=30.0, settle_s=20.0)
        for phase, target_c in zip(profile.phases, (22.0, 24.0), strict=True)
    )
    return replace(profile, phases=phases)


class LineHeater:
    """The heater's file, as the guard writes it."""

    def __init__(self, path: Path) -> None:
        """Off."""
        self.line = FileLine(str(path))

    def drive(
        self,
        *,
        on: bool,
        now_s: float,  # noqa: ARG002 - the Heater's contract
        cap_c: float = 0.0,  # noqa: ARG002 - the Heater's contract
        good: bool = True,
        alone: int = 0,  # noqa: ARG002 - the Heater's contract
    ) -> None:
        """Write it."""
        self.line.set(on and good)


class GuardsProbe:
    """The guard's own reading of its own file."""

    def __init__(self, machine_file: MachineFile) -> None:
        """As its settings say."""
        assert machine_file.guard is not None
        self._at = machine_file.guard.probe

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """A value, or none."""
        value_mc = read_mc(self._at)
        return missing() if value_mc is None else Reading(value_mc / 1000)


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


class Kitchen:
    """Everything of the run, and its clock, which is the bench's, too."""

    def __init__(self, folder: Path) -> None:
        """Files, drivers and guard stand; nothing runs."""
        self.hand, self.bench, self.watch = Hand(), water_bench(), Watch()
        self.most_rpm = 0.0
        self.served = FileMachine(self.bench, folder / "tree")
        self.served.follow(0.0)
        self.file = machine_file_in(folder)
        self.heater = LineHeater(folder / "tree" / HEATER)
        cap_c = self.file.machine.bath_max_c
        guard = GuardBeside(self.heater, GuardsProbe(self.file), cap_c=cap_c)
        assert isinstance(self.file.attach, LinuxAttach)
        self.machine = _real_machine(self.file.attach, guard, guard, self)

    def now_s(self) -> float:
        """Seconds of the run."""
        return self.hand.at_s

    def other_s(self) -> float:
        """The same."""
        return self.hand.at_s

    def wait_until(self, when_s: float) -> None:
        """What bench and buses do until then."""
        self.served.follow(self.hand.at_s)
        self.hand.at_s = max(self.hand.at_s, when_s)
        assert self.hand.at_s <= MOST_S, "the run does not end"
        self.served.follow(self.hand.at_s)
        self.most_rpm = max(self.most_rpm, self.bench.plant.rpm)
        self.machine.take()

    def wake(self) -> None:
        """Nobody waits."""

    def run(self) -> Moment:
        """To the end; the last moment."""
        daemon = Daemon(
            profile=short_trial(self.file),
            machine=self.file.machine,
            devices=self.machine.devices,
            crew=Crew(panels=[self.watch, self.bench.operator], tellers=[self.watch]),
            clock=self,
            log=structlog.get_logger(),
        )
        daemon.run()
        self.heater.line.close()
        return self.watch.moments[-1]


def test_a_whole_profile_runs_over_the_kernels_files_to_its_end(tmp_path: Path) -> None:
    kitchen = Kitchen(tmp_path)
    last = kitchen.run()
    assert last.state.mode is Mode.COMPLETE, last.state.trips
    assert {moment.state.progress.phase for moment in kitchen.watch.moments} == {0, 1}
    assert abs(kitchen.bench.truth().bowl_c - 24.0) < 0.5
    assert abs(kitchen.most_rpm - 30.0) < 0.5  # as the profile has it, by a duty of a half
    assert (tmp_path / "tree" / HEATER).read_text() == "0\n"
    for later_s in (0.0, 10.0):
        kitchen.served.follow(kitchen.hand.at_s + later_s)
    assert kitchen.bench.plant.rpm < 1.0


def test_the_bench_serves_files_that_follow_the_heaters_line(tmp_path: Path) -> None:
    tree = tmp_path / "tree"
    bench = start(tmp_path, "bench", "--files", str(tree), "--speed", "100")
    assert bench.stdout is not None
    assert "at files in" in bench.stdout.readline()
    warm = tree / "sys/class/hwmon/hwmon0/temp1_input"
    before_mc = int(warm.read_text())
    (tree / HEATER).write_text("1\n")
    until("the bath grows warm", lambda: int(warm.read_text()) > before_mc + 3000)
    bench.send_signal(signal.SIGTERM)
    assert end(bench)[0] == Exit.DONE


def test_a_folder_that_can_not_be_written_is_refused_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "tree").write_text("a file, and no folder")
    code, _, err = end(start(tmp_path, "bench", "--files", str(tmp_path / "tree")))
    assert code == Exit.HARDWARE
    assert "can't be written" in err
    assert err.count("\n") == 1
