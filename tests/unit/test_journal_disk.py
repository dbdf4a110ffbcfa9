"""The journal and its disk: refused, full, failing or slow, and how often it is synced."""

import os
import resource
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Queue

import pytest

from controller.core.state import EventName
from controller.errors import AccessError, BusyError
from controller.journal.reader import read_run
from controller.journal.writer import Journal
from tests.helpers.batch import (
    HandClock,
    WaitingJournal,
    a_header,
    a_moment,
    a_profile,
    an_event,
    still_clock,
)

WAIT_S = 60.0  # never reached unless something is wrong


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the journal goes."""
    return tmp_path / "run.jsonl"


@pytest.fixture
def syncs(monkeypatch: pytest.MonkeyPatch) -> Queue[int]:
    """Every fdatasync puts its file descriptor here instead of syncing."""
    queue: Queue[int] = Queue()
    monkeypatch.setattr(os, "fdatasync", queue.put)
    return queue


def a_journal(path: Path) -> Journal:
    """A journal on a clock that stands still."""
    return WaitingJournal(path, header=a_header(), clock_s=still_clock)


def test_an_existing_journal_is_never_touched(path: Path) -> None:
    path.write_text("precious")
    with pytest.raises(BusyError, match=r"exists already.*another run id"):
        a_journal(path)
    assert path.read_text() == "precious"


def test_a_missing_folder_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(AccessError, match=r"can't be written \(No such file"):
        a_journal(tmp_path / "missing" / "run.jsonl")


@contextmanager
def room_for(size: int) -> Iterator[None]:
    """No file of this process may grow beyond `size` bytes: a disk that is full, in earnest."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_no_run_starts_on_a_full_disk_and_no_stump_is_left(path: Path) -> None:
    with room_for(10), pytest.raises(AccessError, match="no run starts without one"):
        a_journal(path)
    assert not path.exists()


def test_a_disk_that_fills_up_costs_the_record_and_not_the_run(path: Path) -> None:
    journal = a_journal(path)
    journal.tell(a_moment(0.0))
    with room_for(path.stat().st_size + 50):
        journal.tell(a_moment(5.0))
        assert journal.failure is not None
    size = path.stat().st_size
    journal.tell(a_moment(10.0))
    journal.finish(None, "complete")
    assert path.stat().st_size == size
    run = read_run(path)
    assert [sample.t_s for sample in run.samples] == [0.0]
    assert not run.torn  # the line that found no room was taken back
    assert run.closing is None
    assert journal.safe == 0


def test_a_disk_that_fails_to_sync_is_noticed(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_handle: int) -> None:
        raise OSError(5, "Input/output error")

    journal = a_journal(path)
    monkeypatch.setattr(os, "fdatasync", broken)
    journal.finish(None, "stopped")
    assert journal.failure is not None
    assert journal.failure.errno == 5


def test_a_disk_that_never_answers_does_not_keep_the_program(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer: Queue[int] = Queue()
    journal = a_journal(path)
    monkeypatch.setattr("controller.journal.scribe.JOIN_S", 0.01)
    monkeypatch.setattr(os, "fdatasync", lambda _handle: answer.get())
    journal.finish(None, "stopped")
    run = read_run(path)
    assert run.closing is not None
    assert run.samples == ()
    answer.put(0)
    answer.put(0)


def a_paced_journal(path: Path, clock: HandClock) -> Journal:
    """A journal that has written its first sample and is to sync every 5 s."""
    journal = WaitingJournal(path, header=a_header(), clock_s=clock, sync_every_s=5.0)
    journal.tell(a_moment(0.0))
    return journal


def syncs_before_the_last(journal: Journal, syncs: Queue[int]) -> int:
    """How often the file was synced so far: finishing waits for all and adds one."""
    journal.finish(None, "stopped")
    return syncs.qsize() - 1


def test_virtual_hours_cost_no_sync(path: Path, syncs: Queue[int]) -> None:
    journal = a_paced_journal(path, HandClock())
    for hour_s in range(0, 36000, 5):
        journal.tell(a_moment(float(hour_s)))
    assert syncs_before_the_last(journal, syncs) == 0


@pytest.mark.parametrize(("passed_s", "count"), [(4.9, 0), (5.0, 1)])
def test_samples_are_synced_once_the_process_clock_says_so(
    path: Path, syncs: Queue[int], passed_s: float, count: int
) -> None:
    clock = HandClock()
    journal = a_paced_journal(path, clock)
    clock.now_s += passed_s
    journal.tell(a_moment(1.0))
    assert syncs_before_the_last(journal, syncs) == count


@pytest.mark.parametrize(("passed_s", "count"), [(0.1, 0), (0.25, 1)])
def test_an_event_is_synced_at_once_and_at_most_five_times_a_second(
    path: Path, syncs: Queue[int], passed_s: float, count: int
) -> None:
    clock = HandClock()
    journal = a_paced_journal(path, clock)
    clock.now_s += passed_s
    journal.tell(a_moment(1.0, events=(an_event(EventName.TRIP_LATCHED, cause="level-lost"),)))
    assert syncs_before_the_last(journal, syncs) == count


@pytest.mark.parametrize("run_s", [2.0, 5.0])  # without and with a sample of its own
def test_an_event_that_had_to_wait_is_synced_by_the_next_tick(
    path: Path, syncs: Queue[int], run_s: float
) -> None:
    clock = HandClock()
    journal = a_paced_journal(path, clock)
    clock.now_s += 0.1
    journal.tell(a_moment(1.0, events=(an_event(EventName.TRIP_LATCHED, cause="level-lost"),)))
    clock.now_s += 0.15
    journal.tell(a_moment(run_s))
    assert syncs_before_the_last(journal, syncs) == 1


def test_a_run_with_nothing_new_is_not_synced_again(path: Path, syncs: Queue[int]) -> None:
    clock = HandClock()
    journal = a_paced_journal(path, clock)
    clock.now_s += 5.0
    journal.tell(a_moment(1.0))
    syncs.get(timeout=WAIT_S)
    clock.now_s += 50.0
    journal.tell(a_moment(2.0))
    assert syncs_before_the_last(journal, syncs) == 0


def test_header_and_file_name_are_on_the_disk_before_a_run_can_heat(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[tuple[int, int]] = []

    def note(handle: int) -> None:
        found = os.fstat(handle)
        synced.append((found.st_ino, found.st_size if stat.S_ISREG(found.st_mode) else 0))

    monkeypatch.setattr(os, "fsync", note)
    a_journal(path)
    header_size = len(path.read_bytes())
    assert synced == [(path.stat().st_ino, header_size), (path.parent.stat().st_ino, 0)]


def test_requests_that_pile_up_behind_a_slow_disk_are_served_as_one(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: Queue[int] = Queue()
    gate: Queue[int] = Queue()

    def slow(handle: int) -> None:
        begun.put(handle)
        gate.get(timeout=WAIT_S)

    monkeypatch.setattr(os, "fdatasync", slow)
    clock = HandClock()
    journal = Journal(path, header=a_header(), clock_s=clock, sync_every_s=5.0)
    for tick in range(50):
        clock.now_s += 5.0
        journal.tell(a_moment(tick * 5.0))
        if tick == 0:
            begun.get(timeout=WAIT_S)
    gate.put(0)
    begun.get(timeout=WAIT_S)  # all that piled up, as one
    gate.put(0)
    assert journal.drain(WAIT_S)
    gate.put(0)
    journal.finish(None, "stopped")
    assert begun.qsize() == 1  # the last


def test_the_journal_is_a_teller_of_a_profile_with_one_phase(path: Path) -> None:
    profile = a_profile((("hold", 31.5, 60),))
    journal = WaitingJournal(path, header=a_header(profile), clock_s=still_clock)
    journal.tell(a_moment(0.0, phase=1))  # a sequencer past the end is shown in the last phase
    assert read_run(path).samples[0].phase == "hold"
