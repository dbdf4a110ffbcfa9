"""Drawing sweeps with matplotlib: a small panel a column, one sweep or two on the same scale.

Responsible for the picture; not for choosing the file or explaining errors (plot).
"""

import math
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from controller.report.figures import PERCENTILES, drawn, drawn_unit, is_same, percentiles, title_of
from controller.report.plot_look import BLUE, QUIET, SMALL_PT, VERMILION, paper, save
from controller.report.table import Table, figure_columns, word_columns

# Own choices: three panels beside each other can still be read on a page 900 pixels wide.
ACROSS = 3
PANEL_IN = 1.6
WORDS_IN = (1.6, 2.3)  # two bars a word want more room
MARGIN_IN = 0.8
FEWEST_BINS, MOST_BINS = 8, 36
BINS_PER_ROOT = 2.0  # so many bins for each root of the number of machines
COLORS = (BLUE, VERMILION)
DASHES = (":", "-", ":")  # of the lines at the percentiles
MOST_WORDS = 5  # the rarer ones of a panel are added up
LONGEST_WORD, LINES_OF_WORD = 24, 2
BAR = 0.7  # of the room that a word has
PANEL_WIDTH = 40  # letters over a panel
NOTE_WIDTH = 125
NOTE_LINE_IN = 0.17

Named = tuple[str, Table]  # what a sweep is called in the picture, and what it found


def draw_sweeps(
    sweeps: Sequence[Named], path: Path, *, title: str, fahrenheit: bool = False
) -> Figure:
    """Draw one sweep, or two on the same scales, into `path`; what was drawn comes back.

    Raises:
        OSError: the file can't be written.
    """
    tables = [table for _, table in sweeps]
    words = word_columns(*tables)
    figures = figure_columns(*tables)
    spread = [column for column in figures if _spreads(column, tables)]
    note = _note([column for column in figures if column not in spread])
    heights_in = [
        panel_in * max(1, math.ceil(len(part) / ACROSS))
        for part, panel_in in ((words, WORDS_IN[len(tables) - 1]), (spread, PANEL_IN))
    ]
    around_in = MARGIN_IN + NOTE_LINE_IN * len(note.splitlines())
    with paper(sum(heights_in) + around_in) as figure, mpl.rc_context({"font.size": SMALL_PT}):
        upper, lower = figure.subfigures(2, 1, squeeze=False, height_ratios=heights_in).flatten()
        for axes, column in _panels(upper, words):
            _counts(axes, column, tables)
        for axes, column in _panels(lower, spread):
            _distribution(axes, column, tables, fahrenheit=fahrenheit)
        _headings(figure, sweeps, title, note)
        save(figure, path)
    return figure


def _panels(part: SubFigure, columns: Sequence[str]) -> Iterator[tuple[Axes, str]]:
    """A panel a column, in rows of the same size whether full or not."""
    deep = max(1, math.ceil(len(columns) / ACROSS))
    grid: list[Axes] = part.subplots(deep, ACROSS, squeeze=False).flatten().tolist()
    for axes in grid[len(columns) :]:
        axes.set_axis_off()
    yield from zip(grid, columns, strict=False)


def _spreads(column: str, tables: Iterable[Table]) -> bool:
    """Whether there is a distribution to draw."""
    values = _known(value for table in tables for value in table.figures(column))
    return not is_same(min(values), max(values))


def _known(values: Iterable[float]) -> list[float]:
    return [value for value in values if math.isfinite(value)]


def _note(columns: Sequence[str]) -> str:
    if not columns:
        return ""
    names = ", ".join(title_of(column) for column in columns)
    return textwrap.fill(f"The same for every machine: {names}.", NOTE_WIDTH)


def _counts(axes: Axes, column: str, tables: Sequence[Table]) -> None:
    """How many machines a word was true of: a bar a word, with its number."""
    counts = [table.counts(column) for table in tables]
    words = [word for word, _ in sum(counts, Counter()).most_common()]
    shown, rare = words[:MOST_WORDS], words[MOST_WORDS:]
    labels = [_wrapped(word) for word in shown]
    labels += [f"{len(rare)} others"] if rare else []
    for index, (count, color) in enumerate(zip(counts, COLORS, strict=False)):
        numbers = [count[word] for word in shown]
        numbers += [sum(count[word] for word in rare)] if rare else []
        thick = BAR / len(tables)
        heights = [place + (index - (len(tables) - 1) / 2) * thick for place in range(len(numbers))]
        bars = axes.barh(heights, numbers, height=thick, color=color)
        axes.bar_label(bars, padding=2.0)
    axes.set_yticks(range(len(labels)), labels)
    axes.invert_yaxis()  # the commonest on top
    axes.margins(x=0.2)
    axes.set_xticks([])
    axes.spines["bottom"].set_visible(False)
    axes.tick_params(left=False)
    _title(axes, title_of(column))


def _wrapped(word: str) -> str:
    lines = textwrap.wrap(word, LONGEST_WORD, max_lines=LINES_OF_WORD, placeholder=" ...")
    return "\n".join(lines)


def _distribution(axes: Axes, column: str, tables: Sequence[Table], *, fahrenheit: bool) -> None:
    """How a figure is spread over the machines, with lines at its percentiles."""
    known = [_known(table.figures(column)) for table in tables]
    most_of_all = max(max(values) for values in known if values)
    found = [
        [drawn(column, value, most=most_of_all, fahrenheit=fahrenheit) for value in values]
        for values in known
    ]
    least = min(min(values) for values in found if values)
    most = max(max(values) for values in found if values)
    bins = math.ceil(BINS_PER_ROOT * math.sqrt(max(map(len, found))))
    for index, (values, color) in enumerate(zip(found, COLORS, strict=False)):
        axes.hist(
            values,
            bins=min(max(bins, FEWEST_BINS), MOST_BINS),
            range=(least, most),
            histtype="stepfilled" if index == 0 else "step",
            color=color,
            alpha=0.45 if index == 0 else 1.0,
            linewidth=1.2,
        )
        for value, dashes in zip(percentiles(values), DASHES, strict=True):
            axes.axvline(value, color=color, linestyle=dashes, linewidth=1.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    whole = all(value == round(value) for values in found for value in values)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=5, integer=whole))
    unit = drawn_unit(column, most=most_of_all, fahrenheit=fahrenheit)
    _title(axes, ", ".join(filter(None, (title_of(column), unit))) + _share_known(found, tables))


def _share_known(found: Sequence[Sequence[float]], tables: Sequence[Table]) -> str:
    """For how many machines there is a value, where not for all."""
    known = [(len(values), len(table.rows)) for values, table in zip(found, tables, strict=True)]
    if all(some == every for some, every in known):
        return ""
    numbers = dict.fromkeys(str(some) for some, _ in known)
    return f" (of {' and '.join(numbers)})"


def _title(axes: Axes, text: str) -> None:
    axes.set_title(textwrap.fill(text, PANEL_WIDTH), loc="left", fontsize=SMALL_PT)


def _headings(figure: Figure, sweeps: Sequence[Named], title: str, note: str) -> None:
    """What stands around the panels."""
    p5, p50, p95 = PERCENTILES
    marks = [
        *(
            Patch(facecolor=color, alpha=0.45 if index == 0 else 1.0, label=name)
            for index, ((name, _), color) in enumerate(zip(sweeps, COLORS, strict=False))
        ),
        Line2D([], [], color=QUIET, linestyle=":", linewidth=1.0, label=f"{p5} and {p95}"),
        Line2D([], [], color=QUIET, linestyle="-", linewidth=1.0, label=p50),
    ]
    figure.legend(handles=marks, loc="outside upper right", ncols=len(marks), frameon=False)
    figure.suptitle(title, fontsize=SMALL_PT + 2.0, x=0.01, ha="left")
    if note:
        figure.supxlabel(note, fontsize=SMALL_PT, color=QUIET, x=0.01, ha="left")
