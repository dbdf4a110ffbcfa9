"""The sweep as a user meets it: any number of processes, cut off in any way, one table."""

import os
import signal
import subprocess
from pathlib import Path

import pytest

from controller.errors import Exit
from tests.helpers.process import end
from tests.helpers.sweep_process import start_sweep

# So many that a sweep is not over before it is cut off.
MACHINES = ("--machines", "30")


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The table as one process writes it."""
    folder = tmp_path_factory.mktemp("plain")
    code, out, err = end(start_sweep(folder, "t.csv", *MACHINES, "--processes", "1"))
    assert (code, err) == (Exit.DONE, "")
    assert "30 machines of seed 1" in out
    return (folder / "t.csv").read_bytes()


def first_line(process: subprocess.Popen[str]) -> str:
    """What it says once the first machines are done."""
    assert process.stdout is not None
    return process.stdout.readline()


def children(process: subprocess.Popen[str]) -> set[int]:
    """The processes that it started."""
    path = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    return {int(word) for word in path.read_text(encoding="ascii").split()}


def is_sweeping(pid: int) -> bool:
    """Whether it is a worker, rather than what looks after the workers."""
    command = Path(f"/proc/{pid}/cmdline").read_bytes()
    return b"loky" in command and b"resource_tracker" not in command


@pytest.mark.parametrize(
    ("number", "processes"),
    [(signal.SIGINT, "2"), (signal.SIGTERM, "1"), (signal.SIGKILL, "2")],
    ids=str,
)
def test_a_sweep_that_is_cut_off_goes_on_to_the_same_table(
    plain: bytes, tmp_path: Path, number: signal.Signals, processes: str
) -> None:
    words = ("t.csv", *MACHINES, "--processes", processes)
    process = start_sweep(tmp_path, *words)
    assert first_line(process).startswith("3 of 30 machines")
    process.send_signal(number)
    code, out, _ = end(process)
    if number is signal.SIGKILL:
        assert code == -signal.SIGKILL
    else:
        assert code == Exit.STOPPED
        assert "the same command goes on" in out
    assert not (tmp_path / "t.csv").exists()

    code, out, err = end(start_sweep(tmp_path, *words))
    assert (code, err) == (Exit.DONE, "")
    assert " of 30 machines are done already." in out
    assert (tmp_path / "t.csv").read_bytes() == plain
    assert sorted(path.name for path in tmp_path.iterdir()) == ["brief.toml", "t.csv"]


def test_a_killed_worker_loses_nothing(plain: bytes, tmp_path: Path) -> None:
    process = start_sweep(tmp_path, "t.csv", *MACHINES, "--processes", "2")
    assert first_line(process).startswith("3 of 30 machines")
    os.kill(next(filter(is_sweeping, children(process))), signal.SIGKILL)
    code, _, err = end(process)
    assert (code, err) == (Exit.DONE, "")
    assert (tmp_path / "t.csv").read_bytes() == plain


def test_what_is_left_of_a_sweep_serves_a_larger_one_but_no_other_seed(
    plain: bytes, tmp_path: Path
) -> None:
    process = start_sweep(tmp_path, "t.csv", "--machines", "20", "--processes", "1")
    assert first_line(process).startswith("2 of 20 machines")
    process.send_signal(signal.SIGINT)
    assert end(process)[0] == Exit.STOPPED

    code, _, err = end(start_sweep(tmp_path, "t.csv", *MACHINES, "--seed", "2"))
    assert code == Exit.USAGE
    assert "(seed: 1; now 2). Give this one another --table" in err

    code, out, _ = end(start_sweep(tmp_path, "t.csv", *MACHINES, "--processes", "1"))
    assert code == Exit.DONE
    assert " of 30 machines are done already." in out
    assert (tmp_path / "t.csv").read_bytes() == plain
