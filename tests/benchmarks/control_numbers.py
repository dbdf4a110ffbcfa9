"""Numbers out of the rows of all machines, for the tables of the control benchmark.

Responsible for columns, shares, percentiles and how they are written; not for goals (table). A
number that is missing counts as infinitely bad.
"""

import math
from collections.abc import Callable, Sequence

from controller.report.table import MACHINE, Row
from tests.benchmarks.control_measures import ASKED

WORST_SHOWN = 3


def asked(rows: Sequence[Row], *runs: str) -> list[Row]:
    """The machines that these runs were asked of; one that failed was asked for all."""
    return [row for row in rows if set(runs) <= set(str(row.get(ASKED, " ".join(runs))).split())]


def counted(some: Sequence[Row], rows: Sequence[Row]) -> str:
    """How many machines that is."""
    return f"{len(some)} of {len(rows)} machines"


def value(row: Row, column: str) -> float:
    """A number of a row; infinite where there is none."""
    cell = row.get(column, math.nan)
    number = math.nan if isinstance(cell, str) else float(cell)
    return math.inf if math.isnan(number) else number


def values(rows: Sequence[Row], column: str) -> list[float]:
    """A column."""
    return [value(row, column) for row in rows]


def percentile(numbers: Sequence[float], share: float) -> float:
    """The least number that is not exceeded by `share` of them; NaN of none."""
    if not numbers:
        return math.nan
    return sorted(numbers)[max(0, math.ceil(share * len(numbers)) - 1)]


def share_within(numbers: Sequence[float], limit: float) -> float:
    """How many of them are at most `limit`; NaN of none."""
    if not numbers:
        return math.nan
    return sum(number <= limit for number in numbers) / len(numbers)


def worst_of(rows: Sequence[Row], bad: Callable[[Row], float], digits: int = 3) -> str:
    """The worst machines by name, each with its number."""
    worst = sorted(rows, key=bad, reverse=True)[:WORST_SHOWN]
    return ", ".join(f"{row[MACHINE]} {shown(bad(row), digits)}" for row in worst)


def shown(number: float, digits: int = 2) -> str:
    """A number for a person; "never" for one that did not come about."""
    if math.isinf(number):
        return "never" if number > 0.0 else "none"
    return f"{number:.{digits}f}"


def ratio(row: Row, leg: str) -> float:
    """Time into the band for good over the bound."""
    return value(row, f"{leg}_time_s") / value(row, f"{leg}_bound_s")
