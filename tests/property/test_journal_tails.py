"""Torn writes at every byte of a record's tail, and every bit of it flipped."""

import tempfile
from functools import cache
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.core.state import EventName
from controller.journal.inspection import Inspection, inspect_file
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.journal.writer import Journal
from tests.helpers.batch import TRUTH, a_header, a_moment, an_event, still_clock


def look(data: bytes) -> tuple[Run, Inspection]:
    """What readers make of these bytes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "run.jsonl"
        path.write_bytes(data)
        return read_run(path), inspect_file(path)


@cache
def a_record() -> tuple[bytes, int]:
    """A short record, and where its last three lines begin."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "run.jsonl"
        journal = Journal(path, header=a_header(), clock_s=still_clock)
        trip = an_event(EventName.TRIP_LATCHED, cause="level-lost", what="Tief °C", bowl_c=31.25)
        journal.tell(a_moment(0.0))
        journal.tell(a_moment(1.0, events=(trip,)))
        journal.finish(TRUTH, "aborted")
        data = path.read_bytes()
    return data, sum(len(line) for line in data.splitlines(keepends=True)[:-3])


def records_of(run: Run) -> int:
    """How many records were read."""
    return len(run.samples) + len(run.events) + (run.closing is not None)


def assert_agree(run: Run, found: Inspection, data: bytes, bad_at: int) -> None:
    """Reader and inspection keep the lines before the bad byte, to the byte, and no other."""
    good = data[:bad_at].rfind(b"\n") + 1
    assert run.torn == (found.broken is not None)
    assert found.good_bytes == good
    assert records_of(run) == found.lines - 1 == data[:good].count(b"\n") - 1


def test_a_write_torn_at_any_byte_of_the_tail_costs_that_line_alone() -> None:
    data, tail = a_record()
    for end in range(tail, len(data)):
        run, found = look(data[:end])
        assert_agree(run, found, data[:end], end)


def test_a_tail_that_is_zeros_from_any_byte_on_is_cut_there() -> None:
    # What a file system may leave of blocks that it had allocated and not yet written.
    data, tail = a_record()
    for end in range(tail, len(data)):
        left = data[:end] + bytes(len(data) - end)
        run, found = look(left)
        assert_agree(run, found, left, end)


def test_any_flipped_bit_of_the_tail_costs_its_line_and_what_follows() -> None:
    data, tail = a_record()
    for bit in range(8 * tail, 8 * len(data)):
        bad = bytearray(data)
        bad[bit // 8] ^= 1 << bit % 8
        run, found = look(bytes(bad))
        assert run.torn
        assert_agree(run, found, data, bit // 8)


@settings(deadline=None)
@given(junk=st.binary(min_size=1, max_size=300))
def test_no_junk_in_place_of_the_tail_is_ever_believed(junk: bytes) -> None:
    data, tail = a_record()
    run, found = look(data[:tail] + junk)
    assert found.good_bytes == tail or junk.startswith(data[tail : data.index(b"\n", tail)])
    assert run.torn
