"""The journal's queue before a disk that stands still: ticks never wait, losses are counted."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Queue

import pytest

from controller.core.state import EventName
from controller.journal.host import boot_id, read_stamp
from controller.journal.reader import read_run
from controller.journal.records import CLOCK_READ, RECORDS_LOST, Stamp
from controller.journal.writer import Journal, Lost
from tests.helpers.batch import DRAIN_S, a_header, a_moment, an_event, still_clock

ROOM = 10
RESERVE = 4


class Gate:
    """A disk whose writes stand still until it is opened."""

    def __init__(self) -> None:
        """Begin open."""
        self._passes: Queue[int] = Queue()
        self.begun: Queue[int] = Queue()
        self._write: Callable[[int, bytes], int] = os.write
        self.is_shut = False

    def write(self, handle: int, data: bytes) -> int:
        """Stand in for os.write."""
        if self.is_shut:
            self.begun.put(handle)
            self._passes.get(timeout=DRAIN_S)
        return self._write(handle, data)

    def open(self) -> None:
        """Let all writes pass."""
        self.is_shut = False
        self._passes.put(0)


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Iterator[Gate]:
    """A disk that can stand still, and a queue as short as a test likes it."""
    gate = Gate()
    monkeypatch.setattr(os, "write", gate.write)
    monkeypatch.setattr("controller.journal.scribe.ROOM", ROOM)
    monkeypatch.setattr("controller.journal.scribe.RESERVE", RESERVE)
    yield gate
    gate.open()


def stopped_journal(path: Path, gate: Gate, patience_s: float = 0.0) -> Journal:
    """A journal whose first record is on its way to a disk that stands still."""
    journal = Journal(path, header=a_header(), clock_s=still_clock, patience_s=patience_s)
    gate.is_shut = True
    journal.tell(a_moment(0.0))
    gate.begun.get(timeout=DRAIN_S)
    return journal


def test_a_disk_that_stands_still_holds_up_no_tick_and_loses_samples_first(
    tmp_path: Path, gate: Gate
) -> None:
    path = tmp_path / "run.jsonl"
    journal = stopped_journal(path, gate)
    for tick in range(1, 20):
        journal.tell(a_moment(4.0 * tick))
    # One sample is at the disk; of the others as many wait as leave room for four lines more.
    assert journal.lost == Lost(samples=19 - (ROOM - 1 - 4))

    trip = an_event(EventName.TRIP_LATCHED, cause="level-lost")
    journal.tell(a_moment(81.0, events=(trip,)))
    assert journal.lost.events == 0  # into the reserve

    gate.open()
    assert journal.drain(DRAIN_S)
    journal.tell(a_moment(84.0))
    journal.finish(None, "stopped")
    run = read_run(path)
    assert not run.torn
    assert [note.name for note in run.events] == [EventName.TRIP_LATCHED, RECORDS_LOST]
    assert run.events[1].facts == {"samples": 15.0, "events": 0.0}
    assert [s.t_s for s in run.samples] == [4.0 * tick for tick in range(6)] + [84.0]


def test_events_beyond_the_reserve_are_counted_in_the_record(tmp_path: Path, gate: Gate) -> None:
    path = tmp_path / "run.jsonl"
    journal = stopped_journal(path, gate)
    for tick in range(1, 40):
        event = an_event(EventName.PHASE_ENTERED, phase="cool")
        journal.tell(a_moment(4.0 * tick, phase=1, events=(event,)))
    lost = journal.lost
    assert lost.events > 0
    gate.open()
    journal.finish(None, "stopped")
    run = read_run(path)
    assert run.closing is not None
    note = run.events[-1]
    assert note.name == RECORDS_LOST
    assert note.phase == "cool"
    assert note.facts == {"samples": float(lost.samples), "events": float(lost.events)}
    assert len(run.events) - 1 + lost.events == 39


def test_in_simulated_time_a_full_queue_waits_and_loses_nothing(tmp_path: Path, gate: Gate) -> None:
    path = tmp_path / "run.jsonl"
    journal = stopped_journal(path, gate, patience_s=DRAIN_S)
    gate.open()
    for tick in range(1, 500):
        journal.tell(a_moment(4.0 * tick))
    journal.finish(None, "stopped")
    assert journal.lost == Lost()
    assert len(read_run(path).samples) == 500


def test_safe_counts_what_was_synced_and_not_what_was_told(tmp_path: Path) -> None:
    journal = Journal(
        tmp_path / "run.jsonl", header=a_header(), clock_s=still_clock, sync_every_s=1.0
    )
    journal.tell(a_moment(0.0))
    assert journal.drain(DRAIN_S)
    assert journal.safe == 0  # written, but no sync was due
    journal.finish(None, "stopped")
    assert journal.safe == 2


def test_nothing_is_safe_after_a_sync_that_failed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_handle: int) -> None:
        raise OSError(5, "Input/output error")

    path = tmp_path / "run.jsonl"
    journal = Journal(path, header=a_header(), clock_s=still_clock, sync_every_s=0.0)
    journal.tell(a_moment(0.0))
    assert journal.drain(DRAIN_S)
    monkeypatch.setattr(os, "fdatasync", broken)
    journal.tell(a_moment(4.0))
    assert journal.drain(DRAIN_S)
    monkeypatch.undo()
    journal.tell(a_moment(8.0))
    journal.finish(None, "stopped")
    assert journal.safe == 1
    assert journal.failure is not None
    assert [s.t_s for s in read_run(path).samples] == [0.0, 4.0]


def test_other_clocks_are_noted_once_a_minute_where_they_are_handed_in(tmp_path: Path) -> None:
    stamp = Stamp(utc="2031-02-03T10:00:00+00:00", boot_s=12.25, synchronised=True)
    path = tmp_path / "run.jsonl"
    journal = Journal(path, header=a_header(), clock_s=still_clock, stamp=lambda: stamp)
    for run_s in range(130):
        journal.tell(a_moment(float(run_s)))
    journal.finish(None, "stopped")
    notes = [note for note in read_run(path).events if note.name == CLOCK_READ]
    assert [note.t_s for note in notes] == [0.0, 60.0, 120.0]
    assert notes[0].facts == {
        "utc": "2031-02-03T10:00:00+00:00",
        "boot_s": 12.25,
        "synchronised": True,
    }


def test_the_computers_clocks_and_boot_can_be_read(tmp_path: Path) -> None:
    one, two = read_stamp(), read_stamp()
    assert 0.0 < one.boot_s <= two.boot_s
    assert one.utc.endswith("+00:00")
    assert isinstance(one.synchronised, bool)
    assert len(boot_id()) == len("00000000-0000-0000-0000-000000000000")
    assert boot_id(tmp_path / "missing") == ""
