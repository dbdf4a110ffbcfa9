"""Two runs side by side: golden text from made-up records, and what only one of them has."""

from dataclasses import replace
from pathlib import Path

import pytest

from controller.core.profile import Kind
from controller.core.state import EventName, Mode
from controller.journal.reader import read_run
from controller.journal.records import Note, Run
from controller.report.compare_runs import compare_runs, questions_of
from tests.helpers.batch import (
    LEGS,
    WaitingJournal,
    a_header,
    a_machine,
    a_moment,
    a_profile,
    an_event,
    an_identity,
    still_clock,
    write_batch,
)

COOLER = (("melt", 45.0, 0), *LEGS[1:3])  # another target, and no hold


@pytest.fixture(scope="module")
def batch(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """The made-up batch, read back."""
    path = tmp_path_factory.mktemp("batch") / "run.jsonl"
    write_batch(path)
    return read_run(path)


@pytest.fixture
def short(tmp_path: Path) -> Run:
    """A run that tripped while it cooled, its question never answered."""
    asked = an_event(EventName.QUESTION_ASKED, id="swap", text="Swap the water.")
    tripped = an_event(EventName.TRIP_LATCHED, cause="level-lost")
    header = a_header(a_profile(COOLER), a_machine("attic"), an_identity("run-2"))
    path = tmp_path / "short.jsonl"
    journal = WaitingJournal(path, header=header, clock_s=still_clock, sample_every_s=0.0)
    journal.tell(a_moment(0.0, bowl_c=20.0))
    journal.tell(a_moment(2000.0, bowl_c=45.5))
    journal.tell(a_moment(3300.0, phase=1, bowl_c=40.0, events=(asked,)))
    journal.tell(a_moment(3600.0, phase=1, bowl_c=38.0, mode=Mode.ABORTED, events=(tripped,)))
    journal.finish(None, "tripped")
    return read_run(path)


def lines_of(text: str) -> dict[str, str]:
    """The lines by their labels, gaps made one."""
    parts = [line.split("  ") for line in text.splitlines()]
    return {
        next(filter(None, part), ""): "|".join(cell.strip() for cell in filter(None, part))
        for part in parts
    }


def test_the_text_reads_well(batch: Run, short: Run) -> None:
    assert compare_runs(batch, short) == (
        "A    run run-1, begun 2031-02-03 10:00 UTC\n"
        "     Made-up batch, machine kitchen, 1.25 kg in the bowl\n"
        "B    run run-2, begun 2031-02-03 10:00 UTC\n"
        "     Made-up batch, machine attic, 1.25 kg in the bowl\n"
        "\n"
        "                        A          B          difference\n"
        "Outcome                 complete   tripped    differs\n"
        "Lasted                  2:15:00    1:00:00    -1:15:00\n"
        "Phases\n"
        "  melt                  0:50:00    0:55:00    +0:05:00\n"
        "    bowl to             46.0 °C    45.0 °C    -1.0 K\n"
        "  cool                  0:40:00    0:05:00    -0:35:00\n"
        "  rewarm                0:15:00    -          only in A\n"
        "  hold                  0:30:00    -          only in A\n"
        "Ready after             1:46:00    -          only in A\n"
        "Melt overshoot          0.00 K     0.50 K     +0.50 K\n"
        "Working overshoot       0.10 K     -          only in A\n"
        "Hold, lowest            -0.10 K    -          only in A\n"
        "Hold, highest           0.10 K     -          only in A\n"
        "Hold, root mean square  0.07 K     -          only in A\n"
        "Questions\n"
        "  swap, asked at        0:50:05    0:55:00    +0:04:55\n"
        "    answered after      0:01:00    -          only in A\n"
        "    answer              done       -          only in A\n"
        "  test, asked at        1:51:40    -          only in A\n"
        "    answered after      0:08:20    -          only in A\n"
        "    answer              set        -          only in A\n"
        "Set test                in temper  not made   differs\n"
        "Crystals                in temper  -          only in A\n"
        "  fat in form V         1.23 %     -          only in A\n"
        "  fat unstable          0.00 %     -          only in A\n"
        "Heat asked for          0.225 kWh  0.100 kWh  -0.125 kWh\n"
        "Heat used               0.500 kWh  -          only in A\n"
        "Relay switches          1620       0          -1620\n"
        "Trips\n"
        "  level lost at         -          1:00:00    only in B\n"
    )


def test_the_text_speaks_fahrenheit(batch: Run, short: Run) -> None:
    text = compare_runs(batch, short, fahrenheit=True)
    # By the definition of the scale: 46 °C is 114.8 °F, a span of 1 K is 1.8 °F.
    assert lines_of(text)["bowl to"] == "bowl to|114.8 °F|113.0 °F|-1.8 °F"
    assert lines_of(text)["Melt overshoot"] == "Melt overshoot|0.00 °F|0.90 °F|+0.90 °F"
    assert "°C" not in text
    assert " K" not in text


def test_a_run_against_itself_differs_nowhere(batch: Run) -> None:
    text = compare_runs(batch, batch)
    lines = text.partition("difference\n")[2].splitlines()
    assert {line.split("  ")[-1].strip() for line in lines} == {"same", "Phases", "Questions"}


def test_a_torn_record_says_so(batch: Run) -> None:
    text = compare_runs(batch, replace(batch, torn=True))
    assert text.count("its record is cut at a damaged line; what follows it is lost\n") == 1


def test_a_run_that_broke_off_says_so(batch: Run) -> None:
    text = compare_runs(batch, replace(batch, closing=None))
    assert lines_of(text)["Outcome"] == "Outcome|complete|broke off|differs"
    assert lines_of(text)["Crystals"] == "Crystals|in temper|-|only in A"
    assert lines_of(text)["Heat used"] == "Heat used|0.500 kWh|-|only in A"


def test_two_real_machines_have_no_line_for_crystals(batch: Run) -> None:
    open_ended = replace(batch, closing=None)
    assert "Crystals" not in compare_runs(open_ended, open_ended)


def test_two_trials_with_water_have_no_set_test(tmp_path: Path) -> None:
    path = tmp_path / "water.jsonl"
    header = a_header(a_profile(kind=Kind.WATER))
    journal = WaitingJournal(path, header=header, clock_s=still_clock)
    journal.tell(a_moment(0.0))
    water = read_run(path)
    assert "Set test" not in compare_runs(water, water)


def note(name: EventName, t_s: float, **facts: str) -> Note:
    """An event of a record."""
    return Note(seq=1, t_s=t_s, name=name, phase="hold", facts={**facts})


def test_a_question_that_was_asked_again_is_told_apart(batch: Run) -> None:
    asked, answered = EventName.QUESTION_ASKED, EventName.QUESTION_ANSWERED
    run = replace(
        batch,
        events=(
            note(answered, 5.0, id="test", choice="stray"),
            note(asked, 10.0, id="test"),
            note(answered, 12.0, id="test", choice="streaked"),
            note(asked, 20.0, id="test"),
        ),
    )
    found = questions_of(run)
    assert list(found) == ["test", "test (2)"]
    assert (found["test"].at_s, found["test"].took_s) == (10.0, 2.0)
    assert found["test"].choice == "streaked"
    assert (found["test (2)"].at_s, found["test (2)"].choice) == (20.0, "-")


def test_a_cause_counts_when_it_was_first_latched(batch: Run) -> None:
    trips = [note(EventName.TRIP_LATCHED, at_s, cause="level-lost") for at_s in (60.0, 90.0)]
    text = compare_runs(batch, replace(batch, events=tuple(trips)))
    assert lines_of(text)["level lost at"] == "level lost at|-|0:01:00|only in B"
