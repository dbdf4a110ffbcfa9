"""The journal as it is written: what is recorded when."""

import json
import os
from pathlib import Path
from zlib import crc32

import pytest

from controller.core.profile import Verdict
from controller.core.state import EventName, Mode
from controller.journal.reader import read_run
from controller.journal.writer import Journal
from tests.helpers.batch import (
    TRUTH,
    HandClock,
    WaitingJournal,
    a_batch,
    a_header,
    a_moment,
    an_event,
    still_clock,
    write_batch,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the journal goes."""
    return tmp_path / "run.jsonl"


def a_journal(path: Path) -> Journal:
    """A journal on a clock that stands still."""
    return WaitingJournal(path, header=a_header(), clock_s=still_clock)


def lines_of(path: Path) -> list[dict[str, object]]:
    """Every line of the file, as JSON."""
    return [json.loads(line) for line in path.read_bytes().splitlines()]


def kinds_of(path: Path) -> list[object]:
    """The kind of every line."""
    return [line["kind"] for line in lines_of(path)]


def test_the_first_line_is_a_header_with_a_schema_and_it_is_there_at_once(path: Path) -> None:
    a_journal(path)
    header = lines_of(path)[0]
    assert list(header)[:4] == ["seq", "kind", "schema", "t_s"]
    assert header["schema"] == 1
    assert header["profile_made_of"] == "ab12"


def test_every_line_ends_with_the_crc_of_the_bytes_before_it(path: Path) -> None:
    write_batch(path)
    for line in path.read_bytes().splitlines():
        head, crc = line.rsplit(b',"crc":', 1)
        assert crc == b'"%08x"}' % crc32(head)


def test_lines_are_numbered_without_a_gap(path: Path) -> None:
    write_batch(path)
    assert [line["seq"] for line in lines_of(path)] == list(range(len(lines_of(path))))


def test_a_sample_is_written_at_the_first_tick_and_then_every_four_seconds(path: Path) -> None:
    journal = a_journal(path)
    for run_s in range(12):
        journal.tell(a_moment(float(run_s)))
    assert [sample.t_s for sample in read_run(path).samples] == [0.0, 4.0, 8.0]


def test_ticks_whose_times_are_sums_of_floats_are_sampled_on_time(path: Path) -> None:
    journal = a_journal(path)
    run_s = 0.0
    for _ in range(101):
        journal.tell(a_moment(run_s))
        run_s += 0.1
    times = [sample.t_s for sample in read_run(path).samples]
    assert times == [0.0, 4.0, 8.0]


def test_a_tick_with_an_event_writes_the_event_and_a_sample_at_once(path: Path) -> None:
    journal = a_journal(path)
    journal.tell(a_moment(0.0))
    journal.tell(a_moment(1.0, events=(an_event(EventName.DWELL_ENDED, phase="melt"),)))
    assert kinds_of(path) == ["header", "sample", "event", "sample"]
    assert lines_of(path)[2]["facts"] == {"phase": "melt"}


def test_an_event_does_not_shift_the_next_sample(path: Path) -> None:
    journal = a_journal(path)
    for run_s in range(6):
        events = (an_event(EventName.HEAT_PERMITTED),) if run_s == 3 else ()
        journal.tell(a_moment(float(run_s), events=events))
    assert [sample.t_s for sample in read_run(path).samples] == [0.0, 3.0, 4.0]


def test_events_of_a_tick_that_changes_phase_belong_to_the_phase_they_happened_in(
    path: Path,
) -> None:
    journal = a_journal(path)
    journal.tell(a_moment(0.0, phase=0))
    journal.tell(
        a_moment(
            1.0,
            phase=1,
            events=(
                an_event(EventName.TARGET_REACHED),
                an_event(EventName.PHASE_ENTERED),
                an_event(EventName.QUESTION_ASKED, id="swap"),
            ),
        )
    )
    run = read_run(path)
    assert [note.phase for note in run.events] == ["melt", "cool", "cool"]
    assert run.samples[-1].phase == "cool"


def test_the_relay_is_counted_on_every_tick_and_not_only_on_samples(path: Path) -> None:
    journal = a_journal(path)
    for run_s, heater_on in enumerate([False, True, False, True, True, True]):
        journal.tell(a_moment(float(run_s), heater_on=heater_on))
    last = read_run(path).samples[-1]
    assert last.t_s == 4.0
    assert last.switches == 3
    assert last.heater_on is True


def test_numbers_are_rounded_and_a_missing_one_is_null(path: Path) -> None:
    journal = a_journal(path)
    journal.tell(
        a_moment(
            1 / 3,
            bowl_c=float("nan"),
            events=(
                an_event(
                    EventName.PHASE_OVERRAN,
                    late_s=2 / 3,
                    bowl_c=1 / 3,
                    bath_c=float("inf"),
                    asked=True,
                ),
            ),
        )
    )
    _, event, sample = path.read_text().splitlines()
    assert '"t_s":0.333,' in sample
    assert '"bowl_c":null,"bowl_setpoint_c":46.0000' in sample
    assert '"facts":{"asked":true,"bath_c":null,"bowl_c":0.3333,"late_s":0.667}' in event


def test_a_shaft_that_is_not_fitted_is_null(path: Path) -> None:
    journal = a_journal(path)
    moment = a_moment(0.0)
    journal.tell(
        type(moment)(
            now_s=0.0,
            state=moment.state,
            heater_on=False,
            stirrer_rpm=0.0,
            shaft_rpm=None,
            load_w=None,
            events=(),
        )
    )
    sample = read_run(path).samples[0]
    assert sample.shaft_rpm is None
    assert sample.load_w is None


def test_a_hostile_text_stays_on_one_line_of_valid_utf_8(path: Path) -> None:
    journal = a_journal(path)
    word = '\ud800 "quoted"\n\u2028 é'
    journal.tell(a_moment(0.0, events=(an_event(EventName.REQUEST_REFUSED, word=word),)))
    assert len(path.read_text("utf-8").split("\n")) == 4
    assert read_run(path).events[0].facts == {"word": word}


def test_what_was_told_is_in_the_file_before_the_next_tick(path: Path) -> None:
    journal = a_journal(path)
    journal.tell(a_moment(0.0))
    assert len(read_run(path).samples) == 1


def test_finishing_writes_the_last_tick_the_outcome_and_the_truth(path: Path) -> None:
    journal = a_journal(path)
    journal.tell(a_moment(0.0))
    journal.tell(a_moment(1.0, mode=Mode.COMPLETE, verdict=Verdict.IN_TEMPER))
    journal.finish(TRUTH, "complete")
    run = read_run(path)
    assert run.samples[-1].t_s == 1.0
    assert run.samples[-1].verdict is Verdict.IN_TEMPER
    assert run.closing is not None
    assert run.closing.truth == TRUTH
    assert run.closing.outcome == "complete"
    assert run.closing.t_s == 1.0
    assert not run.torn


def test_only_a_run_that_a_signal_ended_names_one(path: Path) -> None:
    a_journal(path).finish(None, "stopped")
    assert b"signal" not in path.read_bytes()
    other = path.with_suffix(".other")
    a_journal(other).finish(None, "stopped", "SIGTERM")
    assert b'"outcome":"stopped","signal":"SIGTERM"' in other.read_bytes()


def test_a_last_tick_that_was_sampled_is_not_sampled_again(path: Path) -> None:
    journal = a_journal(path)
    journal.tell(a_moment(0.0))
    journal.finish(None, "stopped")
    assert kinds_of(path) == ["header", "sample", "closing"]


def test_a_run_without_a_tick_can_be_finished(path: Path) -> None:
    a_journal(path).finish(None, "stopped")
    assert kinds_of(path) == ["header", "closing"]


def test_nothing_is_written_after_the_end(path: Path) -> None:
    journal = a_journal(path)
    journal.finish(None, "stopped")
    before = path.read_bytes()
    with path.with_suffix(".other").open("wb") as other:  # likely to get the same descriptor
        journal.tell(a_moment(0.0))
        journal.finish(None, "again")
        assert os.fstat(other.fileno()).st_size == 0
    assert path.read_bytes() == before


def test_the_same_run_gives_the_same_bytes(tmp_path: Path) -> None:
    one, two = tmp_path / "one.jsonl", tmp_path / "two.jsonl"
    write_batch(one)
    clock = HandClock()
    journal = WaitingJournal(two, header=a_header(), clock_s=clock)
    for moment in a_batch():
        clock.now_s += 0.37
        journal.tell(moment)
    journal.finish(TRUTH, "complete")
    assert one.read_bytes() == two.read_bytes()
