"""Reading a journal back: whole files, torn ones, strange ones, and finding the unfinished."""

import json
import math
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from controller.core.profile import Verdict
from controller.core.state import EventName, Mode
from controller.errors import AccessError, RecordError
from controller.journal.lines import framed
from controller.journal.reader import find_unfinished, read_header, read_run
from tests.helpers.batch import (
    TRUTH,
    WaitingJournal,
    a_header,
    a_machine,
    a_moment,
    an_event,
    an_identity,
    still_clock,
    write_batch,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the journal is."""
    return tmp_path / "run.jsonl"


def write_run(path: Path, *, began_utc: str, finished: bool, machine: str = "kitchen") -> None:
    """A short run of a machine."""
    identity = an_identity(run_id=path.stem, began_utc=began_utc)
    header = a_header(machine=a_machine(machine), identity=identity)
    journal = WaitingJournal(path, header=header, clock_s=still_clock)
    journal.tell(a_moment(0.0))
    if finished:
        journal.finish(None, "complete")


def reframe(line: bytes, **changes: object) -> bytes:
    """The line with other values and a CRC to match: what another program might have written."""
    fields = {**json.loads(line), **changes}
    del fields["crc"]
    return framed(json.dumps(fields)[:-1])


def rewrite(path: Path, index: int, **changes: object) -> None:
    """Change one line of the file."""
    lines = path.read_bytes().splitlines(keepends=True)
    lines[index] = reframe(lines[index], **changes)
    path.write_bytes(b"".join(lines))


def test_a_whole_run_is_read_back(path: Path) -> None:
    write_batch(path)
    run = read_run(path)
    assert run.header == a_header()
    assert not run.torn
    assert run.closing is not None
    assert run.closing.truth == TRUTH
    assert {sample.phase for sample in run.samples} == {"melt", "cool", "rewarm", "hold"}
    assert len(run.samples) == 8100 / 4 + 1 + 2  # 0 s and 8100 s, and two events at odd moments


def test_a_sample_holds_what_was_told(path: Path) -> None:
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock)
    journal.tell(a_moment(0.0, phase=3, bowl_c=31.4567, heater_on=True, verdict=Verdict.IN_TEMPER))
    sample = read_run(path).samples[0]
    assert sample.mode is Mode.RUNNING
    assert sample.phase == "hold"
    assert sample.bowl_c == 31.4567
    assert sample.bath_c == 32.2067
    assert sample.bowl_setpoint_c == 31.5
    assert sample.bath_setpoint_c == 33.25
    assert sample.duty == 0.125
    assert sample.heater_on is True
    assert sample.stirrer_rpm == 30.0
    assert sample.shaft_rpm == 29.5
    assert sample.load_w == 1.5
    assert sample.switches == 1
    assert sample.verdict is Verdict.IN_TEMPER


def test_a_temperature_that_was_not_to_be_had_is_not_a_number(path: Path) -> None:
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock)
    journal.tell(a_moment(0.0, bowl_c=math.nan))
    assert math.isnan(read_run(path).samples[0].bowl_c)


def test_a_fact_that_was_no_number_is_not_a_number(path: Path) -> None:
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock)
    event = an_event(EventName.TARGET_REACHED, bowl_c=math.nan, phase="melt", first=True)
    journal.tell(a_moment(0.0, events=(event,)))
    facts = read_run(path).events[0].facts
    assert facts["first"] is True
    assert facts["phase"] == "melt"
    assert isinstance(facts["bowl_c"], float)
    assert math.isnan(facts["bowl_c"])


def test_a_run_that_broke_off_has_no_closing_and_is_not_torn(path: Path) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=False)
    run = read_run(path)
    assert run.closing is None
    assert not run.torn


def test_a_half_written_last_line_is_cut_off(path: Path) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=True)
    path.write_bytes(path.read_bytes()[:-9])
    run = read_run(path)
    assert run.torn
    assert run.closing is None
    assert len(run.samples) == 1


@pytest.mark.parametrize(
    "changes",
    [
        {"kind": "sermon"},
        {"kind": 3},
        {"seq": 2},
        {"mode": "dancing"},
        {"t_s": "soon"},
        {"duty": True},
        {"heater": "on"},
        {"heat_j": 10**400},
        {"verdict": "delicious"},
    ],
)
def test_reading_stops_at_a_line_that_is_whole_but_makes_no_sense(
    path: Path, changes: dict[str, object]
) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=True)
    rewrite(path, 1, **changes)
    run = read_run(path)
    assert run.torn
    assert run.samples == ()
    assert run.closing is None


def test_a_closing_that_makes_no_sense_is_none(path: Path) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=True)
    rewrite(path, 2, truth=["form V"])
    assert read_run(path).closing is None


def test_whatever_follows_the_closing_is_cut(path: Path) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=True)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines) + reframe(lines[1], seq=3))
    run = read_run(path)
    assert run.torn
    assert run.closing is not None
    assert len(run.samples) == 1


def test_a_line_that_is_gone_is_noticed_by_its_number(path: Path) -> None:
    write_batch(path)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:100] + lines[101:]))
    run = read_run(path)
    assert run.torn
    assert len(run.samples) + len(run.events) == 99


def test_a_whole_line_that_is_no_object_is_cut(path: Path) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=False)
    path.write_bytes(path.read_bytes() + framed("[1"))
    assert read_run(path).torn


def test_a_newer_schema_is_refused_in_one_sentence(path: Path) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=True)
    rewrite(path, 0, schema=2)
    with pytest.raises(RecordError, match=r"has schema 2 and this program reads up to 1;"):
        read_run(path)


@pytest.mark.parametrize("data", [b"", b"\n", b"# notes\n", b"\xff\xfe\n", b'{"kind":"header"}\n'])
def test_a_file_that_is_no_journal_is_refused(path: Path, data: bytes) -> None:
    path.write_bytes(data)
    with pytest.raises(RecordError, match="no journal of bainward"):
        read_run(path)
    with pytest.raises(RecordError, match="no journal of bainward"):
        read_header(path)


@pytest.mark.parametrize(
    "changes", [{"kind": "sample"}, {"run_id": 7}, {"phases": "melt"}, {"phases": [{"name": "x"}]}]
)
def test_a_header_that_makes_no_sense_is_refused(path: Path, changes: dict[str, object]) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=True)
    rewrite(path, 0, **changes)
    with pytest.raises(RecordError, match="no journal of bainward"):
        read_run(path)


def test_a_header_without_its_newline_is_refused(path: Path) -> None:
    write_run(path, began_utc="2031-02-03T10:00:00Z", finished=True)
    path.write_bytes(path.read_bytes().splitlines()[0])
    with pytest.raises(RecordError, match="no journal of bainward"):
        read_run(path)


def test_a_missing_file_is_one_sentence(path: Path) -> None:
    for read in (read_run, read_header):
        with pytest.raises(AccessError, match=r"can't be read \(No such file or directory\)"):
            read(path)


def test_a_header_can_be_read_alone(path: Path) -> None:
    write_batch(path)
    assert read_header(path) == a_header()


def test_the_newest_run_of_the_machine_is_found_if_it_broke_off(tmp_path: Path) -> None:
    write_run(tmp_path / "b.jsonl", began_utc="2031-02-03T10:00:00+00:00", finished=False)
    write_run(tmp_path / "a.jsonl", began_utc="2031-02-04T10:00:00+00:00", finished=False)
    found = find_unfinished(tmp_path, "kitchen")
    assert found is not None
    assert found.header.run_id == "a"


def test_a_run_that_broke_off_before_a_later_one_is_history(tmp_path: Path) -> None:
    write_run(tmp_path / "b.jsonl", began_utc="2031-02-03T10:00:00+00:00", finished=False)
    write_run(tmp_path / "a.jsonl", began_utc="2031-02-04T10:00:00+00:00", finished=True)
    assert find_unfinished(tmp_path, "kitchen") is None


def test_another_machines_run_is_not_ours(tmp_path: Path) -> None:
    write_run(
        tmp_path / "a.jsonl",
        began_utc="2031-02-03T10:00:00+00:00",
        finished=False,
        machine="cellar",
    )
    assert find_unfinished(tmp_path, "kitchen") is None


def test_files_that_are_no_journals_are_passed_over(tmp_path: Path) -> None:
    (tmp_path / "notes.jsonl").write_text("shopping list\n")
    (tmp_path / "folder.jsonl").mkdir()
    write_run(tmp_path / "a.jsonl", began_utc="2031-02-03T10:00:00+00:00", finished=False)
    assert find_unfinished(tmp_path, "kitchen") is not None


def test_a_folder_that_is_not_there_holds_nothing(tmp_path: Path) -> None:
    assert find_unfinished(tmp_path / "missing", "kitchen") is None


KILLED_WRITER = """
import os, sys
from pathlib import Path
from tests.helpers.batch import WaitingJournal, a_header, a_moment, still_clock

journal = WaitingJournal(Path(sys.argv[1]), header=a_header(), clock_s=still_clock)
for run_s in range(100):
    journal.tell(a_moment(run_s * 5.0))
os.kill(os.getpid(), 9)
"""


def test_a_killed_writer_loses_no_line_that_it_was_told(path: Path) -> None:
    killed = subprocess.run([sys.executable, "-c", KILLED_WRITER, str(path)], check=False)
    assert killed.returncode == -signal.SIGKILL
    run = read_run(path)
    assert len(run.samples) == 100
    assert not run.torn
    assert run.closing is None
