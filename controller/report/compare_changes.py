"""Which machines changed most from one sweep to another, and in what.

Responsible for the order; not for pairing machines (compare_match) or for the page around it.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from controller.report.compare_layout import Line, figure_line, word_line
from controller.report.compare_match import Matched
from controller.report.figures import is_same, percentiles
from controller.report.table import figure_columns, word_columns


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One cell that is another in B. `size`: how large against the spread over all machines."""

    column: str
    size: float  # infinite for a word, and for what happened in one of the two only
    line: Line  # A, B, difference


def changes(found: Matched, *, fahrenheit: bool = False) -> dict[str, list[Change]]:
    """What changed on each machine, the largest first; machines in the order of how much.

    A machine on which more words changed, or more happened in one sweep only, comes first; among
    equals the one with the largest change of a figure, against the width from p5 to p95 of that
    figure in both sweeps.
    """
    each: dict[str, list[Change]] = {machine: [] for machine in found.before.machines}
    for column in word_columns(*found.both):
        for machine, a, b in zip(each, *(t.words(column) for t in found.both), strict=True):
            if a != b:
                line = word_line("", (a, b))[1:]
                each[machine].append(Change(column=column, size=math.inf, line=line))
    for column in figure_columns(*found.both):
        before, after = (table.figures(column) for table in found.both)
        width = _width((*before, *after))
        for machine, a, b in zip(each, before, after, strict=True):
            size = _size(a, b, width)
            if size > 0:
                line = figure_line("", column, (a, b), fahrenheit=fahrenheit)[1:]
                each[machine].append(Change(column=column, size=size, line=line))
    for all_of_one in each.values():
        all_of_one.sort(key=lambda change: -change.size)
    order = sorted(each, key=lambda machine: _weight(each[machine]), reverse=True)
    return {machine: each[machine] for machine in order if each[machine]}


def _width(values: Iterable[float]) -> float:
    """From p5 to p95; where those are one, from the least to the most."""
    known = [value for value in values if math.isfinite(value)]
    low, _, high = percentiles(known)
    return max(known) - min(known) if is_same(low, high) else high - low


def _size(before: float, after: float, width: float) -> float:
    """How large a change is: 0 for none, infinite if it happened in one of the two only."""
    known = math.isfinite(before), math.isfinite(after)
    if is_same(before, after):
        return 0.0
    return abs(after - before) / width if all(known) else math.inf


def _weight(changes_of_one: list[Change]) -> tuple[int, float]:
    """What orders the machines: how much is wholly other, then the largest figure."""
    sizes = [change.size for change in changes_of_one]
    finite = [size for size in sizes if math.isfinite(size)]
    return (len(sizes) - len(finite), max(finite, default=0.0))
