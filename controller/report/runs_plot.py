"""Drawing two runs with matplotlib, on one time axis.

Responsible for the picture; not for choosing the file or explaining errors (plot).
"""

from collections.abc import Callable
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from controller.core.scales import in_fahrenheit
from controller.core.state import EventName
from controller.journal.records import Run
from controller.report.compare_layout import BOTH
from controller.report.plot_look import BLUE, FONT_PT, QUIET, VERMILION, paper, quiet_grid, save
from controller.report.plot_marks import (
    Mark,
    bowl_curve,
    clear_strip,
    name_trips,
    put_marks,
    trips_of,
)
from controller.report.shapes import PhaseTime
from controller.report.summary import J_PER_KWH, summarise

# Own choices for a page about 900 pixels wide.
HEIGHT_IN = 6.6
HEIGHTS = (0.9, 4.0, 1.2)
COLORS = (BLUE, VERMILION)
BOWL_PT = (3.2, 1.6)  # of each run: where they are one, A shows on both sides of B
BATH_PT = 0.9
BAR_PT = 5.0
BATH_ALPHA = 0.55
MARK_PT = 8.0
BAR = 0.8
BAR_ALPHA = (0.18, 0.34)  # phases beside each other, told apart
LETTER = 0.0105  # of the picture's width: a phase too short for its name goes without
S_PER_MIN = 60.0
SHORTEST_MIN = 1.0
MARKS = ((EventName.QUESTION_ASKED, "v", "question"), (EventName.TRIP_LATCHED, "X", "trip"))


def draw_runs(before: Run, after: Run, path: Path, *, fahrenheit: bool = False) -> Figure:
    """Draw both runs into `path`; what was drawn comes back.

    Raises:
        OSError: the file can't be written.
    """
    runs = (before, after)
    shown = in_fahrenheit if fahrenheit else _as_is
    longest = max(run.samples[-1].t_s for run in runs) / S_PER_MIN
    with paper(HEIGHT_IN) as figure:
        top, middle, lower = figure.subplots(3, 1, sharex=True, height_ratios=HEIGHTS).tolist()
        top.set_xlim(0.0, max(longest, SHORTEST_MIN))
        for place, run in enumerate(runs):
            _phases(top, summarise(run).phases, place)
            _curves(middle, run, place, shown)
            heat = [sample.heat_j / J_PER_KWH for sample in run.samples]
            lower.plot(_minutes(run), heat, color=COLORS[place], linewidth=BOWL_PT[place])
        _trips(middle, runs, shown)
        _axes(top, middle, lower, unit="°F" if fahrenheit else "°C")
        names = [f"{name}: {_name(run)}" for name, run in zip(BOTH, runs, strict=True)]
        key = _key()
        figure.legend(handles=key, loc="outside lower center", ncols=len(key), frameon=False)
        figure.suptitle("\n".join(names), fontsize=FONT_PT, x=0.01, ha="left")
        save(figure, path)
    return figure


def _as_is(temperature_c: float) -> float:
    return temperature_c


def _name(run: Run) -> str:
    header = run.header
    return f"{header.profile_title} (machine {header.machine_name}), run {header.run_id}"


def _minutes(run: Run) -> list[float]:
    return [sample.t_s / S_PER_MIN for sample in run.samples]


def _phases(axes: Axes, phases: tuple[PhaseTime, ...], place: int) -> None:
    """A strip of a run's phases, named where there is room."""
    whole = axes.get_xlim()[1]
    for index, phase in enumerate(phases):
        start, length = phase.start_s / S_PER_MIN, phase.duration_s / S_PER_MIN
        alpha = BAR_ALPHA[index % len(BAR_ALPHA)]
        axes.barh(place, length, left=start, height=BAR, color=COLORS[place], alpha=alpha)
        if length >= LETTER * len(phase.name) * whole:
            axes.text(start + length / 2.0, place, phase.name, ha="center", va="center")


def _curves(axes: Axes, run: Run, place: int, shown: Callable[[float], float]) -> None:
    """Bowl and bath, and on the bowl's curve what was asked and what tripped."""
    minutes, color, name = _minutes(run), COLORS[place], BOTH[place]
    bath = [shown(sample.bath_c) for sample in run.samples]
    bowl = [shown(sample.bowl_c) for sample in run.samples]
    axes.plot(
        minutes, bath, color=color, linewidth=BATH_PT, alpha=BATH_ALPHA, label=f"{name}: bath"
    )
    axes.plot(minutes, bowl, color=color, linewidth=BOWL_PT[place], label=f"{name}: bowl")
    curve = bowl_curve(run, shown)
    for event, marker, word in MARKS:
        label = f"{name}: {word}"
        mark = Mark(event=event, marker=marker, color=color, size_pt=MARK_PT, label=label)
        put_marks(axes, run, curve, mark)


def _trips(axes: Axes, runs: tuple[Run, Run], shown: Callable[[float], float]) -> None:
    """The trips by name: those of A over all curves, those of B under them."""
    for run, below in zip(runs, (False, True), strict=True):
        clear_strip(axes, len(trips_of(run)), below=below)
    for run, below, color in zip(runs, (False, True), COLORS, strict=True):
        height = 0.01 if below else 0.99
        name_trips(axes, run, bowl_curve(run, shown), color=color, height=height, below=below)


def _key() -> list[Line2D]:
    """Runs by their colours, and what is what by its line, in the colour of neither."""
    return [
        *(
            Line2D([], [], color=color, linewidth=BAR_PT, label=name)
            for name, color in zip(BOTH, COLORS, strict=True)
        ),
        Line2D([], [], color=QUIET, linewidth=BOWL_PT[-1], label="bowl"),
        Line2D([], [], color=QUIET, linewidth=BATH_PT, label="bath"),
        *(
            Line2D([], [], color=QUIET, marker=marker, linestyle="none", label=word)
            for _, marker, word in MARKS
        ),
    ]


def _axes(top: Axes, middle: Axes, lower: Axes, *, unit: str) -> None:
    top.set_yticks(range(len(BOTH)), BOTH)
    top.invert_yaxis()
    top.tick_params(left=False, bottom=False)
    for side in ("left", "bottom"):
        top.spines[side].set_visible(False)
    middle.set_ylabel(f"temperature, {unit}")
    quiet_grid(middle)
    lower.set_ylabel("heat asked\nfor, kWh")
    lower.set_ylim(bottom=0.0)
    lower.set_xlabel("minutes")
    lower.xaxis.set_major_locator(MaxNLocator(integer=True))
    quiet_grid(lower)
