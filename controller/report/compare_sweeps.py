"""Two sweeps side by side, machine by machine.

Responsible for what is set against what; not for reading tables (table_file) or columns of text
(compare_layout).
"""

import math
from collections import Counter
from collections.abc import Iterator

from controller.report.compare_changes import changes
from controller.report.compare_layout import (
    BOTH,
    Line,
    columns_text,
    figure_line,
    shortened,
)
from controller.report.compare_match import Matched
from controller.report.figures import (
    PERCENTILES,
    difference_text,
    is_same,
    percentiles,
    ratio_text,
    title_of,
)
from controller.report.table import figure_columns, word_columns

# Own choices: as much as fits on a screen beside the rest.
MOST_MACHINES = 5
MOST_CHANGES = 3  # of one machine
MOST_WORDS = 8  # of one column
MOST_NAMES = 5


def compare_sweeps(found: Matched, *, fahrenheit: bool = False) -> str:
    """Both sweeps as lines of text: counts, percentiles, and the machines that changed most."""
    figures = figure_columns(*found.both)
    alike = [column for column in figures if _is_alike(found, column)]
    head = ("Figure", "at", *BOTH, "difference", "ratio", "per machine")
    lines = [
        line
        for column in figures
        if column not in alike
        for line in _figure_lines(found, column, fahrenheit=fahrenheit)
    ]
    parts = [
        _heading(found),
        columns_text([("How many", *BOTH, "difference"), *_count_lines(found)]),
        (columns_text([head, *lines]) if lines else "") + _alike_text(alike),
        _changes_text(found, fahrenheit=fahrenheit),
    ]
    return "\n".join(parts)


def _is_alike(found: Matched, column: str) -> bool:
    """Whether no machine has another value in B."""
    pairs = zip(*(table.figures(column) for table in found.both), strict=True)
    return all(is_same(before, after) for before, after in pairs)


def _alike_text(columns: list[str]) -> str:
    names = ", ".join(title_of(column) for column in columns)
    return f"The same in both on every machine: {names}.\n" if names else ""


def _heading(found: Matched) -> str:
    lines = [
        f"{side}  {name}, {_machines(size)}"
        for side, name, size in zip(BOTH, found.names, found.sizes, strict=True)
    ]
    lines.append(f"Compared by name: {_machines(len(found.before.rows))} in both.")
    lines += [
        f"Only in {side}, and left out: {_listed(names)}."
        for side, names in zip(BOTH, found.only, strict=True)
        if names
    ]
    return "\n".join(lines) + "\n"


def _machines(number: int) -> str:
    return "1 machine" if number == 1 else f"{number} machines"


def _listed(names: tuple[str, ...]) -> str:
    rest = len(names) - MOST_NAMES
    return ", ".join(names[:MOST_NAMES]) + (f" and {rest} more" if rest > 0 else "")


def _count_lines(found: Matched) -> Iterator[Line]:
    """For each column of words, how many machines it was true of."""
    for column in word_columns(*found.both):
        counts = [table.counts(column) for table in found.both]
        words = [word for word, _ in (counts[0] + counts[1]).most_common()]
        for word in words[:MOST_WORDS]:
            yield _count_line(f"{title_of(column)}: {shortened(word)}", counts, [word])
        rare = words[MOST_WORDS:]
        if rare:
            yield _count_line(f"{title_of(column)}: {len(rare)} others", counts, rare)


def _count_line(label: str, counts: list[Counter[str]], words: list[str]) -> Line:
    before, after = (float(sum(count[word] for word in words)) for count in counts)
    return figure_line(label, "machines", (before, after), fahrenheit=False)


def _figure_lines(found: Matched, column: str, *, fahrenheit: bool) -> Iterator[Line]:
    """A figure's percentiles, and those of each machine's own difference."""
    before, after = (table.figures(column) for table in found.both)
    own = percentiles(b - a for a, b in zip(before, after, strict=True))
    label = title_of(column)
    for name, a, b, each in zip(
        PERCENTILES, percentiles(before), percentiles(after), own, strict=True
    ):
        cells = figure_line(name, column, (a, b), fahrenheit=fahrenheit)
        each_text = difference_text(column, each, fahrenheit=fahrenheit)
        yield (label, *cells, ratio_text(column, a, b), each_text)
        label = ""
    known = [float(sum(map(math.isfinite, values))) for values in (before, after)]
    if min(known) < len(before):
        yield ("", *figure_line("known of", "machines", (known[0], known[1]), fahrenheit=False))


def _changes_text(found: Matched, *, fahrenheit: bool) -> str:
    """The machines to look at first, a line a change."""
    every = changes(found, fahrenheit=fahrenheit)
    if not every:
        return "Nothing changed on any machine.\n"
    lines: list[Line] = [("Changed most", "in", *BOTH, "difference")]
    for machine, all_of_one in list(every.items())[:MOST_MACHINES]:
        label = machine
        for change in all_of_one[:MOST_CHANGES]:
            lines.append((label, title_of(change.column), *change.line))
            label = ""
        rest = len(all_of_one) - MOST_CHANGES
        if rest > 0:
            lines.append(("", f"and {rest} more"))
    total, every_one = len(every), len(found.before.rows)
    return columns_text(lines) + f"In all, {total} of {_machines(every_one)} changed.\n"
