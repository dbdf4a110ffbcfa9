"""A guard and a controller as real processes, with files for heater line and thermometer.

Responsible for starting, watching from outside and ending them; not for any expectation.
"""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from controller.clock import process_s
from controller.errors import HardwareError
from controller.guard.client import Caller
from controller.guard.decision import Cause
from controller.guard.latch import from_bytes
from controller.guard.messages import Status
from tests.helpers.process import COMMAND, environment

ROOT = Path(__file__).resolve().parents[2]
SOUND = (ROOT / "tests" / "unit" / "bad_files" / "sound_machine.toml").read_text(encoding="utf-8")
START_S = 30.0  # never reached unless something is wrong
LOOK_S = 0.002  # between two looks at the line
WARM_MC = 40_000
USUAL = ""  # the guard's own limits
# A livelier guard, for more cases a minute: own engineering values.
LIVELY = 'lease = "0.5 s"\nshort_lapse = "0.7 s"\nover = "0.3 s"\nprobe_lost = "2.2 s"\n'


def until(what: str, holds: Callable[[], bool], within_s: float = START_S) -> float:
    """Wait for something, seconds; fails when it does not come in time."""
    began_s = process_s()
    pause = threading.Event()
    while not holds():
        assert process_s() - began_s <= within_s, f"{what}: not within {within_s} s"
        pause.wait(LOOK_S)
    return process_s() - began_s


def never(what: str, holds: Callable[[], bool], for_s: float) -> None:
    """Watch that something does not come."""
    began_s = process_s()
    pause = threading.Event()
    while process_s() - began_s < for_s:
        assert not holds(), f"{what}, after {process_s() - began_s:.3f} s"
        pause.wait(LOOK_S)


def moment(seconds: float) -> None:
    """Let processes run for a while, to meet them at a random moment."""
    threading.Event().wait(seconds)


class Stage:
    """The folder of one case and the processes in it; usable as a context manager."""

    def __init__(self, folder: Path, limits: str = LIVELY, latch: Path | None = None) -> None:
        """Write the machine file; nothing runs yet."""
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self.line = folder / "line"
        self.probe = folder / "temp1_input"
        self.socket = folder / "guard"
        self.latch = latch or folder / "latch"
        self.machine = folder / "machine.toml"
        self.machine.write_text(
            f'{SOUND}\n[guard]\nsocket = "guard"\nlatch = "{self.latch}"\n{limits}'
            '[guard.main]\nkind = "file"\npath = "line"\n'
            '[guard.probe]\nkind = "hwmon"\npath = "temp1_input"\n',
            encoding="utf-8",
        )
        self.warm()
        self.guard: subprocess.Popen[bytes] | None = None
        self.controller: subprocess.Popen[bytes] | None = None
        self._started: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> Self:
        """Nothing is started by itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End every process that this stage started."""
        for process in self._started:
            process.kill()
            process.wait()

    def warm(self, bath_mc: int = WARM_MC) -> None:
        """Let the thermometer say this, in one step as the kernel's files do."""
        fresh = self.folder / "temp.new"
        fresh.write_text(f"{bath_mc}\n", encoding="ascii")
        fresh.rename(self.probe)

    def start_guard(self) -> None:
        """Start `bainward guard` and wait until it answers."""
        self.launch_guard()
        self.until_answered()

    def launch_guard(self) -> None:
        """Start `bainward guard`."""
        with (self.folder / "guard.log").open("ab") as log:
            self.guard = self._start([str(COMMAND), "guard", "--machine", str(self.machine)], log)

    def until_answered(self) -> None:
        """Wait until the guard that was launched answers."""
        until("the guard answers", self._answers)

    def start_controller(self, period_s: float = 0.2, cap_c: float = 50.0) -> None:
        """Start the controller; it asks for heat at once."""
        module = "tests.helpers.guard_controller"
        words = [sys.executable, "-m", module, str(self.socket), str(period_s), str(cap_c)]
        with (self.folder / "controller.log").open("ab") as log:
            self.controller = self._start(words, log)

    def heat(self, period_s: float = 0.2) -> None:
        """Start both and wait for heat."""
        assert self.heats(period_s), "the lease lapsed before heat came: a busy computer"

    def heats(self, period_s: float) -> bool:
        """Start both and wait for heat; False where a busy computer lets the lease lapse first."""
        self.start_guard()
        self.start_controller(period_s)
        until("heat or a lapse", lambda: self.is_on() or self.on_disk() is Cause.LEASE_LAPSED)
        return self.is_on()

    def _start(self, words: list[str], log: BinaryIO) -> subprocess.Popen[bytes]:
        process = subprocess.Popen(
            words,
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=log,
            env=environment(self.folder),
        )
        self._started.append(process)
        return process

    def is_on(self) -> bool:
        """Whether the line is on, seen from outside."""
        return self.line.exists() and self.line.read_bytes()[:1] == b"1"

    def is_off(self) -> bool:
        """Whether the line says off; a line that says nothing is not off."""
        return self.line.read_bytes()[:1] == b"0"

    def off_within(self, seconds: float) -> float:
        """Wait for the line to go off."""
        return until("heat off", self.is_off, seconds)

    def _answers(self) -> bool:
        assert self.guard is not None
        assert self.guard.poll() is None, (self.folder / "guard.log").read_text("utf-8")
        try:
            self.status()
        except HardwareError:
            return False
        return True

    def status(self) -> Status:
        """What the guard says."""
        caller = Caller((str(self.socket),))
        try:
            return caller.ask()
        finally:
            caller.close()

    def latched(self, within_s: float = 12.0) -> Cause:
        """The cause, once there is one; by the guard's word."""
        until("a cause", lambda: self.status().latched is not Cause.NONE, within_s)
        return self.status().latched

    def on_disk(self) -> Cause | None:
        """The cause by the latch file; None while that can't be read."""
        memory = from_bytes(self.latch.read_bytes()) if self.latch.exists() else None
        return None if memory is None else memory.latched

    def signal_controller(self, number: signal.Signals) -> None:
        """Send the controller a signal."""
        assert self.controller is not None
        self.controller.send_signal(number)

    def signal_guard(self, number: signal.Signals) -> None:
        """Send the guard a signal."""
        assert self.guard is not None
        self.guard.send_signal(number)

    def end_guard(self, number: signal.Signals) -> int:
        """Send the guard a signal and wait for its end; its exit code."""
        self.signal_guard(number)
        assert self.guard is not None
        return self.guard.wait(START_S)


class Hogs:
    """Processes that use all the computer has; usable as a context manager."""

    def __enter__(self) -> Self:
        """Start two for each processor."""
        number = 2 * (os.cpu_count() or 1)
        words = [sys.executable, "-c", "while True: pass"]
        self._all = [subprocess.Popen(words) for _ in range(number)]
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End them."""
        for process in self._all:
            process.kill()
            process.wait()
