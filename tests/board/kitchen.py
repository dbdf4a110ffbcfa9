"""What the tests of the virtual board do in the kitchen: heat, look, re-arm.

Responsible for words that several tests share; not for any expectation about safety.
"""

import json
import signal
import sys
from pathlib import Path

from tests.board.board import Board
from tests.board.guest.agent import FEEDING

MACHINE = "/etc/bainward/kitchen.toml"
LATCH = "/var/lib/bainward/kitchen.latch"
SOCKET = "/run/bainward/kitchen.guard"
GUARD = "bainward-guard.service"
COMMAND = str(Path(sys.executable).parent / "bainward")
OFF_WITHIN_S = 3.0  # what the project promises
PATIENCE_S = 180.0  # for what takes its time in an emulated processor
LONG_S = 240.0


def say(what: str, seconds: float) -> None:
    """Print a measured time, for the documents."""
    sys.stdout.write(f"\nBOARD {what}: {seconds:.2f} s\n")


def guard_ready(board: Board) -> None:
    """Wait until the guard has said that it is ready."""
    words = ["systemctl", "show", "-P", "SubState", GUARD]
    assert board.ask("until", words, "running", PATIENCE_S, limit_s=LONG_S) is not None


def guard_pid(board: Board) -> int:
    """The guard's process."""
    return int(board.ask("call", "systemctl", "show", "-P", "MainPID", GUARD))


def latched(board: Board) -> str:
    """The cause that the guard remembers on disk."""
    text = board.ask("read", LATCH)
    return "none" if text is None else str(json.loads(text.partition("\n")[0])["cause"])


def rearm(board: Board) -> None:
    """A person has looked, and clears the latch."""
    board.ask("call", COMMAND, "rearm", "--yes", "--machine", MACHINE)


def heated(board: Board) -> int:
    """A controller has the heater on; its process."""
    board.ask("end")
    guard_ready(board)
    for probe in ("guard", "bath", "bowl"):
        board.ask("warm", probe, 40.0)
    if latched(board) != "none":
        rearm(board)
    words = ("-m", "tests.helpers.guard_controller", SOCKET, "0.5", "60")
    pid = int(board.ask("start", sys.executable, *words))
    assert board.ask("wait", "HEAT", 1, PATIENCE_S, limit_s=LONG_S) is not None
    assert board.ask("line", "SECOND") == 1
    return pid


def struck(board: Board, what: str, pid: int, blow: signal.Signals) -> float:
    """Strike a process; the seconds until the heater's line was off."""
    off_s = board.ask("strike", pid, int(blow))
    assert off_s is not None, f"{what}: the heater stayed on"
    say(what, off_s)
    return float(off_s)


def stays_off(board: Board, for_s: float) -> bool:
    """Whether the heater's line is never on meanwhile."""
    return bool(board.ask("watch", "HEAT", for_s, limit_s=for_s + PATIENCE_S) == [0])


def plant_feeds(board: Board) -> None:
    """A plant at room temperature follows the lines, and feeds chips and inputs."""
    board.ask("end")
    board.ask("write", FEEDING, "")
    board.ask("start", sys.executable, "-m", "tests.board.guest.plant")
    fed_s = board.ask("until", ["cat", FEEDING], "feeding", PATIENCE_S, limit_s=LONG_S)
    assert fed_s is not None, board.ask("read", "/run/board-program.log")
