"""Two runs side by side, from their records alone.

Responsible for what is set against what; not for the numbers of one run (summary).
"""

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from controller.core.profile import Kind
from controller.core.state import EventName
from controller.journal.records import Run
from controller.report.compare_layout import BOTH, Line, columns_text, figure_line, word_line
from controller.report.figures import NOTHING
from controller.report.shapes import Summary
from controller.report.summary import summarise
from controller.report.words import verdict_text, wall_text

LABEL = 5
INDENT = "  "
Pair = tuple[Summary, Summary]
Values = tuple[float | None, float | None]


def compare_runs(before: Run, after: Run, *, fahrenheit: bool = False) -> str:
    """Both runs as lines of text: what they were, then each figure with its difference."""
    pair = (summarise(before), summarise(after))
    lines = (
        ("", *BOTH, "difference"),
        word_line("Outcome", (_outcome(pair[0]), _outcome(pair[1]))),
        *_figures(pair, (("Lasted", "lasted_s"),), fahrenheit=fahrenheit),
        *_phase_lines(pair, fahrenheit=fahrenheit),
        *_figures(pair, PACE, fahrenheit=fahrenheit),
        *_hold_lines(pair, fahrenheit=fahrenheit),
        *_question_lines(before, after, fahrenheit=fahrenheit),
        *_chocolate_lines(pair, fahrenheit=fahrenheit),
        *_figures(pair, HEAT, fahrenheit=fahrenheit),
        *_trip_lines(pair, fahrenheit=fahrenheit),
    )
    headings = "".join(_heading(name, one) for name, one in zip(BOTH, pair, strict=True))
    return f"{headings}\n{columns_text(lines)}"


# Labels, and the fields of a summary that they stand before.
PACE = (
    ("Ready after", "ready_s"),
    ("Melt overshoot", "melt_overshoot_k"),
    ("Working overshoot", "working_overshoot_k"),
)
HEAT = (
    ("Heat asked for", "heat_asked_kwh"),
    ("Heat used", "energy_kwh"),
    ("Relay switches", "switches"),
)


def _heading(name: str, summary: Summary) -> str:
    machine = f"machine {summary.machine_name}, {summary.batch_kg:.2f} kg in the bowl"
    rows = [
        f"run {summary.run_id}, begun {wall_text(summary.began_utc)}",
        f"{summary.profile_title}, {machine}",
    ]
    if summary.torn:
        rows.append("its record is cut at a damaged line; what follows it is lost")
    labels = (name, *("" for _ in rows[1:]))
    return "".join(f"{label:<{LABEL}}{row}\n" for label, row in zip(labels, rows, strict=True))


def _outcome(summary: Summary) -> str:
    return (summary.outcome or "broke off").replace("-", " ")


def _figures(
    pair: Pair, fields: tuple[tuple[str, str], ...], *, fahrenheit: bool
) -> Iterator[Line]:
    for label, field in fields:
        yield figure_line(label, field, _both(pair, field), fahrenheit=fahrenheit)


def _names(*sides: Mapping[str, object]) -> list[str]:
    """The names of A in their order, then what B alone has."""
    return list(dict.fromkeys(name for side in sides for name in side))


def _phase_lines(pair: Pair, *, fahrenheit: bool) -> Iterator[Line]:
    """How long each phase lasted, and where to: a line the more where the targets differ."""
    sides = [{phase.name: phase for phase in summary.phases} for summary in pair]
    yield ("Phases",)
    for name in _names(*sides):
        found = (sides[0].get(name), sides[1].get(name))
        lasted = _both(found, "duration_s")
        yield figure_line(f"{INDENT}{name}", "duration_s", lasted, fahrenheit=fahrenheit)
        target = _both(found, "target_c")
        if all(found) and target[0] != target[1]:
            yield figure_line(f"{INDENT * 2}bowl to", "target_c", target, fahrenheit=fahrenheit)


def _hold_lines(pair: Pair, *, fahrenheit: bool) -> Iterator[Line]:
    bands = (pair[0].hold_band, pair[1].hold_band)
    for label, field in (
        ("Hold, lowest", "min_k"),
        ("Hold, highest", "max_k"),
        ("Hold, root mean square", "rms_k"),
    ):
        yield figure_line(label, field, _both(bands, field), fahrenheit=fahrenheit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question as it came, and what became of it; NaN and "-" where nothing did."""

    at_s: float
    took_s: float
    choice: str


def questions_of(run: Run) -> dict[str, Asked]:
    """The run's questions by their ids; one that was asked again is told apart by a number."""
    found: dict[str, Asked] = {}
    times: Counter[str] = Counter()
    for note in run.events:
        ask_id = str(note.facts.get("id", ""))
        if note.name == EventName.QUESTION_ASKED:
            times[ask_id] += 1
            found[_again(ask_id, times[ask_id])] = Asked(
                at_s=note.t_s, took_s=math.nan, choice=NOTHING
            )
        elif note.name == EventName.QUESTION_ANSWERED and times[ask_id]:
            name = _again(ask_id, times[ask_id])
            found[name] = Asked(
                at_s=found[name].at_s,
                took_s=note.t_s - found[name].at_s,
                choice=str(note.facts.get("choice", NOTHING)),
            )
    return found


def _again(name: str, time: int) -> str:
    return name if time == 1 else f"{name} ({time})"


def _question_lines(before: Run, after: Run, *, fahrenheit: bool) -> Iterator[Line]:
    sides = (questions_of(before), questions_of(after))
    yield ("Questions",) if any(sides) else word_line("Questions", ("none", "none"))
    for name in _names(*sides):
        found = (sides[0].get(name), sides[1].get(name))
        asked = _both(found, "at_s")
        yield figure_line(f"{INDENT}{name}, asked at", "at_s", asked, fahrenheit=fahrenheit)
        took = _both(found, "took_s")
        yield figure_line(f"{INDENT * 2}answered after", "took_s", took, fahrenheit=fahrenheit)
        words = (found[0].choice if found[0] else None, found[1].choice if found[1] else None)
        yield word_line(f"{INDENT * 2}answer", words)


def _both(sides: tuple[object | None, object | None], field: str) -> Values:
    """A number that both have, or None where one is not there."""
    before, after = (None if side is None else getattr(side, field) for side in sides)
    return (before, after)


def _chocolate_lines(pair: Pair, *, fahrenheit: bool) -> Iterator[Line]:
    """What the set test said, and what only a bench can know: no line where neither run knows."""
    if all(summary.profile_kind in {Kind.COMPOUND, Kind.WATER} for summary in pair):
        return
    yield word_line("Set test", (verdict_text(pair[0].verdict), verdict_text(pair[1].verdict)))
    found = (pair[0].crystals, pair[1].crystals)
    if not any(found):
        return
    verdicts = [None if one is None else verdict_text(one.verdict) for one in found]
    yield word_line("Crystals", (verdicts[0], verdicts[1]))
    for label, field in (("fat in form V", "form_v_percent"), ("fat unstable", "unstable_percent")):
        yield figure_line(f"{INDENT}{label}", field, _both(found, field), fahrenheit=fahrenheit)


def _trip_lines(pair: Pair, *, fahrenheit: bool) -> Iterator[Line]:
    sides = [_trips(summary) for summary in pair]
    yield ("Trips",) if any(sides) else word_line("Trips", ("none", "none"))
    for name in _names(*sides):
        values = (sides[0].get(name), sides[1].get(name))
        yield figure_line(f"{INDENT}{name} at", "at_s", values, fahrenheit=fahrenheit)


def _trips(summary: Summary) -> dict[str, float]:
    """When each cause was first latched."""
    found: dict[str, float] = {}
    for trip in summary.trips:
        found.setdefault(trip.cause.replace("-", " "), trip.at_s)
    return found
