"""On a real kernel: a run with inputs, hwmon and IIO thermometers fed by a plant.

The guard is the one of the units. Responsible for a press that is shorter than a tick; not for a
run to its end.
"""

import json
from pathlib import Path

from controller.errors import Exit
from tests.board.board import Board
from tests.board.kitchen import (
    COMMAND,
    LONG_S,
    PATIENCE_S,
    guard_ready,
    latched,
    plant_feeds,
    rearm,
    say,
)

MACHINE = "/etc/bainward/whole.toml"
PROFILE = str(Path(__file__).parent / "short_batch.toml")
RUNS = "/var/lib/bainward/runs"
PRESS_S = 0.2  # shorter than a tick
OFF_S = 3.0


def run_started(board: Board, *words: str) -> int:
    """A run on all that the board has; its process."""
    options = ("--begin-again", "--journal-dir", RUNS, "--machine", MACHINE)
    return int(board.ask("start", COMMAND, "run", PROFILE, *options, *words))


def heats(board: Board) -> None:
    """Wait until both lines of the heater are on."""
    for name in ("HEAT", "SECOND"):
        if board.ask("wait", name, 1, PATIENCE_S, limit_s=LONG_S) is None:
            raise AssertionError(board.ask("read", "/run/board-program.log"))


def newest_events(board: Board) -> list[dict[str, object]]:
    """What happened in the newest run, by its record."""
    path = board.ask("files", RUNS, "*.jsonl")[-1]
    lines = [json.loads(line) for line in str(board.ask("read", path)).splitlines()]
    return [line for line in lines if line["kind"] == "event"]


def test_a_short_press_of_the_stop_button_between_two_ticks_ends_heat_and_stirring(
    board: Board,
) -> None:
    guard_ready(board)
    if latched(board) != "none":
        rearm(board)
    plant_feeds(board)
    pid = run_started(board, "--no-broker")
    heats(board)
    assert board.ask("wait", "STIR", 1, PATIENCE_S, limit_s=LONG_S) is not None
    board.ask("flick", "STOP", PRESS_S)
    for name in ("HEAT", "SECOND", "STIR"):
        off_s = board.ask("wait", name, 0, PATIENCE_S, limit_s=LONG_S)
        assert off_s is not None, f"{name} stayed on"
        say(f"{name} off after a press of {PRESS_S:g} s", PRESS_S + off_s)
        assert off_s <= OFF_S
    code = board.ask("finished", pid, PATIENCE_S, limit_s=LONG_S)
    assert code == Exit.STOPPED, board.ask("read", "/run/board-program.log")
    assert "button_pressed" in {one["event"] for one in newest_events(board)}
    assert latched(board) == "none"
