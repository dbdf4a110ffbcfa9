"""The pass or fail sheet of a water trial, from the record of its run.

Responsible for what must be true of it; not for running it, nor for the record.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from controller.errors import Exit
from controller.journal.records import PhasePlan, Run, Sample

NAME = "water-trial"
# Own engineering values, not published.
MOST_OVERSHOOT_K = 0.5
TURNS_RPM = 5.0  # slower is standing, for a shaft that should do 30
_REACHED, _ENDED, _ANSWERED = "target_reached", "dwell_ended", "question_answered"


class Row(NamedTuple):
    """One thing that must be true."""

    what: str
    found: str
    wanted: str
    passes: bool


def sheet_of(run: Run) -> tuple[Row, ...]:
    """Every row; a run that broke off has the rows that it came to, and fails."""
    outcome = "broke off" if run.closing is None else run.closing.outcome
    rows = [Row("the run ended by itself", outcome, Exit.DONE.word, outcome == Exit.DONE.word)]
    rows += [_answer(note.facts) for note in run.events if note.name == _ANSWERED]
    for plan in run.header.phases:
        rows += _phase(run, plan)
    rows.append(_stirrer(run.samples))
    return tuple(rows)


def _answer(facts: dict[str, str | float | bool]) -> Row:
    said = str(facts.get("choice", ""))
    return Row(f"a person was asked: {facts.get('id', '')}", said, "yes", said == "yes")


def _phase(run: Run, plan: PhasePlan) -> list[Row]:
    """That it got there, held, overshot little, and kept the bath under its limit."""
    mine = [one for one in run.samples if one.phase == plan.name]
    reached_s = _first_s(run, _REACHED, plan)
    bath_c = max((one.bath_c for one in mine if math.isfinite(one.bath_c)), default=math.nan)
    over_k = max(
        (one.bowl_c - plan.target_c for one in mine if math.isfinite(one.bowl_c)), default=math.nan
    )
    reached = f"after {reached_s / 60.0:.0f} min" if math.isfinite(reached_s) else "never"
    return [
        Row(f"{plan.name}: {plan.target_c:g} °C reached", reached, "", math.isfinite(reached_s)),
        _held(run, plan, mine),
        _most(f"{plan.name}: bowl over its target", over_k, MOST_OVERSHOOT_K, "K"),
        _most(f"{plan.name}: hottest bath", bath_c, plan.bath_cut_c, "°C"),
    ]


def _held(run: Run, plan: PhasePlan, mine: Sequence[Sample]) -> Row:
    """How far the bowl was off while it was to be held: from half the dwell on, once settled."""
    reached_s, ended_s = _first_s(run, _REACHED, plan), _first_s(run, _ENDED, plan)
    from_s = 0.5 * (reached_s + ended_s)
    held = [abs(one.bowl_c - plan.target_c) for one in mine if from_s <= one.t_s <= ended_s + 1e-6]
    off_k = max(held, default=math.nan)
    return _most(f"{plan.name}: held within", off_k, plan.tolerance_k, "K")


def _most(what: str, found: float, most: float, unit: str) -> Row:
    """Unsafe unless shown safe: NaN fails."""
    shown = f"{found:.2f} {unit}" if math.isfinite(found) else "not seen"
    return Row(what, shown, f"at most {most:g} {unit}", found <= most)


def _first_s(run: Run, name: str, plan: PhasePlan) -> float:
    found = (note.t_s for note in run.events if note.name == name and note.phase == plan.name)
    return next(found, math.nan)


def _stirrer(samples: Sequence[Sample]) -> Row:
    """That the shaft turned whenever it was told to, where somebody counts its turns."""
    told = [one for one in samples if one.stirrer_rpm > 0.0 and one.shaft_rpm is not None]
    if not told:
        return Row("the stirrer turned", "not counted: a person looked", "", passes=True)
    slow = sum(one.shaft_rpm is not None and one.shaft_rpm < TURNS_RPM for one in told)
    # The first reading after a start is of before it.
    return Row("the stirrer turned", f"{len(told) - slow} of {len(told)} looks", "", slow <= 1)


def passes(rows: Sequence[Row]) -> bool:
    """Whether all of it is true."""
    return all(row.passes for row in rows)


def sheet_text(rows: Sequence[Row]) -> str:
    """The sheet, to be read and kept."""
    lines = ["Water trial:"]
    for row in rows:
        mark = "pass" if row.passes else "FAIL"
        lines.append(f"  {mark}  {row.what:34} {row.found:>18}  {row.wanted}".rstrip())
    failed = sum(not row.passes for row in rows)
    lines.append(
        "All of it passes: the machine may heat chocolate."
        if not failed
        else f"{failed} failed: see to what they say, and run the water trial again."
    )
    return "\n".join(lines) + "\n"
