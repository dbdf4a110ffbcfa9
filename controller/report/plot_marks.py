"""Marks on the curve of a run: what was asked, answered, and what tripped.

Responsible for marks and names that can be told apart; not for the curves under them.
"""

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.transforms import Transform

from controller.core.state import EventName
from controller.journal.records import Run
from controller.report.words import clock_text

S_PER_MIN = 60.0
APART = 0.35  # of the time axis: the names of trips nearer to each other would collide
LINE = 0.065  # of the height of the axes: a line of text
LEADER_PT = 0.8


@dataclass(frozen=True, slots=True)
class Curve:
    """Where a curve stands at any moment of a run, so that a mark has a place.

    Where the thermometer gave nothing, that is where it stood before: a trip for a lost
    thermometer is to be seen.
    """

    times_s: tuple[float, ...]
    heights: tuple[float, ...]

    def at(self, t_s: float) -> float:
        """The height at this run time."""
        return self.heights[max(0, bisect_right(self.times_s, t_s) - 1)]


def bowl_curve(run: Run, shown: Callable[[float], float]) -> Curve:
    """The bowl's curve, on the scale that `shown` makes; 0 °C where it was never known."""
    known = (s.bowl_c for s in run.samples if math.isfinite(s.bowl_c))
    last_c = next(known, 0.0)
    heights: list[float] = []
    for sample in run.samples:
        last_c = sample.bowl_c if math.isfinite(sample.bowl_c) else last_c
        heights.append(shown(last_c))
    return Curve(tuple(sample.t_s for sample in run.samples), tuple(heights))


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """How an event is marked."""

    event: EventName
    marker: str
    color: str
    size_pt: float
    label: str


def put_marks(
    axes: Axes, run: Run, curve: Curve, mark: Mark, transform: Transform | None = None
) -> None:
    """A mark for each of the run's events; no event, no line in the legend."""
    at_s = [note.t_s for note in run.events if note.name == mark.event]
    if not at_s:
        return
    axes.plot(
        [t_s / S_PER_MIN for t_s in at_s],
        [curve.at(t_s) for t_s in at_s],
        marker=mark.marker,
        color=mark.color,
        markeredgecolor="white",
        markersize=mark.size_pt,
        linestyle="none",
        label=mark.label,
        clip_on=False,
        zorder=3.0,
        transform=transform or axes.transData,
    )


def trips_of(run: Run) -> list[tuple[float, str]]:
    """When a trip was latched, and the words that name it: "1:02:35 relay stuck on"."""
    return [
        (note.t_s, f"{clock_text(note.t_s)} {str(note.facts.get('cause', '')).replace('-', ' ')}")
        for note in run.events
        if note.name == EventName.TRIP_LATCHED
    ]


def name_trips(
    axes: Axes, run: Run, curve: Curve, *, color: str, height: float, below: bool = False
) -> None:
    """The trips by name, in a clear strip of the picture, each with a line to its mark.

    Those too close to each other stand under one another. `height` is where the strip begins, as
    a share of the axes: its top, or its bottom if it is `below`. Make the strip with `clear_strip`.
    """
    left, right = axes.get_xlim()
    near_s = APART * (right - left) * S_PER_MIN
    groups: list[tuple[float, list[str]]] = []
    for at_s, words in trips_of(run):
        if groups and at_s - groups[-1][0] < near_s:
            groups[-1][1].append(words)
        else:
            groups.append((at_s, [words]))
    for at_s, lines in groups:
        is_early = at_s / S_PER_MIN < (left + right) / 2.0
        axes.annotate(
            "\n".join(lines),
            (at_s / S_PER_MIN, curve.at(at_s)),
            xytext=(at_s / S_PER_MIN, height),
            textcoords=("data", "axes fraction"),
            color=color,
            horizontalalignment="left" if is_early else "right",
            verticalalignment="bottom" if below else "top",
            arrowprops={
                "arrowstyle": "-",
                "color": color,
                "linewidth": LEADER_PT,
                "relpos": (0.0 if is_early else 1.0, 1.0 if below else 0.0),  # the nearest corner
            },
        )


def clear_strip(axes: Axes, lines: int, *, below: bool = False) -> None:
    """Make room for so many lines of text over the curves, or under them."""
    low, high = axes.get_ylim()
    room = LINE * lines * (high - low)
    axes.set_ylim(low - room if below else low, high if below else high + room)
