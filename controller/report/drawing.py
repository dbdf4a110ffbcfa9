"""Drawing a run with matplotlib.

Responsible for the picture; not for choosing the file or explaining errors (plot).
"""

import math
from collections.abc import Callable, Iterable
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import offset_copy

from controller.core.scales import in_fahrenheit
from controller.core.state import ENDED, EventName
from controller.journal.records import Run
from controller.report.plot_look import (
    BLACK,
    BLUE,
    GREEN,
    PURPLE,
    SHADES,
    VERMILION,
    paper,
    quiet_grid,
    save,
)
from controller.report.plot_marks import (
    Mark,
    bowl_curve,
    clear_strip,
    name_trips,
    put_marks,
    trips_of,
)
from controller.report.shapes import PhaseTime
from controller.report.summary import summarise

# Own choices for a page about 900 pixels wide.
HEIGHT_IN = 5.6
LEGEND_COLUMNS = 6
HEIGHTS = (4.0, 1.0)
MARK_PT = 9.0
MARKS = (
    Mark(
        event=EventName.QUESTION_ASKED, marker="v", color=GREEN, size_pt=MARK_PT, label="question"
    ),
    Mark(
        event=EventName.QUESTION_ANSWERED, marker="o", color=PURPLE, size_pt=MARK_PT, label="answer"
    ),
    Mark(event=EventName.TRIP_LATCHED, marker="X", color=BLACK, size_pt=MARK_PT, label="trip"),
)
SHORTEST_MIN = 1.0  # a run of one sample still has an axis
NAME_LINES = 2  # of text, for the names of the phases and a gap
UNDER_NAMES = 0.91  # of the height of the axes
LETTER = 0.0105  # of the picture's width: a phase too short for its name goes without
ABOVE_PT = 9.0  # a question stands over the curve, so that a quick answer does not hide it

S_PER_MIN = 60.0
PERCENT = 100.0


def draw(run: Run, path: Path, *, fahrenheit: bool) -> Figure:
    """Draw `run` into `path`; what was drawn comes back.

    Raises:
        OSError: the file can't be written.
    """
    with paper(HEIGHT_IN) as figure:
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=HEIGHTS)
        phases = summarise(run).phases
        shown = in_fahrenheit if fahrenheit else _as_is
        _temperatures(upper, run, shown, unit="°F" if fahrenheit else "°C")
        _marks(upper, run, shown)
        _duty(lower, run)
        _phases(upper, lower, phases)
        _afterwards(upper, phases)
        # Outside, where no curve can run under it.
        figure.legend(loc="outside lower center", ncols=LEGEND_COLUMNS, frameon=False)
        figure.suptitle(f"{run.header.profile_title} (machine {run.header.machine_name})")
        save(figure, path)
    return figure


def _as_is(temperature_c: float) -> float:
    return temperature_c


def _minutes(times_s: Iterable[float]) -> list[float]:
    return [time_s / S_PER_MIN for time_s in times_s]


def _temperatures(axes: Axes, run: Run, shown: Callable[[float], float], *, unit: str) -> None:
    minutes = _minutes(sample.t_s for sample in run.samples)
    bath = [shown(sample.bath_c) for sample in run.samples]
    bowl = [shown(sample.bowl_c) for sample in run.samples]
    wanted = [
        math.nan if sample.mode in ENDED else shown(sample.bowl_setpoint_c)
        for sample in run.samples
    ]
    axes.plot(minutes, bath, color=BLUE, linewidth=1.2, label="bath")
    axes.plot(minutes, wanted, color=BLACK, linewidth=1.2, linestyle="--", label="bowl wanted")
    axes.plot(minutes, bowl, color=VERMILION, linewidth=2.0, label="bowl")
    axes.set_ylabel(f"temperature, {unit}")
    axes.set_xlim(minutes[0], max(minutes[-1], minutes[0] + SHORTEST_MIN))
    quiet_grid(axes)
    clear_strip(axes, NAME_LINES + len(trips_of(run)))


def _marks(axes: Axes, run: Run, shown: Callable[[float], float]) -> None:
    """Questions, answers and trips, on the bowl's curve."""
    above = offset_copy(axes.transData, fig=axes.get_figure(root=True), y=ABOVE_PT, units="points")
    curve = bowl_curve(run, shown)
    for mark in MARKS:
        lifted = above if mark.event is EventName.QUESTION_ASKED else None
        put_marks(axes, run, curve, mark, lifted)
    name_trips(axes, run, curve, color=BLACK, height=UNDER_NAMES)


def _duty(axes: Axes, run: Run) -> None:
    minutes = _minutes(sample.t_s for sample in run.samples)
    percent = [sample.duty * PERCENT for sample in run.samples]
    axes.fill_between(minutes, percent, step="post", color=VERMILION, alpha=0.6, linewidth=0.0)
    axes.set_ylim(0.0, PERCENT)
    axes.set_ylabel("heat, %")
    axes.set_xlabel("minutes")
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))


def _phases(upper: Axes, lower: Axes, phases: tuple[PhaseTime, ...]) -> None:
    left, right = upper.get_xlim()
    for index, phase in enumerate(phases):
        start, end = _minutes((phase.start_s, phase.start_s + phase.duration_s))
        for axes in (upper, lower):
            axes.axvspan(start, end, color=SHADES[index % len(SHADES)], linewidth=0.0, zorder=0)
        _name(upper, phase.name, start, end, right - left)


def _name(axes: Axes, name: str, start: float, end: float, whole: float) -> None:
    if end - start < LETTER * len(name) * whole:
        return
    axes.text(
        (start + end) / 2.0,
        0.985,
        name,
        transform=axes.get_xaxis_transform(),
        horizontalalignment="center",
        verticalalignment="top",
        fontweight="bold",
    )


def _afterwards(axes: Axes, phases: tuple[PhaseTime, ...]) -> None:
    """Name what was recorded after the run had ended: a bath that still warms up matters."""
    _, right = axes.get_xlim()
    if phases:
        end = (phases[-1].start_s + phases[-1].duration_s) / S_PER_MIN
        _name(axes, "ended", end, right, right)
