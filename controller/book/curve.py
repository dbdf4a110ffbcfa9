"""The curve of a batch as inline SVG: temperatures, what was asked, heat, stirrer, temper.

Responsible for the drawing, in colours that the page names; not for the words around it (page).
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from html import escape

from controller.book.asked import Asked
from controller.core.scales import in_fahrenheit
from controller.core.state import ENDED
from controller.journal.records import TEMPER_JUDGED, Note, Run, Sample
from controller.report.shapes import PhaseTime

RECKONED = "Temper, as the machine reckoned"
S_PER_MIN = 60.0
STEPS_MIN = (5, 10, 15, 20, 30, 60, 120, 240)
LETTER = 0.56  # of the type's height: how wide a letter is, on average
MOST_POINTS = 420  # of a line: more than the paper can show
STRIP_GAP = 1.9  # above a strip, of the type's height: its name stands there
BAR = 1.7  # of a bar with a word in it, of the type's height
RINGS = 3  # rows of numbered marks


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A size to draw for, in px of the drawing."""

    name: str
    width: float
    curves: float  # height of the temperatures
    strip: float  # and of each strip below
    type_px: float
    ticks: int  # at most, along the time
    left: float  # for the numbers beside

    @property
    def plot(self) -> float:
        """Width of the plot itself."""
        return self.width - self.left - 8.0


Drawn = Callable[["Scene", Paper, float], str]
WIDE = Paper(name="wide", width=920.0, curves=330.0, strip=64.0, type_px=14.0, ticks=9, left=52.0)
NARROW = Paper(
    name="narrow", width=360.0, curves=260.0, strip=48.0, type_px=12.5, ticks=4, left=46.0
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is drawn."""

    run: Run
    phases: tuple[PhaseTime, ...]
    asked: tuple[Asked, ...]
    fahrenheit: bool
    summary: str  # the same in words, for who can't see it

    @property
    def end_s(self) -> float:
        """Right end of the time."""
        return max(S_PER_MIN, self.run.samples[-1].t_s)


def curve(scene: Scene, paper: Paper) -> str:
    """The whole drawing as an `svg` element; empty for a run without samples."""
    if not scene.run.samples:
        return ""
    top = paper.type_px * 1.7 + RINGS * paper.type_px * 1.45
    strips = _strips(scene, paper)
    bottom = top + paper.curves
    gap = paper.type_px * STRIP_GAP
    foot = bottom + sum(gap + height for _, height in strips)
    parts = [
        _phases(scene, paper, bottom),
        _time(scene, paper, top, foot),
        _temperatures(scene, paper, top),
        _marks(scene, paper, top),
    ]
    y = bottom
    for drawn, strip in strips:
        parts.append(drawn(scene, paper, y + gap))
        y += gap + strip
    height = foot + paper.type_px * 1.8
    title, desc = f"curve-{paper.name}-title", f"curve-{paper.name}-desc"
    return (
        f'<svg class="curve {paper.name}" viewBox="0 0 {paper.width:g} {height:.0f}" role="img"'
        f' aria-labelledby="{title} {desc}" font-size="{paper.type_px:g}">'
        f'<title id="{title}">Temperatures of bath and bowl over time</title>'
        f'<desc id="{desc}">{escape(scene.summary)}</desc>{"".join(parts)}</svg>'
    )


def _strips(scene: Scene, paper: Paper) -> list[tuple[Drawn, float]]:
    """What is drawn below the temperatures, each with its height."""
    found: list[tuple[Drawn, float]] = [(_heat, paper.strip)]
    if _has_load(scene):
        found.append((_load, paper.strip))
    if _judged(scene):
        found.append((_temper, BAR * paper.type_px))
    return found


def _x(scene: Scene, paper: Paper, t_s: float) -> float:
    return paper.left + paper.plot * min(1.0, t_s / scene.end_s)


def _phases(scene: Scene, paper: Paper, bottom: float) -> str:
    """A shade for every second phase, and each one's name where it has room."""
    out = []
    for index, phase in enumerate(scene.phases):
        left = _x(scene, paper, phase.start_s)
        right = _x(scene, paper, phase.start_s + phase.duration_s)
        if index % 2 == 0:
            out.append(
                f'<rect class="shade" x="{left:.1f}" y="0" width="{right - left:.1f}"'
                f' height="{bottom:.1f}"/>'
            )
        if right - left > LETTER * paper.type_px * len(phase.name) + 4.0:
            middle, y = (left + right) / 2.0, paper.type_px * 1.15
            out.append(
                f'<text class="name" x="{middle:.1f}" y="{y:.1f}" text-anchor="middle">'
                f"{escape(phase.name)}</text>"
            )
    return "".join(out)


def _temperatures(scene: Scene, paper: Paper, top: float) -> str:
    shown: Callable[[float], float] = in_fahrenheit if scene.fahrenheit else _as_is
    lines = {
        "bath": [(s.t_s, shown(s.bath_c)) for s in scene.run.samples],
        "wanted": [
            (s.t_s, math.nan if s.mode in ENDED else shown(s.bowl_setpoint_c))
            for s in scene.run.samples
        ],
        "bowl": [(s.t_s, shown(s.bowl_c)) for s in scene.run.samples],
    }
    known = [value for line in lines.values() for _, value in line if math.isfinite(value)]
    if not known:
        return ""
    step = 10.0 if scene.fahrenheit else 5.0
    low = step * math.floor((min(known) - 0.5) / step)
    high = step * math.ceil((max(known) + 0.5) / step)

    def y(value: float) -> float:
        return top + paper.curves * (high - value) / (high - low)

    unit = "°F" if scene.fahrenheit else "°C"
    out = []
    for index in range(round((high - low) / step) + 1):
        value = low + index * step
        out.append(_level(paper, y(value), f"{value:g}"))
    out.append(f'<text x="2" y="{top - 4.0:.1f}">{unit}</text>')
    out += [_line(scene, paper, points, y, name) for name, points in lines.items()]
    return "".join(out)


def _as_is(value: float) -> float:
    return value


def _level(paper: Paper, y: float, words: str) -> str:
    right = paper.left + paper.plot
    return (
        f'<line class="grid" x1="{paper.left:g}" x2="{right:g}" y1="{y:.1f}" y2="{y:.1f}"/>'
        f'<text x="{paper.left - 6:g}" y="{y + paper.type_px * 0.35:.1f}" text-anchor="end">'
        f"{words}</text>"
    )


def _line(
    scene: Scene,
    paper: Paper,
    points: Sequence[tuple[float, float]],
    y: Callable[[float], float],
    name: str,
) -> str:
    """A line, broken where nothing is known."""
    stride = max(1, len(points) // MOST_POINTS)
    path, is_down = [], False
    for t_s, value in (*points[::stride], points[-1]):
        if not math.isfinite(value):
            is_down = False
            continue
        path.append(f"{'L' if is_down else 'M'}{_x(scene, paper, t_s):.1f} {y(value):.1f}")
        is_down = True
    return f'<path class="{name}" d="{"".join(path)}"/>' if path else ""


def _marks(scene: Scene, paper: Paper, top: float) -> str:
    """A numbered ring for each question, with a thread down to where it was asked."""
    radius, row_h = paper.type_px * 0.66, paper.type_px * 1.45
    free = [-math.inf] * RINGS
    out = []
    for number, asked in enumerate(scene.asked, start=1):
        x = min(_x(scene, paper, asked.at_s), paper.left + paper.plot - radius)
        row = next((i for i in range(RINGS) if x - free[i] > 2.0 * radius + 1.0), number % RINGS)
        free[row] = x
        y = paper.type_px * 1.7 + row_h * row + radius
        out.append(
            f'<line class="thread" x1="{x:.1f}" x2="{x:.1f}" y1="{y:.1f}"'
            f' y2="{top + paper.curves:.1f}"/>'
            f'<circle class="ring" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'
            f'<text class="number" x="{x:.1f}" y="{y + paper.type_px * 0.3:.1f}"'
            f' text-anchor="middle" font-size="{paper.type_px * 0.85:.1f}">{number}</text>'
        )
    return "".join(out)


def _heat(scene: Scene, paper: Paper, top: float) -> str:
    values = [(s.t_s, s.duty) for s in scene.run.samples]
    return _strip(scene, paper, top, ("Heat, share of full power", "100 %", 1.0), values)


def _has_load(scene: Scene) -> bool:
    return any(s.load_w is not None for s in scene.run.samples)


def _load(scene: Scene, paper: Paper, top: float) -> str:
    values = [(s.t_s, _load_w(s)) for s in scene.run.samples]
    # Lumps of the first melt load it most, and would hide how it thickens later.
    later_s = scene.phases[1].start_s if len(scene.phases) > 1 else 0.0
    later = [value for t_s, value in values if t_s >= later_s and math.isfinite(value)]
    most = 1.2 * max(later, default=0.0) or 1.0
    return _strip(
        scene, paper, top, ("Stirrer load: thicker is more", f"{most:.2g} W", most), values
    )


def _load_w(sample: Sample) -> float:
    return math.nan if sample.load_w is None else sample.load_w


def _strip(
    scene: Scene,
    paper: Paper,
    top: float,
    words: tuple[str, str, float],
    values: Sequence[tuple[float, float]],
) -> str:
    """A filled strip of what is 0 or more, averaged where a line could not show it all."""
    name, most_text, most = words
    floor = top + paper.strip
    columns = min(MOST_POINTS // 2, len(values))
    out = [
        f'<text class="name" x="{paper.left:g}" y="{top - paper.type_px * 0.45:.1f}">{name}</text>',
        _level(paper, floor, "0"),
        _level(paper, top + paper.type_px * 0.3, most_text)
        if paper is WIDE
        else _level(paper, top + paper.type_px * 0.3, most_text.replace(" ", "")),
    ]
    path = [f"M{paper.left:g} {floor:.1f}"]
    for first, last, mean in _means(values, columns):
        y = floor - (paper.strip - paper.type_px * 0.3) * min(1.0, mean / most)
        left, right = _x(scene, paper, first), _x(scene, paper, last)
        path.append(f"L{left:.1f} {y:.1f}L{right:.1f} {y:.1f}")
    path.append(f"L{_x(scene, paper, scene.end_s):.1f} {floor:.1f}Z")
    out.append(f'<path class="fill" d="{"".join(path)}"/>')
    return "".join(out)


def _means(
    values: Sequence[tuple[float, float]], columns: int
) -> Iterator[tuple[float, float, float]]:
    for column in range(columns):
        first, last = len(values) * column // columns, len(values) * (column + 1) // columns
        known = [value for _, value in values[first:last] if math.isfinite(value)]
        mean = math.fsum(known) / len(known) if known else 0.0
        yield values[first][0], values[min(last, len(values) - 1)][0], mean


def _judged(scene: Scene) -> list[Note]:
    return [note for note in scene.run.events if note.name == TEMPER_JUDGED]


def _temper(scene: Scene, paper: Paper, top: float) -> str:
    """Bars of what the estimate said, one for as long as it said the same."""
    notes = _judged(scene)
    y = top - paper.type_px * 0.45
    out = [f'<text class="name" x="{paper.left:g}" y="{y:.1f}">{RECKONED}</text>']
    begun = [
        note
        for before, note in zip([None, *notes], notes, strict=False)
        if before is None or before.facts.get("verdict") != note.facts.get("verdict")
    ]
    height = paper.type_px * BAR
    for note, after in zip(begun, [*begun[1:], None], strict=True):
        word = str(note.facts.get("verdict", "")).replace("-", " ")
        left = _x(scene, paper, note.t_s)
        right = _x(scene, paper, after.t_s if after else scene.end_s)
        is_good = word == "in temper"
        out.append(
            f'<rect class="{"good" if is_good else "plain"}" x="{left:.1f}" y="{top:.1f}"'
            f' width="{max(1.0, right - left):.1f}" height="{height:.1f}"/>'
        )
        if right - left > LETTER * paper.type_px * len(word) + 6.0:
            out.append(
                f'<text class="said" x="{(left + right) / 2:.1f}" y="{top + height * 0.68:.1f}"'
                f' text-anchor="middle">{escape(word)}</text>'
            )
    return "".join(out)


def _time(scene: Scene, paper: Paper, top: float, bottom: float) -> str:
    whole_min = scene.end_s / S_PER_MIN
    step = next((one for one in STEPS_MIN if whole_min / one <= paper.ticks), STEPS_MIN[-1])
    out = []
    for minutes in range(0, int(whole_min) + 1, step):
        x = _x(scene, paper, minutes * S_PER_MIN)
        hours, rest = divmod(minutes, 60)
        anchor = "start" if minutes == 0 else "middle"
        if x > paper.left + paper.plot - paper.type_px:
            anchor = "end"
        out.append(
            f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{top:.1f}" y2="{bottom:.1f}"/>'
            f'<text x="{x:.1f}" y="{bottom + paper.type_px * 1.25:.1f}" text-anchor="{anchor}">'
            f"{hours}:{rest:02}</text>"
        )
    return "".join(out)
