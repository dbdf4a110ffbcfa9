"""A record read while it grows: whole lines, each once, in their order."""

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.errors import AccessError, RecordError
from controller.journal.growing import Growing, Record
from controller.journal.reader import read_run
from tests.helpers.batch import WaitingJournal, a_header, a_moment, still_clock, write_batch


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A finished batch."""
    path = tmp_path_factory.mktemp("records") / "run.jsonl"
    write_batch(path)
    return path


@pytest.fixture(scope="module")
def few(whole: Path) -> tuple[bytes, bytes, list[Record]]:
    """The first lines of a batch: the header, what follows it, and that read at once."""
    with Growing(whole) as growing:
        expected = all_of(growing)[:20]
    first, *lines = whole.read_bytes().splitlines(keepends=True)
    return first, b"".join(lines[:20]), expected


def all_of(growing: Growing) -> list[Record]:
    """Everything that there is by now."""
    found: list[Record] = []
    while news := growing.news():
        found += news
    return found


def test_a_finished_record_is_read_to_its_end(whole: Path) -> None:
    run = read_run(whole)
    with Growing(whole) as growing:
        assert growing.header == run.header
        found = all_of(growing)
    assert tuple(one for one in found if one in run.samples) == run.samples
    assert found[-1] == run.closing
    assert len(found) == len(run.samples) + len(run.events) + 1


@settings(max_examples=40, deadline=None)
@given(cuts=st.lists(st.floats(0.0, 1.0), max_size=12))
def test_however_it_grows_each_record_comes_once(
    few: tuple[bytes, bytes, list[Record]],
    tmp_path_factory: pytest.TempPathFactory,
    cuts: list[float],
) -> None:
    first, content, expected = few
    places = [0, *sorted(int(cut * len(content)) for cut in cuts), len(content)]
    path = tmp_path_factory.mktemp("records") / "run.jsonl"
    path.write_bytes(first)
    found: list[Record] = []
    with Growing(path) as growing:
        for start, end in pairwise(places):
            with path.open("ab") as file:
                file.write(content[start:end])
            found += growing.news()
    assert found == expected


def test_a_half_line_waits_for_its_other_half(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock)
    journal.tell(a_moment(0.0))
    data = path.read_bytes()
    path.write_bytes(data[:-5])
    with Growing(path) as growing:
        assert growing.news() == ()
        with path.open("ab") as file:
            file.write(data[-5:])
        (sample,) = growing.news()
        assert sample.t_s == 0.0
    journal.finish(None, "complete")


def test_a_damaged_line_is_told_with_its_place(whole: Path, tmp_path: Path) -> None:
    lines = whole.read_bytes().splitlines(keepends=True)
    path = tmp_path / "run.jsonl"
    path.write_bytes(b"".join((*lines[:3], lines[3].replace(b"t_s", b"T_s"), *lines[4:])))
    place = sum(len(line) for line in lines[:3])
    with Growing(path) as growing, pytest.raises(RecordError, match="is damaged") as caught:
        growing.news()
    assert f"after byte {place}" in str(caught.value)


def test_a_record_that_becomes_shorter_is_told(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_bytes(whole.read_bytes())
    with Growing(path) as growing:
        all_of(growing)
        path.write_bytes(whole.read_bytes()[:5000])
        with pytest.raises(RecordError, match="has become shorter"):
            growing.news()


def test_what_is_no_record_is_refused(tmp_path: Path) -> None:
    other = tmp_path / "notes.txt"
    other.write_text("hello\n")
    with pytest.raises(RecordError, match="is no journal"):
        Growing(other)
    with pytest.raises(AccessError, match="can't be read"):
        Growing(tmp_path / "none.jsonl")
    with pytest.raises(AccessError, match="can't be read"):
        Growing(tmp_path)


def test_its_age_is_that_of_the_file(whole: Path) -> None:
    with Growing(whole) as growing:
        written_s = whole.stat().st_mtime
        assert growing.age_s(written_s + 7.0) == pytest.approx(7.0)
        assert growing.age_s(written_s - 9.0) == 0.0
