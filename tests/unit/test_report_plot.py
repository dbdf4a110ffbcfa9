"""A run as a picture: the right curves in it, the same bytes each time, clear errors."""

import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from controller.core.state import EventName, Mode
from controller.errors import AccessError, UsageError
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.journal.writer import Journal
from controller.report import plot
from controller.report.plot import plot_run
from tests.helpers.batch import (
    WaitingJournal,
    a_header,
    a_moment,
    an_event,
    still_clock,
    write_batch,
)

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"  # W3C, Portable Network Graphics, section 5.2
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def batch(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """The made-up batch, read back."""
    path = tmp_path_factory.mktemp("batch") / "run.jsonl"
    write_batch(path)
    return read_run(path)


def comments_of(path: Path) -> str:
    """Texts of a picture: matplotlib draws them as outlines and names each in a comment."""
    return " | ".join(
        line.strip() for line in path.read_text().splitlines() if line.strip().startswith("<!--")
    )


def test_the_picture_names_phases_curves_and_what_the_cook_did(batch: Run, tmp_path: Path) -> None:
    path = tmp_path / "run.svg"
    plot_run(batch, path)
    texts = comments_of(path)
    for word in ("melt", "cool", "rewarm", "hold", "bath", "bowl", "bowl wanted", "question"):
        assert f"<!-- {word} -->" in texts
    assert "<!-- answer -->" in texts
    assert "<!-- trip -->" not in texts
    assert "<!-- Made-up batch (machine kitchen) -->" in texts
    assert "<!-- temperature, °C -->" in texts
    assert "<!-- minutes -->" in texts
    assert ET.parse(path).getroot().tag == f"{SVG}svg"  # noqa: S314 - our own file


def test_the_picture_speaks_fahrenheit(batch: Run, tmp_path: Path) -> None:
    path = tmp_path / "run.svg"
    plot_run(batch, path, fahrenheit=True)
    texts = comments_of(path)
    assert "<!-- temperature, °F -->" in texts
    assert "<!-- 110 -->" in texts


@pytest.mark.parametrize("suffix", [".svg", ".png"])
def test_the_same_run_gives_the_same_picture(batch: Run, tmp_path: Path, suffix: str) -> None:
    one, two = tmp_path / f"one{suffix}", tmp_path / f"two{suffix}"
    plot_run(batch, one)
    plot_run(batch, two)
    assert one.read_bytes() == two.read_bytes()


def test_a_png_is_a_png(batch: Run, tmp_path: Path) -> None:
    path = tmp_path / "run.png"
    plot_run(batch, path)
    assert path.read_bytes().startswith(PNG_SIGNATURE)


def test_a_trip_is_marked_with_its_cause_even_in_a_run_of_one_tick(tmp_path: Path) -> None:
    journal = WaitingJournal(tmp_path / "run.jsonl", header=a_header(), clock_s=still_clock)
    trip = an_event(EventName.TRIP_LATCHED, cause="level-lost")
    journal.tell(a_moment(0.0, events=(trip,)))
    path = tmp_path / "run.svg"
    plot_run(read_run(tmp_path / "run.jsonl"), path)
    assert "<!-- 0:00:00 level lost -->" in comments_of(path)
    assert "<!-- trip -->" in comments_of(path)


def test_a_phase_too_short_for_its_name_goes_without(tmp_path: Path) -> None:
    journal = WaitingJournal(tmp_path / "run.jsonl", header=a_header(), clock_s=still_clock)
    for run_s, phase in ((0.0, 0), (1000.0, 1), (1010.0, 2), (2000.0, 2)):
        journal.tell(a_moment(run_s, phase=phase, events=(an_event(EventName.PHASE_ENTERED),)))
    path = tmp_path / "run.svg"
    plot_run(read_run(tmp_path / "run.jsonl"), path)
    assert "<!-- melt -->" in comments_of(path)
    assert "<!-- cool -->" not in comments_of(path)


def test_what_was_recorded_after_the_end_is_named_so(tmp_path: Path) -> None:
    journal = WaitingJournal(tmp_path / "run.jsonl", header=a_header(), clock_s=still_clock)
    for run_s, mode in ((0.0, Mode.RUNNING), (100.0, Mode.ABORTED), (500.0, Mode.ABORTED)):
        journal.tell(a_moment(run_s, mode=mode))
    path = tmp_path / "run.svg"
    plot_run(read_run(tmp_path / "run.jsonl"), path)
    assert "<!-- ended -->" in comments_of(path)


def test_a_run_that_never_began_is_drawn_without_phases(tmp_path: Path) -> None:
    journal = WaitingJournal(tmp_path / "run.jsonl", header=a_header(), clock_s=still_clock)
    journal.tell(a_moment(0.0, mode=Mode.IDLE))
    path = tmp_path / "run.svg"
    plot_run(read_run(tmp_path / "run.jsonl"), path)
    assert "<!-- melt -->" not in comments_of(path)


def test_another_suffix_is_refused(batch: Run, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"must end in \.png or \.svg; give it such a name"):
        plot_run(batch, tmp_path / "run.doc")


def test_a_run_without_samples_is_refused(tmp_path: Path) -> None:
    Journal(tmp_path / "run.jsonl", header=a_header(), clock_s=still_clock)
    with pytest.raises(UsageError, match="run-1 holds no samples"):
        plot_run(read_run(tmp_path / "run.jsonl"), tmp_path / "run.svg")


def test_without_matplotlib_the_user_is_told_how_to_get_it(
    batch: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(sys.modules, "controller.report.drawing", raising=False)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(UsageError, match=r"needs matplotlib.*pip install '\.\[report\]'"):
        plot_run(batch, tmp_path / "run.svg")


def test_a_folder_that_is_not_there_is_one_sentence(batch: Run, tmp_path: Path) -> None:
    with pytest.raises(AccessError, match=r"there is no folder .*missing; make it"):
        plot_run(batch, tmp_path / "missing" / "run.svg")


def test_a_matplotlib_that_cannot_be_imported_is_one_sentence(
    batch: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(sys.modules, "controller.report.drawing", raising=False)
    monkeypatch.setitem(sys.modules, "matplotlib.axes", None)
    with pytest.raises(UsageError, match=r"needs matplotlib.*pip install '\.\[report\]'"):
        plot_run(batch, tmp_path / "run.svg")


def test_a_picture_that_the_disk_refuses_after_all_is_one_sentence(
    batch: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "run.svg").mkdir()  # since it was looked at
    monkeypatch.setattr(plot, "check_target", lambda _path, _what: None)
    with pytest.raises(AccessError, match=r"run.svg can't be written \(Is a directory\)"):
        plot_run(batch, tmp_path / "run.svg")
