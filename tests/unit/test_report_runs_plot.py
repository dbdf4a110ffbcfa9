"""Runs as pictures, found again in matplotlib's own objects: two on one axis, and their trips."""

import math
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import same_color
from matplotlib.figure import Figure
from matplotlib.text import Annotation, Text

from controller.core.state import EventName, Mode
from controller.errors import UsageError
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.journal.writer import Journal
from controller.report.drawing import draw
from controller.report.plot import plot_runs
from controller.report.plot_look import BLUE, VERMILION
from controller.report.runs_plot import draw_runs
from tests.helpers.batch import (
    WaitingJournal,
    a_header,
    a_moment,
    an_event,
    still_clock,
    write_batch,
)


@pytest.fixture(scope="module")
def batch(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """The made-up batch, read back."""
    path = tmp_path_factory.mktemp("batch") / "run.jsonl"
    write_batch(path)
    return read_run(path)


@pytest.fixture(scope="module")
def tripped(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """A run that lost its bowl probe, tripped a minute later, and again at once."""
    path = tmp_path_factory.mktemp("tripped") / "run.jsonl"
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock, sample_every_s=0.0)
    first = an_event(EventName.TRIP_LATCHED, cause="bowl-probe-missing")
    second = an_event(EventName.TRIP_LATCHED, cause="guard-latched")
    journal.tell(a_moment(0.0, bowl_c=20.0))
    journal.tell(a_moment(600.0, bowl_c=25.0))
    journal.tell(a_moment(660.0, bowl_c=math.nan, mode=Mode.ABORTED, events=(first,)))
    journal.tell(a_moment(661.0, bowl_c=math.nan, mode=Mode.ABORTED, events=(second,)))
    journal.tell(a_moment(1200.0, bowl_c=math.nan, mode=Mode.ABORTED))
    return read_run(path)


@pytest.fixture(scope="module")
def both(batch: Run, tripped: Run, tmp_path_factory: pytest.TempPathFactory) -> Figure:
    """Both in one picture."""
    return draw_runs(batch, tripped, tmp_path_factory.mktemp("both") / "runs.png")


def points_of(axes: Axes, label: str) -> list[tuple[float, float]]:
    """The points of a curve or of marks, by its label."""
    (line,) = (line for line in axes.lines if line.get_label() == label)
    xs, ys = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    return [(float(x), float(y)) for x, y in zip(xs, ys, strict=True)]


def annotations_of(axes: Axes) -> list[Annotation]:
    """The labels with a line to what they name."""
    return [text for text in axes.texts if isinstance(text, Annotation)]


def test_both_curves_stand_on_one_time_axis(both: Figure, batch: Run) -> None:
    middle = both.axes[1]
    curve = points_of(middle, "A: bowl")
    assert len(curve) == len(batch.samples)
    assert curve[-1] == (8100.0 / 60.0, 31.5)
    assert points_of(middle, "B: bowl")[:2] == [(0.0, 20.0), (10.0, 25.0)]
    assert points_of(middle, "B: bath")[1] == (10.0, 25.75)
    assert middle.get_xlim() == (0.0, 135.0)
    colors = {line.get_label(): line.get_color() for line in middle.lines}
    assert same_color(colors["A: bowl"], BLUE)
    assert same_color(colors["B: bowl"], VERMILION)


def test_each_run_has_its_strip_of_phases(both: Figure) -> None:
    top = both.axes[0]
    widths = [(bar.get_x(), bar.get_width()) for bar in top.patches]  # type: ignore[attr-defined] # bars are rectangles
    assert widths == [(0.0, 50.0), (50.0, 40.0), (90.0, 15.0), (105.0, 30.0), (0.0, 11.0)]
    names = [text.get_text() for text in top.texts]
    assert names == ["melt", "cool", "rewarm", "hold", "melt"]
    assert [label.get_text() for label in top.get_yticklabels()] == ["A", "B"]


def test_heat_is_drawn_as_it_adds_up(both: Figure) -> None:
    lower = both.axes[2]
    assert float(np.asarray(lower.lines[0].get_ydata())[-1]) == pytest.approx(810_000 / 3.6e6)
    assert lower.get_ylabel() == "heat asked\nfor, kWh"


def test_questions_are_marked_on_the_curve_of_their_run(both: Figure) -> None:
    marks = points_of(both.axes[1], "A: question")
    assert [minute for minute, _ in marks] == pytest.approx([3005.0 / 60.0, 6700.0 / 60.0])
    assert not any(line.get_label() == "B: question" for line in both.axes[1].lines)


def test_a_trip_for_a_lost_probe_is_marked_where_the_bowl_was_last_seen(both: Figure) -> None:
    assert points_of(both.axes[1], "B: trip") == [(11.0, 25.0), (661.0 / 60.0, 25.0)]


def test_trips_close_to_each_other_share_a_label_with_their_times(both: Figure) -> None:
    (label,) = annotations_of(both.axes[1])
    assert label.get_text() == "0:11:00 bowl probe missing\n0:11:01 guard latched"
    assert label.xy == (11.0, 25.0)
    assert same_color(label.get_color(), VERMILION)


def test_trips_far_apart_have_labels_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock, sample_every_s=0.0)
    trip = an_event(EventName.TRIP_LATCHED, cause="level-lost")
    for run_s in (0.0, 3600.0):
        journal.tell(a_moment(run_s, events=(trip,)))
    figure = draw(read_run(path), tmp_path / "run.png", fahrenheit=False)
    first, last = annotations_of(figure.axes[0])
    assert (first.get_horizontalalignment(), last.get_horizontalalignment()) == ("left", "right")


def test_no_curve_runs_through_the_name_of_a_trip(tmp_path: Path) -> None:
    # A flat run has its curves right at the upper and lower edge of the picture.
    path = tmp_path / "run.jsonl"
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock, sample_every_s=0.0)
    trip = an_event(EventName.TRIP_LATCHED, cause="level-lost")
    for minute in range(60):
        journal.tell(a_moment(60.0 * minute, events=(trip,) if minute in {20, 40} else ()))
    run = read_run(path)
    two = draw_runs(run, run, tmp_path / "runs.png").axes[1]
    one = draw(run, tmp_path / "run.png", fahrenheit=False).axes[0]
    for axes in (one, two):
        assert annotations_of(axes)
        for label in annotations_of(axes):
            box = Text.get_window_extent(label)  # without the line to its mark
            for line in axes.lines:
                points = axes.transData.transform(np.column_stack(line.get_data()))
                assert not any(box.contains(x, y) for x, y in points), line.get_label()


def test_every_point_of_both_curves_is_within_the_picture(
    both: Figure, batch: Run, tripped: Run, tmp_path: Path
) -> None:
    turned = draw_runs(tripped, batch, tmp_path / "turned.png")
    for figure in (both, turned):
        middle = figure.axes[1]
        low, high = middle.get_ylim()
        for label in ("A: bowl", "B: bowl", "A: bath", "B: bath"):
            heights = [y for _, y in points_of(middle, label) if math.isfinite(y)]
            assert low < min(heights)
            assert max(heights) < high


def test_where_two_curves_are_one_both_are_seen(both: Figure) -> None:
    widths = {line.get_label(): line.get_linewidth() for line in both.axes[1].lines}
    assert widths["A: bowl"] >= widths["B: bowl"] + 1.0


def test_the_key_lies_outside_of_every_axes(both: Figure) -> None:
    (key,) = both.legends
    assert [text.get_text() for text in key.get_texts()] == [
        "A",
        "B",
        "bowl",
        "bath",
        "question",
        "trip",
    ]
    box = key.get_window_extent()
    assert not any(box.overlaps(axes.get_window_extent()) for axes in both.axes)


def test_both_runs_are_named_over_the_picture(both: Figure) -> None:
    assert both.get_suptitle() == (
        "A: Made-up batch (machine kitchen), run run-1\n"
        "B: Made-up batch (machine kitchen), run run-1"
    )


def test_the_picture_speaks_fahrenheit(batch: Run, tmp_path: Path) -> None:
    figure = draw_runs(batch, batch, tmp_path / "runs.svg", fahrenheit=True)
    # By the definition of the scale: 31.5 °C is 88.7 °F.
    assert points_of(figure.axes[1], "A: bowl")[-1][1] == pytest.approx(88.7)
    assert figure.axes[1].get_ylabel() == "temperature, °F"


@pytest.mark.parametrize("suffix", [".svg", ".png"])
def test_the_same_runs_give_the_same_picture(batch: Run, tmp_path: Path, suffix: str) -> None:
    one, two = tmp_path / f"one{suffix}", tmp_path / f"two{suffix}"
    plot_runs(batch, batch, one)
    plot_runs(batch, batch, two)
    assert one.read_bytes() == two.read_bytes()


def test_a_run_without_samples_is_refused(batch: Run, tmp_path: Path) -> None:
    Journal(tmp_path / "run.jsonl", header=a_header(), clock_s=still_clock)
    empty = read_run(tmp_path / "run.jsonl")
    with pytest.raises(UsageError, match="run-1 holds no samples"):
        plot_runs(batch, empty, tmp_path / "runs.png")
