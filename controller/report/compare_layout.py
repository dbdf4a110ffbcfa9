"""Two things side by side as lines of text.

Responsible for columns and for what stands under "difference"; not for what is compared.
"""

import math
import textwrap
from collections.abc import Sequence

from controller.report.figures import NOTHING, SAME, difference_text, figure_text

Line = tuple[str, ...]  # the cells of a line, the first its label

GAP = "  "
BOTH = ("A", "B")
DIFFERS = "differs"
LONGEST = 44  # letters of a cell
ONLY = ("only in A", "only in B")


def columns_text(lines: Sequence[Line]) -> str:
    """The lines with their cells under each other, a newline at the end of each."""
    widths = [max(map(len, cells)) for cells in _columns(lines)]
    return "".join(
        GAP.join(f"{cell:<{width}}" for cell, width in zip(line, widths, strict=False)).rstrip()
        + "\n"
        for line in lines
    )


def figure_line(
    label: str, column: str, values: tuple[float | None, float | None], *, fahrenheit: bool
) -> Line:
    """A figure in both, and by how much it is more in B. The column's name ends in its unit."""
    before, after = (math.nan if value is None else value for value in values)
    return (
        label,
        figure_text(column, before, fahrenheit=fahrenheit),
        figure_text(column, after, fahrenheit=fahrenheit),
        change_text(column, before, after, fahrenheit=fahrenheit),
    )


def change_text(column: str, before: float, after: float, *, fahrenheit: bool = False) -> str:
    """How much more it is in B, or that only one of them has it."""
    known = math.isfinite(before), math.isfinite(after)
    if all(known):
        return difference_text(column, after - before, fahrenheit=fahrenheit)
    return ONLY[known.index(True)] if any(known) else NOTHING


def shortened(words: str) -> str:
    """Words that would push all else off the screen, cut off."""
    return textwrap.shorten(words, LONGEST, placeholder=" ...")


def word_line(label: str, words: tuple[str | None, str | None]) -> Line:
    """A word in both, and whether it is the same."""
    before, after = (NOTHING if word is None else word for word in words)
    return (label, shortened(before), shortened(after), word_change(before, after))


def word_change(before: str, after: str) -> str:
    """Whether both say the same, or only one says anything."""
    if before == after:
        return NOTHING if before == NOTHING else SAME
    return ONLY[before == NOTHING] if NOTHING in (before, after) else DIFFERS


def _columns(lines: Sequence[Line]) -> list[list[str]]:
    wide = max(map(len, lines))
    return [[line[index] for line in lines if index < len(line)] for index in range(wide)]
