"""On a real kernel under real systemd: whatever dies or freezes, the heater's line is off.

Times are measured inside the board but outside the processes, at the line of the GPIO simulator.
The tests share one board, one after the other.
"""

import signal

import pytest

from tests.board.board import Board
from tests.board.kitchen import (
    OFF_WITHIN_S,
    PATIENCE_S,
    guard_pid,
    guard_ready,
    heated,
    latched,
    stays_off,
    struck,
)

LAPSE_S = 10.0  # a longer silence of the controller latches: safety notes of the project
# The one-shot starts a Python, for which an emulated processor takes far longer than a board's own:
# so much is allowed for it here, beyond what is promised. Own engineering value, not published.
EMULATED_S = 3.0


def test_the_guard_runs_from_boot_with_heat_off(board: Board) -> None:
    guard_ready(board)
    assert board.ask("line", "HEAT") == board.ask("line", "SECOND") == 0
    assert latched(board) == "none"


def test_a_killed_controller_ends_heat(board: Board) -> None:
    pid = heated(board)
    assert struck(board, "controller killed", pid, signal.SIGKILL) <= OFF_WITHIN_S
    assert stays_off(board, 2.0)
    assert latched(board) == "controller-lost"


def test_a_frozen_controller_ends_heat_and_does_not_bring_it_back(board: Board) -> None:
    pid = heated(board)
    assert struck(board, "controller frozen", pid, signal.SIGSTOP) <= OFF_WITHIN_S
    assert stays_off(board, LAPSE_S)
    board.ask("call", "kill", "-CONT", str(pid))
    assert stays_off(board, 3.0)
    assert latched(board) == "lease-lapsed"


@pytest.mark.parametrize(("how", "blow"), [("killed", signal.SIGKILL), ("frozen", signal.SIGSTOP)])
def test_a_lost_guard_takes_heat_with_it_and_comes_back_latched(
    how: str, blow: signal.Signals, board: Board
) -> None:
    heated(board)
    before = guard_pid(board)
    assert struck(board, f"guard {how}", before, blow) <= OFF_WITHIN_S
    guard_ready(board)
    assert guard_pid(board) != before
    assert stays_off(board, 3.0)
    assert latched(board) == "guard-restarted"


@pytest.mark.parametrize(("how", "blow"), [("killed", signal.SIGKILL), ("frozen", signal.SIGSTOP)])
def test_a_board_that_keeps_lines_driven_is_switched_off_by_the_one_shot(
    how: str, blow: signal.Signals, board: Board
) -> None:
    heated(board)
    for name in ("HEAT", "SECOND"):
        board.ask("persist", name, on=True)
    try:
        off_s = struck(board, f"guard {how}, lines kept driven", guard_pid(board), blow)
        assert off_s <= OFF_WITHIN_S + EMULATED_S
        assert board.ask("wait", "SECOND", 0, PATIENCE_S) is not None
        assert stays_off(board, 5.0)  # while the guard comes back
    finally:
        for name in ("HEAT", "SECOND"):
            board.ask("persist", name, on=False)
    guard_ready(board)
    assert latched(board) == "guard-restarted"


def test_a_wall_clock_that_jumps_changes_nothing(board: Board) -> None:
    pid = heated(board)
    for jump in ("+1 day", "-2 days"):
        board.ask("call", "date", "-s", jump)
        assert board.ask("watch", "HEAT", 3.0, limit_s=3.0 + PATIENCE_S) == [1]
    off_s = struck(board, "controller killed, wall clock set back", pid, signal.SIGKILL)
    assert off_s <= OFF_WITHIN_S
