"""What a run's record keeps of the forecast, and what its summary says of it."""

import io
import json
import math
from pathlib import Path

import pytest

from controller.core.outlook import UNKNOWN, Obstacle, Outlook
from controller.journal.foretelling import EVERY_S, GAP_S, Foretelling
from controller.journal.reader import read_run
from controller.journal.records import READY_FORETOLD, Run
from controller.journal.writer import Journal
from controller.report.export import write_json
from controller.report.summary import summarise, summary_text
from tests.helpers.batch import a_header, a_moment, still_clock
from tests.helpers.records import replace


def ready_at(likely_s: float) -> Outlook:
    """Ready then, give or take ten minutes."""
    return Outlook(early_s=likely_s - 600.0, likely_s=likely_s, late_s=likely_s + 600.0)


def noted(*told: tuple[float, Outlook]) -> list[float]:
    """When something was noted of these outlooks."""
    foretelling = Foretelling()
    return [run_s for run_s, outlook in told if foretelling.is_due(outlook, run_s)]


def test_a_forecast_that_stays_as_it_is_is_noted_seldom() -> None:
    told = [(float(run_s), ready_at(6000.0)) for run_s in range(0, 1900, 4)]
    assert noted(*told) == [0.0, EVERY_S, 2 * EVERY_S, 3 * EVERY_S]


def test_a_forecast_that_moves_is_noted_at_once_but_no_more_often_than_the_gap() -> None:
    assert noted((0.0, ready_at(6000.0)), (GAP_S, ready_at(6700.0))) == [0.0, GAP_S]
    assert noted((0.0, ready_at(6000.0)), (GAP_S - 1.0, ready_at(6700.0))) == [0.0]
    assert noted((0.0, ready_at(6000.0)), (GAP_S, ready_at(6100.0))) == [0.0]
    # Near the end a minute matters, and less does not.
    assert noted((5800.0, ready_at(6000.0)), (5900.0, ready_at(6070.0))) == [5800.0, 5900.0]
    assert noted((5800.0, ready_at(6000.0)), (5900.0, ready_at(6040.0))) == [5800.0]


def test_nothing_known_is_noted_once_and_what_stands_in_the_way_at_once() -> None:
    far = Outlook(obstacle=Obstacle.ROOM, obstacle_c=28.0, room_c=28.0)
    assert noted((0.0, UNKNOWN), (900.0, UNKNOWN)) == []
    assert noted((0.0, ready_at(6000.0)), (1.0, UNKNOWN), (2.0, UNKNOWN)) == [0.0, 1.0]
    assert noted((0.0, UNKNOWN), (4.0, far), (2000.0, far)) == [4.0]
    ready = Outlook(early_s=9.0, likely_s=9.0, late_s=9.0, is_ready=True)
    assert noted((0.0, ready_at(60.0)), (9.0, ready), (3000.0, ready)) == [0.0, 9.0]


def recorded(path: Path, *told: tuple[float, Outlook]) -> Run:
    """The record of a run with these outlooks."""
    journal = Journal(path, header=a_header(), clock_s=still_clock)
    for run_s, outlook in told:
        moment = a_moment(run_s)
        journal.tell(replace(moment, state=replace(moment.state, outlook=outlook)))
    journal.finish(None, "stopped")
    return read_run(path)


def test_the_record_and_its_export_have_early_likely_and_late(tmp_path: Path) -> None:
    run = recorded(tmp_path / "run.jsonl", (0.0, ready_at(6000.0)), (40.0, UNKNOWN))
    notes = [note for note in run.events if note.name == READY_FORETOLD]
    assert [note.t_s for note in notes] == [0.0, 40.0]
    assert notes[0].facts == {
        "early_s": 5400.0,
        "likely_s": 6000.0,
        "late_s": 6600.0,
        "obstacle": "none",
    }
    likely_s = notes[1].facts["likely_s"]
    assert isinstance(likely_s, float)
    assert math.isnan(likely_s)
    out = io.StringIO()
    write_json(run, out)
    exported = [one["facts"] for one in json.loads(out.getvalue())["events"]]
    assert exported[0]["late_s"] == 6600.0
    assert exported[1]["late_s"] is None


@pytest.mark.parametrize(
    ("ready_s", "end"),
    [(None, ""), (6120.0, "; it was 2 min later"), (5700.0, "; it was 5 min earlier")],
)
def test_the_summary_says_what_was_first_foretold_and_how_far_off_that_was(
    tmp_path: Path, ready_s: float | None, end: str
) -> None:
    run = recorded(
        tmp_path / "run.jsonl", (0.0, UNKNOWN), (60.0, ready_at(6000.0)), (900.0, ready_at(7000.0))
    )
    text = summary_text(replace(summarise(run), ready_s=ready_s))
    said = "Foretold   after 1 h 40 min (1 h 30 min to 1 h 50 min), said after 1 min"
    assert f"{said}{end}\n" in text


def test_a_run_without_a_forecast_has_no_such_line(tmp_path: Path) -> None:
    run = recorded(tmp_path / "run.jsonl", (0.0, UNKNOWN))
    assert summarise(run).foretold is None
    assert "Foretold" not in summary_text(summarise(run))
