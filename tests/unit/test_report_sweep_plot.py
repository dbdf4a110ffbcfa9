"""Sweeps as pictures: a panel a column, found again in matplotlib's own objects."""

from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import same_color
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from controller.errors import UsageError
from controller.report.plot import plot_sweep
from controller.report.plot_look import BLUE, VERMILION
from controller.report.sweep_plot import MOST_WORDS, draw_sweeps
from controller.report.table import table_of
from tests.helpers.sweeps import MACHINES, a_later_sweep, a_row, a_sweep


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Figure:
    """The made-up sweep by itself."""
    path = tmp_path_factory.mktemp("alone") / "sweep.png"
    return draw_sweeps([("machines", table_of(a_later_sweep()))], path, title="dark")


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Figure:
    """Two made-up sweeps on the same scales."""
    path = tmp_path_factory.mktemp("both") / "sweeps.png"
    sweeps = [("before", table_of(a_sweep())), ("after", table_of(a_later_sweep()))]
    return draw_sweeps(sweeps, path, title="dark")


def panels(figure: Figure) -> dict[str, Axes]:
    """The panels that show something, by the words over them."""
    return {axes.get_title(loc="left"): axes for axes in figure.axes if axes.axison}


def lines_of(axes: Axes) -> list[float]:
    """Where the lines at the percentiles stand."""
    return [float(np.asarray(line.get_xdata())[0]) for line in axes.lines]


def test_every_column_that_spreads_has_a_panel_with_its_unit(alone: Figure) -> None:
    assert list(panels(alone)) == [
        "exit",
        "trips",
        "ready, min (of 20)",
        "working overshoot, K",
        "bath max, °C",
        "switches",
    ]


def test_what_is_the_same_for_every_machine_is_said_in_words(alone: Figure) -> None:
    assert alone.get_supxlabel() == "The same for every machine: form v."


def test_lines_stand_at_the_percentiles_in_the_panels_own_unit(both: Figure) -> None:
    # Of 21 values one apart: the second, the eleventh and the twentieth.
    assert lines_of(panels(both)["ready, min (of 21 and 20)"])[:3] == [102.0, 111.0, 120.0]
    assert lines_of(panels(both)["working overshoot, K"])[:3] == pytest.approx([0.02, 0.11, 0.2])


def test_a_distribution_holds_every_machine_that_has_a_value(both: Figure) -> None:
    axes = panels(both)["working overshoot, K"]
    first, second = (patch for patch in axes.patches if isinstance(patch, Polygon))
    assert same_color(first.get_facecolor()[:3], BLUE)
    assert same_color(second.get_edgecolor()[:3], VERMILION)
    # The second is twice as wide, so the first ends in the middle of the same scale.
    assert first.get_xy()[:, 0].max() == pytest.approx(second.get_xy()[:, 0].max())
    assert max(patch.get_xy()[:, 1].max() for patch in (first, second)) <= MACHINES


def test_words_are_counted_with_the_number_at_the_bar(both: Figure) -> None:
    axes = panels(both)["exit"]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["done", "tripped"]
    assert [text.get_text() for text in axes.texts] == ["21", "0", "20", "1"]
    trips = panels(both)["trips"]
    assert [label.get_text() for label in trips.get_yticklabels()] == ["none", "level-lost"]


def test_rare_words_are_added_up(tmp_path: Path) -> None:
    rows = [a_row(number, trips=f"cause-{number}") for number in range(1, 10)]
    figure = draw_sweeps([("machines", table_of(rows))], tmp_path / "sweep.svg", title="dark")
    labels = [label.get_text() for label in panels(figure)["trips"].get_yticklabels()]
    assert labels[-1] == "4 others"
    assert len(labels) == MOST_WORDS + 1


def test_fahrenheit_changes_temperatures_and_spans(tmp_path: Path) -> None:
    table = table_of(a_sweep())
    figure = draw_sweeps([("m", table)], tmp_path / "sweep.svg", title="dark", fahrenheit=True)
    # By the definition of the scale: 51.1 °C is 123.98 °F, a span of 0.11 K is 0.198 °F.
    assert lines_of(panels(figure)["bath max, °F"])[1] == pytest.approx(123.98)
    assert lines_of(panels(figure)["working overshoot, °F"])[1] == pytest.approx(0.198)


def test_the_legend_names_each_sweep_and_each_line(both: Figure) -> None:
    (legend,) = both.legends
    assert [text.get_text() for text in legend.get_texts()] == [
        "before",
        "after",
        "p5 and p95",
        "p50",
    ]


def test_no_two_panels_lie_over_each_other(both: Figure) -> None:
    boxes = [axes.get_tightbbox() for axes in panels(both).values()]
    known = [box for box in boxes if box is not None]
    assert len(known) == len(boxes)
    overlaps = [
        (one, other)
        for index, one in enumerate(known)
        for other in known[index + 1 :]
        if one.overlaps(other)
    ]
    assert overlaps == []


@pytest.mark.parametrize("suffix", [".svg", ".png"])
def test_the_same_rows_give_the_same_picture(tmp_path: Path, suffix: str) -> None:
    one, two = tmp_path / f"one{suffix}", tmp_path / f"two{suffix}"
    plot_sweep(a_sweep(), one)
    plot_sweep(a_sweep(), two)
    assert one.read_bytes() == two.read_bytes()


def test_a_sweep_of_one_machine_is_a_picture_too(tmp_path: Path) -> None:
    plot_sweep([a_row(1)], tmp_path / "sweep.png")
    assert (tmp_path / "sweep.png").stat().st_size > 0


def test_a_sweep_of_none_is_refused_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no rows to draw"):
        plot_sweep([], tmp_path / "sweep.png")
