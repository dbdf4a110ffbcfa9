"""Full, read-only and failing disks: no run starts on one, and none ends for one."""

import errno
import os
import random
import resource
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.core.state import Mode
from controller.errors import AccessError, Exit
from controller.journal.inspection import inspect_file
from controller.journal.reader import read_run
from controller.journal.writer import Journal
from tests.helpers.batch import DRAIN_S, a_batch, a_header, a_moment, still_clock
from tests.helpers.journal_cuts import ext4_image, mounted
from tests.helpers.runs import run_on_bench

DISKS = 40  # each filling up at a moment of its own
TMPFS_KIB = 64
WHY = "NOT TESTED ON A REAL FULL DISK"


@contextmanager
def room_for(size: int) -> Iterator[None]:
    """No file of this process may grow beyond `size` bytes: a disk that is full, in earnest."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def assert_sound(path: Path, journal: Journal) -> None:
    """What is left is whole, and holds all that was called safe."""
    found = inspect_file(path)
    assert found.broken is None
    assert found.lines - 1 >= journal.safe
    assert not found.is_closed


def test_a_disk_that_fills_up_at_any_moment_leaves_a_sound_record(tmp_path: Path) -> None:
    moments = list(a_batch())[:400]
    rng = random.Random(3)  # noqa: S311 - moments, not secrets
    for index in range(DISKS):
        path = tmp_path / f"{index}.jsonl"
        journal = Journal(path, header=a_header(), clock_s=still_clock, sync_every_s=0.0)
        with room_for(path.stat().st_size + rng.randint(0, 20_000)):
            for moment in moments:
                journal.tell(moment)
            assert journal.drain(DRAIN_S)
        journal.finish(None, "complete")
        assert journal.failure is not None
        assert journal.failure.errno == errno.EFBIG
        assert_sound(path, journal)


def test_a_run_goes_to_its_end_without_a_disk_as_if_it_had_one(tmp_path: Path) -> None:
    with_disk = run_on_bench("water-trial", tmp_path)
    (tmp_path / "full").mkdir()
    with room_for(100_000):
        without = run_on_bench("water-trial", tmp_path / "full")
    assert without.result.journal_failure is not None
    assert without.result.outcome is Exit.DONE
    assert without.result.state == with_disk.result.state
    whole, part = with_disk.path.read_bytes(), without.path.read_bytes()
    assert whole.startswith(part)
    assert len(part) > 90_000


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of a few kilobytes."""
    at = tmp_path / "small"
    at.mkdir()
    size = f"size={TMPFS_KIB}k"
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(at)],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        pytest.skip(f"{WHY}: {done.stderr.strip()}; run as root where mounts are allowed")
    yield at
    subprocess.run(["umount", str(at)], check=True)


def fill(folder: Path) -> None:
    """Leave no room on its disk."""
    with (folder / "filler").open("wb", buffering=0) as file, suppress(OSError):
        while True:
            file.write(bytes(512))


def test_a_disk_with_no_space_left_costs_the_record_and_lets_no_other_run_start(
    small_disk: Path,
) -> None:
    path = small_disk / "run.jsonl"
    journal = Journal(path, header=a_header(), clock_s=still_clock, sync_every_s=0.0)
    for moment in a_batch():
        journal.tell(moment)
    journal.finish(None, "complete")
    assert journal.failure is not None
    assert journal.failure.errno == errno.ENOSPC
    assert_sound(path, journal)

    fill(small_disk)
    with pytest.raises(AccessError, match=r"No space left on device.*no run starts without one"):
        Journal(small_disk / "next.jsonl", header=a_header(), clock_s=still_clock)
    assert not (small_disk / "next.jsonl").exists()


def test_no_run_is_begun_where_a_record_would_soon_break_off(
    small_disk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fill(small_disk)
    words = ["run", "dark", "--machine", "brisk", "--no-broker", "--journal-dir", str(small_disk)]
    assert main(words) == Exit.NO_PERMISSION
    said = capsys.readouterr().err
    assert "No run can start now (disk-nearly-full): The disk of the record has 0 MB left." in said
    assert "a new run may use another folder with --journal-dir" in said
    assert [path.name for path in small_disk.iterdir()] == ["filler"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder in which file systems can be mounted."""
    try:
        with mounted(ext4_image(tmp_path / "disk.img"), tmp_path / "disk"):
            return tmp_path
    except OSError as error:
        pytest.skip(f"{WHY}: {error}; run as root where loop mounts are allowed")


def test_no_run_starts_on_a_disk_that_is_read_only(folder: Path) -> None:
    with (
        mounted(folder / "disk.img", folder / "disk", "loop,ro") as at,
        pytest.raises(AccessError, match=r"Read-only file system.*no run starts without one"),
    ):
        Journal(at / "run.jsonl", header=a_header(), clock_s=still_clock)


def test_a_disk_that_turns_read_only_under_a_run_costs_the_record_alone(folder: Path) -> None:
    # Linux turns a damaged ext4 read-only; its own switch for tests does the same.
    with mounted(folder / "disk.img", folder / "disk", "loop,errors=remount-ro") as at:
        path = at / "run.jsonl"
        journal = Journal(path, header=a_header(), clock_s=still_clock, sync_every_s=0.0)
        for run_s in range(20):
            journal.tell(a_moment(4.0 * run_s))
        assert journal.drain(DRAIN_S)
        name = Path(f"/sys/dev/block/{os.major(path.stat().st_dev)}:{os.minor(path.stat().st_dev)}")
        switch = Path("/sys/fs/ext4") / name.resolve().name / "trigger_fs_error"
        if not os.access(switch, os.W_OK):
            journal.finish(None, "stopped")
            pytest.skip(f"{WHY}: this kernel has no {switch}")
        switch.write_text("1")
        for run_s in range(20, 40):
            journal.tell(a_moment(4.0 * run_s, mode=Mode.RUNNING))
        journal.finish(None, "stopped")
        assert journal.failure is not None
        assert journal.failure.errno in {errno.EROFS, errno.EIO}
        assert_sound(path, journal)
        assert len(read_run(path).samples) >= 20
