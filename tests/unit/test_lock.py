"""One daemon a machine."""

import subprocess
import sys
from pathlib import Path

import pytest

from controller.errors import AccessError, BusyError, Exit
from controller.lock import MachineLock

HOLD = """
import sys
from pathlib import Path
from controller.lock import MachineLock
with MachineLock(Path(sys.argv[1]), "kitchen"):
    print("held", flush=True)
    sys.stdin.readline()
"""


def test_a_second_holder_is_refused_with_a_sentence(tmp_path: Path) -> None:
    with (
        MachineLock(tmp_path, "kitchen"),
        pytest.raises(BusyError) as caught,
        MachineLock(tmp_path, "kitchen"),
    ):
        pass
    assert str(caught.value) == (
        "Machine kitchen is already run by another bainward "
        f"(it holds {tmp_path / 'kitchen.lock'}); stop that one first."
    )
    assert caught.value.exit_code is Exit.BUSY


def test_a_refused_holder_leaves_the_first_one_its_lock(tmp_path: Path) -> None:
    with MachineLock(tmp_path, "kitchen"):
        for _ in range(2):
            with pytest.raises(BusyError), MachineLock(tmp_path, "kitchen"):
                pass


def test_a_lock_can_be_taken_again_once_it_is_let_go_even_by_an_error(tmp_path: Path) -> None:
    lock = MachineLock(tmp_path / "new" / "folder", "kitchen")
    with pytest.raises(ValueError, match="ours"), lock:
        raise ValueError("ours")
    with lock:
        pass
    assert (tmp_path / "new" / "folder" / "kitchen.lock").exists()


def test_letting_go_twice_does_no_harm(tmp_path: Path) -> None:
    lock = MachineLock(tmp_path, "kitchen")
    with lock:
        pass
    lock.__exit__(None, None, None)


def test_two_machines_do_not_lock_each_other(tmp_path: Path) -> None:
    with MachineLock(tmp_path, "kitchen"), MachineLock(tmp_path, "cellar"):
        pass


def test_another_process_is_refused_and_its_death_frees_the_machine(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(BusyError), MachineLock(tmp_path, "kitchen"):
            pass
        other.kill()
        other.wait(timeout=10)
    with MachineLock(tmp_path, "kitchen"):
        pass


def test_a_folder_that_cannot_be_made_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    folder = tmp_path / "file" / "locks"
    with pytest.raises(AccessError) as caught, MachineLock(folder, "kitchen"):
        pass
    assert str(caught.value) == (
        f"The lock file {folder / 'kitchen.lock'} can't be opened (Not a directory); "
        "make its folder writable, or name another with XDG_STATE_HOME."
    )
    assert caught.value.exit_code is Exit.NO_PERMISSION


def test_a_lock_whose_place_is_taken_by_a_folder_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "kitchen.lock").mkdir()
    with pytest.raises(AccessError, match="Is a directory"), MachineLock(tmp_path, "kitchen"):
        pass
