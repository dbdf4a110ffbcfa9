"""A command of the project as a process whose clock is handed in: the seconds of a pacemaker.

    python -m tests.helpers.paced_process PACE-FILE WORD...

Responsible for that clock, and for each bus, the guard, its thermometer and a bench's files taking
their turns; everything else is the command's own code, in its own threads.
"""

import math
import select
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from controller import clock
from controller.commands import main
from controller.files.machine_file import load_machine_file
from controller.guard import board, door, probe, process
from controller.guard import client as guards
from controller.guard.keeper import Keeper
from controller.guard.probe import Probe
from controller.guard.settings import to_text
from controller.wiring import self_watch, serving
from hardware import bus
from hardware.bench.file_machine import FileMachine
from hardware.bus import Bus
from hardware.modbus import client
from tests.helpers.pace import BEGINS_S, Place, Seat, Shared
from tests.helpers.process import environment

BEGAN_UTC = datetime(2026, 1, 1, tzinfo=UTC)
ROOT = Path(__file__).resolve().parents[2]
END_S = 120.0  # a time-out, never waited for in full
TURN_PAUSE_S = 0.0005  # of who has turns, which are what it waits for
LOOK_S = 0.02  # of who has none; how often counts in simulated seconds
RETRIES = 9  # a busy computer's late answer is no lost one: only the seconds here are simulated


def hand_in(path: Path) -> None:
    """Have the one module that reads a clock read the pacemaker's, and give turns their places."""
    shared = Shared(path)
    put: Callable[[object, str, object], None] = setattr

    class Dates:
        """The time of day, which goes with it."""

        @staticmethod
        def now(_zone: tzinfo) -> datetime:
            return BEGAN_UTC + timedelta(seconds=shared.now_s() - BEGINS_S)

    times = SimpleNamespace(
        monotonic=shared.now_s, clock_gettime=lambda _which: shared.now_s(), CLOCK_BOOTTIME=7
    )
    put(clock, "time", times)
    put(clock, "datetime", Dates)
    put(clock.Bell, "wait", waiting(path, shared))
    for module in (bus, door, probe):
        put(module, "PAUSE_S", TURN_PAUSE_S)
    put(serving, "FILES_TICK_S", TURN_PAUSE_S)
    put(self_watch, "EVERY_S", LOOK_S)
    put(guards, "ANSWER_S", END_S)
    for module in (board, client):
        put(module, "RETRIES", RETRIES)
    put(FileMachine, "follow", in_turn(FileMachine.follow, path, Seat.FILES))
    put(Keeper, "cycle", in_turn(Keeper.cycle, path, Seat.GUARD))
    put(Probe, "read_once", in_turn(Probe.read_once, path, Seat.MEASURES))
    put(Bus, "take", in_turn(Bus.take, path, Seat.MEASURES))


def waiting(path: Path, shared: Shared) -> Callable[[Any, float], None]:
    """How a clock's bell waits: for a moment of the pacemaker's, or until it rings."""
    places: list[Place] = []

    def wait(bell: Any, seconds: float) -> None:  # noqa: ANN401 - its handle is its own
        if not places:
            places.append(Place(path, Seat.RUN))
        (place,), until_s = places, shared.now_s() + seconds
        place.ask(until_s)
        while shared.now_s() < until_s:
            come = select.select((bell._handle, place), (), ())[0]  # noqa: SLF001 - as its own wait does
            if place in come and not place.go():
                raise EOFError("nobody moves the seconds any more")
            if bell._handle in come:  # noqa: SLF001 - likewise
                break
        place.ask(math.nan)

    return wait


def in_turn(work: Callable[..., None], path: Path, seat: Seat) -> Callable[..., None]:
    """The same work, each time in a turn of its thread's own.

    It returns in its next turn, so that whatever is read for the next work is of that moment.
    """
    own = threading.local()

    def wrapped(*given: object) -> None:
        if not hasattr(own, "place"):
            own.place = Place(path, seat)  # closed with the thread that had it
            own.place.go()
        work(*given)
        own.place.done()
        own.place.go()

    return wrapped


def command(pace: Path, words: Sequence[str]) -> list[str]:
    """What starts a command of the project in that time."""
    return [sys.executable, "-m", "tests.helpers.paced_process", str(pace), *words]


def surroundings(folder: Path) -> dict[str, str]:
    """Records in that folder, and this very code wherever it is started."""
    return {**environment(folder), "PYTHONPATH": str(ROOT)}


@contextmanager
def started(folder: Path, pace: Path, *words: str) -> Iterator[subprocess.Popen[str]]:
    """A command in that time and folder; ended, if it hasn't ended by itself."""
    process = subprocess.Popen(
        command(pace, words),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=surroundings(folder),
        cwd=folder,
    )
    try:
        yield process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
        process.communicate(timeout=END_S)


if __name__ == "__main__":
    hand_in(Path(sys.argv[1]))
    words = sys.argv[2:]
    if words[0] == "guard":  # the command would begin a fresh interpreter, with a clock of its own
        guard = load_machine_file(Path(words[-1])).guard
        assert guard is not None
        sys.exit(process.main(to_text(guard)))
    sys.exit(main.main(words))
