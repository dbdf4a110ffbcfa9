"""A sweep's table in memory: one row a machine, figures and words told apart by what they hold.

Responsible for what a column is; not for files (table_file) or for comparing.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

Cell = str | float | int
Row = Mapping[str, Cell]

MACHINE = "machine"  # the column that names a row
OUTCOME = "exit"  # a code, and so a word even where it is written as a number
NO_WORD = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows with the same columns, each naming another machine."""

    columns: tuple[str, ...]  # without the one that names the machine
    machines: tuple[str, ...]
    rows: tuple[Row, ...]

    def cells(self, column: str) -> tuple[Cell, ...]:
        """A column as it was written."""
        return tuple(row[column] for row in self.rows)

    def figures(self, column: str) -> tuple[float, ...]:
        """A column of numbers; NaN where it did not happen."""
        return tuple(_number(cell) for cell in self.cells(column))

    def words(self, column: str) -> tuple[str, ...]:
        """A column of words; "none" for an empty one."""
        return tuple(str(cell) or NO_WORD for cell in self.cells(column))

    def counts(self, column: str) -> Counter[str]:
        """How often each word stands in a column."""
        return Counter(self.words(column))


def table_of(rows: Sequence[Row]) -> Table:
    """The table of rows that all have the columns of the first."""
    columns = tuple(column for column in (rows[0] if rows else ()) if column != MACHINE)
    return Table(
        columns=columns, machines=tuple(str(row[MACHINE]) for row in rows), rows=tuple(rows)
    )


def figure_columns(*tables: Table) -> tuple[str, ...]:
    """The columns that hold numbers in every table, and a number in at least one."""
    return tuple(
        column
        for column in tables[0].columns
        if column != OUTCOME
        and all(_is_number(cell) for table in tables for cell in table.cells(column))
        and any(math.isfinite(value) for table in tables for value in table.figures(column))
    )


def word_columns(*tables: Table) -> tuple[str, ...]:
    """The other columns, but for those that hold nothing anywhere."""
    figures = figure_columns(*tables)
    return tuple(
        column
        for column in tables[0].columns
        if column not in figures
        and (column == OUTCOME or not all(_is_number(c) for t in tables for c in t.cells(column)))
    )


def _is_number(cell: Cell) -> bool:
    """Whether it is a number, or an empty cell where there could have been one."""
    if isinstance(cell, str) and cell:
        try:
            float(cell)
        except ValueError:
            return False
    return True


def _number(cell: Cell) -> float:
    return float(cell) if cell != "" else math.nan
