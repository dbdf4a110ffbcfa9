"""A command of the project as a process whose clock is handed in: the seconds of a pacemaker.

    python -m tests.helpers.paced_process PACE-FILE WORD...

Responsible for that clock, and for telling the pacemaker how often a bus, the guard and its
thermometer have gone round; everything else is the command's own code, in its own threads.
"""

import select
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from controller import clock
from controller.commands import main
from controller.files.machine_file import load_machine_file
from controller.guard import board, door, probe, process
from controller.guard.keeper import Keeper
from controller.guard.probe import Probe
from controller.guard.settings import to_text
from controller.wiring import self_watch, serving
from hardware import bus
from hardware.bench.file_machine import FileMachine
from hardware.bus import Bus
from hardware.modbus import client
from tests.helpers.pace import BEGINS_S, LOOK_S, Pace, Slot
from tests.helpers.process import environment

BEGAN_UTC = datetime(2026, 1, 1, tzinfo=UTC)
ROOT = Path(__file__).resolve().parents[2]
END_S = 120.0  # a time-out, never waited for in full
REAL_PAUSE_S = 0.001  # of who looks again and again; how often counts in simulated seconds
RETRIES = 9  # a busy computer's late answer is no lost one: only the seconds here are simulated


def hand_in(pace: Pace) -> None:
    """Have the one module that reads a clock read this one."""

    class Dates:
        """The time of day, which goes with it."""

        @staticmethod
        def now(_zone: tzinfo) -> datetime:
            return BEGAN_UTC + timedelta(seconds=pace.now_s() - BEGINS_S)

    def wait(bell: Any, seconds: float) -> None:  # noqa: ANN401 - its handle is its own
        until_s = pace.now_s() + seconds
        pace.write(Slot.WANTED, until_s)
        while pace.now_s() < until_s:
            if select.select((bell._handle,), (), (), LOOK_S)[0]:  # noqa: SLF001 - as its own wait does
                break
        pace.write(Slot.WANTED, float("nan"))

    put: Callable[[object, str, object], None] = setattr
    times = SimpleNamespace(
        monotonic=pace.now_s, clock_gettime=lambda _which: pace.now_s(), CLOCK_BOOTTIME=7
    )
    put(clock, "time", times)
    put(clock, "datetime", Dates)
    put(clock.Bell, "wait", wait)
    for module, name in ((bus, "PAUSE_S"), (door, "PAUSE_S"), (probe, "PAUSE_S")):
        put(module, name, REAL_PAUSE_S)
    put(self_watch, "EVERY_S", 10 * REAL_PAUSE_S)
    for module in (board, client):
        put(module, "RETRIES", RETRIES)
    put(serving, "FILES_TICK_S", REAL_PAUSE_S)
    put(FileMachine, "follow", followed(FileMachine.follow, pace))
    put(Bus, "take", told(Bus.take, pace, Slot.BUS))
    put(Keeper, "cycle", told(Keeper.cycle, pace, Slot.GUARD))
    put(Probe, "read_once", told(Probe.read_once, pace, Slot.PROBE))


def followed(
    follow: Callable[[FileMachine, float], None], pace: Pace
) -> Callable[[FileMachine, float], None]:
    """The same, and word that its files are there."""

    def wrapped(machine: FileMachine, now_s: float) -> None:
        follow(machine, now_s)
        pace.gone_through(Slot.FILES)

    return wrapped


def told(work: Callable[[Any], None], pace: Pace, slot: Slot) -> Callable[[Any], None]:
    """The same work, and word that it was done once more."""

    def wrapped(who: Any) -> None:  # noqa: ANN401 - whoever does it
        work(who)
        pace.gone_through(slot)

    return wrapped


@contextmanager
def started(folder: Path, pace: Path, *words: str) -> Iterator[subprocess.Popen[str]]:
    """A command in that time; ended, if it hasn't ended by itself."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.helpers.paced_process", str(pace), *words],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(folder),
        cwd=ROOT,
    )
    try:
        yield process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
        process.communicate(timeout=END_S)


if __name__ == "__main__":
    hand_in(Pace(Path(sys.argv[1])))
    words = sys.argv[2:]
    if words[0] == "guard":  # the command would begin a fresh interpreter, with a clock of its own
        guard = load_machine_file(Path(words[-1])).guard
        assert guard is not None
        sys.exit(process.main(to_text(guard)))
    sys.exit(main.main(words))
