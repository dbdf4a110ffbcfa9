"""What a run says at its end: figures, record, all that is left to do, notes and label."""

import argparse
from pathlib import Path

import pytest

from controller.book.finishing import Room
from controller.commands.ending import show_end
from controller.core.state import EventName
from controller.journal.writer import Journal
from controller.ports import Kind
from tests.helpers.batch import (
    LEGS,
    a_header,
    a_moment,
    a_profile,
    an_event,
    still_clock,
    write_batch,
)

DAMP = Room(room_c=27.0, humidity=0.72)


def said(
    path: Path, capsys: pytest.CaptureFixture[str], *, fahrenheit: bool = False, **options: object
) -> str:
    """What is printed at the end of that run, on one line."""
    told = argparse.Namespace(**{"plot": None, "page": None, **options})
    show_end(told, path, None, DAMP, fahrenheit=fahrenheit)
    return " ".join(capsys.readouterr().out.split())


def test_a_run_ends_with_its_figures_and_then_what_to_do_in_the_order_of_doing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "run.jsonl"
    write_batch(path)
    out = said(path, capsys)
    order = (
        "Ready after",
        "Heat ",
        f"Record: {path}",
        "Empty: Pour out what is left while it is warm",
        "Store: Spread what is left thin on paper",
        "Label it with kind, date, remelts and allergens",
        "Set and unmould: Dipped pieces set at 18.0 °C to 21.0 °C in 10 to 20 minutes",
        "Unmould once it has drawn back",
        "Out of the fridge: Leave pieces wrapped until they are at 23.5 °C",
        "in a room of 27.0 °C at 72 % about 1 h 17 min for a bar",
        "Clean: Wipe bowl, stirrer and thermometer with paper while they are warm",
        "down the drain",
        "dry all of it",
        f"bainward book note {path} --gloss glossy",
        f"bainward book label {path}",
    )
    places = [out.find(words) for words in order]
    assert -1 not in places, order[places.index(-1)]
    assert places == sorted(places)


def test_a_run_in_fahrenheit_ends_in_fahrenheit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "run.jsonl"
    write_batch(path)
    assert "in a room of 80.6 °F at 72 %" in said(path, capsys, fahrenheit=True)


def test_water_is_only_to_be_dried_and_needs_no_label(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "run.jsonl"
    write_batch(path, a_header(a_profile(kind=Kind.WATER)))
    out = said(path, capsys)
    assert "Dry: Empty bowl and bath" in out
    assert "label" not in out
    assert "Store" not in out


def test_a_run_that_tripped_before_it_was_worked_ends_with_the_plug_and_without_pieces(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, page = tmp_path / "run.jsonl", tmp_path / "run.html"
    journal = Journal(path, header=a_header(), clock_s=still_clock)
    trip = an_event(EventName.TRIP_LATCHED, cause="level-lost", what="It is dry.", action="See.")
    for run_s, events in ((0.0, ()), (1.0, (trip,))):
        journal.tell(a_moment(run_s, events=events))
    journal.finish(None, "tripped")
    out = said(path, capsys, page=page)
    assert "First: Unplug the machine before you touch bowl, bath or stirrer." in out
    assert "Keep: It was not brought to where it is worked with" in out
    for late in ("Pour out what is left", "unmould", "fridge", "--gloss"):
        assert late not in out
    assert "<dt>First</dt><dd>Unplug the machine" in page.read_text(encoding="utf-8")


def test_a_run_that_tripped_in_its_last_phase_ends_with_the_plug_and_its_pieces(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "run.jsonl"
    journal = Journal(path, header=a_header(), clock_s=still_clock)
    trip = an_event(EventName.TRIP_LATCHED, cause="level-lost", what="It is dry.", action="See.")
    journal.tell(a_moment(0.0, phase=len(LEGS) - 1, events=(trip,)))
    journal.finish(None, "tripped")
    out = said(path, capsys)
    assert out.find("First: Unplug") < out.find("Empty: Pour out") < out.find("Set and unmould")


def test_a_page_is_written_where_that_was_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, page = tmp_path / "run.jsonl", tmp_path / "run.html"
    write_batch(path)
    assert said(path, capsys, page=page).endswith(f"Page: {page}")
    assert "72\u00a0%" in page.read_text(encoding="utf-8")
