"""On a real kernel: what a panic and a power cut leave behind, and that no boot brings heat.

A run of `bainward run` on real lines is cut off twice. The tests share one board and its disk, one
after the other.
"""

from controller.clock import wall_time
from tests.board.board import Board
from tests.board.kitchen import (
    COMMAND,
    LONG_S,
    MACHINE,
    PATIENCE_S,
    guard_ready,
    latched,
    rearm,
    say,
    stays_off,
)

RUNS = "/var/lib/bainward/runs"
WATCHDOG_S = 14.0  # what the command `service` advises
RUN_S = 12.0  # of a run before it is cut: several samples of its record, which come each 4 s


def heated_by_a_run(board: Board) -> None:
    """A run has had the heater on for a while."""
    guard_ready(board)
    for probe in ("guard", "bath", "bowl"):
        board.ask("warm", probe, 30.0)
    options = ("--no-broker", "--begin-again", "--journal-dir", RUNS, "--machine", MACHINE)
    # Nobody is there to be asked what is in the bowl, and before that is known no run heats.
    board.ask("start", COMMAND, "run", "dark", "--chocolate", "dark", *options)
    if board.ask("wait", "HEAT", 1, PATIENCE_S, limit_s=LONG_S) is None:
        raise AssertionError(board.ask("read", "/run/board-program.log"))
    board.ask("watch", "HEAT", RUN_S)


def is_safe_after_a_boot(board: Board) -> None:
    """The guard has started by itself, off and latched; nothing else heats."""
    guard_ready(board)
    assert stays_off(board, 5.0)
    assert board.ask("line", "SECOND") == 0
    assert latched(board) == "guard-restarted"
    assert board.ask("call", "pgrep", "-f", "bainward run") == ""


def records(board: Board) -> list[str]:
    """The journals of runs."""
    return list(board.ask("files", RUNS, "*.jsonl"))


def test_a_kernel_that_panics_is_reset_by_the_hardware_and_comes_back_without_heat(
    board: Board,
) -> None:
    heated_by_a_run(board)
    board.ask("write", "/proc/sys/kernel/panic", "0")  # it shall hang, not reset itself
    began_s = wall_time().timestamp()
    board.tell("write", "/proc/sysrq-trigger", "c")
    took_s = board.reset_at() - began_s
    say("kernel panicked, reset by the hardware watchdog", took_s)
    assert took_s <= WATCHDOG_S + 1.0  # what the command `service` tells people
    board.hello()
    is_safe_after_a_boot(board)


def test_what_a_cut_run_wrote_is_readable(board: Board) -> None:
    path = records(board)[-1]
    said = board.ask("call", COMMAND, "journal", "verify", path, limit_s=LONG_S)
    assert "It has no end: the run was cut off" in said
    assert "Every one of its" in said


def test_a_power_cut_in_mid_run_comes_back_without_heat(board: Board) -> None:
    before = records(board)
    rearm(board)
    heated_by_a_run(board)
    board.power_off()
    board.power_on()
    is_safe_after_a_boot(board)
    assert len(records(board)) == len(before) + 1


def test_a_record_loses_at_most_its_last_seconds(board: Board) -> None:
    said = board.ask("call", COMMAND, "journal", "show", records(board)[-1], limit_s=LONG_S)
    assert "the run was cut off" in said
    assert "Good are" in said or "Every one of its" in said
