"""What came of a sweep: how the runs ended, how the figures spread, and which machines to look at.

Responsible for the text at the end; not for the table's file, nor for comparing two of them.
"""

import math
import shlex
from collections.abc import Sequence

from controller.errors import Exit
from controller.report.figures import PERCENTILES, figure_text, percentiles, title_of
from controller.report.table import OUTCOME, Row, Table, figure_columns, table_of
from controller.trials.sweep_work import FAILED, FAILURE, REFUSED, Work, give_up_text

# How far from well a run ended, worst first.
ENDS = (
    FAILED,
    Exit.TRIPPED.word,
    Exit.STOPPED.word,
    REFUSED,
    Exit.NOT_IN_TEMPER.word,
    Exit.DONE.word,
)
LISTED = 5  # own choice: more names than this nobody replays
LABEL, COLUMN = 24, 12
HEAD = (*PERCENTILES, "worst")
LOW_SIDE = ("hold_min_k", "form_v")  # of these the least is the worst; of all others the most
FAILURE_WIDTH = 160


def sweep_text(rows: Sequence[Row], work: Work, *, fahrenheit: bool) -> str:
    """The summary as lines of text, with a newline at the end."""
    table = table_of(rows)
    lines = [_heading(table, work)]
    columns = [column for column in figure_columns(table) if any(_known(table, column))]
    if columns:
        lines += ["", " " * LABEL + "".join(f"{head:>{COLUMN}}" for head in HEAD)]
    lines += [_figure_line(table, column, fahrenheit=fahrenheit) for column in columns]
    bad = worst(rows)
    if bad:
        lines += ["", "Worst:", *(f"  {_bad_line(row)}" for row in bad)]
    shown = bad[0] if bad else rows[-1]
    lines += ["", f"One alone: {replay_text(str(shown['machine']), work)}"]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def counts_text(ends: Sequence[str]) -> str:
    """How many runs ended how, the good ones first: "95 done, 4 not in temper, 1 tripped"."""
    known = [end for end in reversed(ENDS) if end in ends]
    others = sorted(set(ends) - set(ENDS))
    return ", ".join(f"{ends.count(end)} {end.replace('-', ' ')}" for end in (*known, *others))


def worst(rows: Sequence[Row]) -> list[Row]:
    """The few machines whose runs ended worst, of those that did not end well; worst first."""
    bad = [row for row in rows if row[OUTCOME] != Exit.DONE.word]
    return sorted(bad, key=_badness)[:LISTED]


def replay_text(machine: str, work: Work) -> str:
    """The command that runs one machine alone."""
    faults = [word for fault in work.faults for word in ("--fault", fault)]
    patience = ["--give-up-after", text] if (text := give_up_text(work)) else []
    return shlex.join(["bainward", "try", work.profile, "--machine", machine, *faults, *patience])


def _badness(row: Row) -> int:
    end = str(row[OUTCOME])
    return ENDS.index(end) if end in ENDS else 0


def _heading(table: Table, work: Work) -> str:
    faults = f", with {', '.join(work.faults)}" if work.faults else ""
    many = len(table.rows)
    machines = "1 machine" if many == 1 else f"{many} machines"
    return f"{work.profile} on {machines} of seed {work.seed}{faults}: " + counts_text(
        table.words(OUTCOME)
    )


def _known(table: Table, column: str) -> list[float]:
    return [value for value in table.figures(column) if math.isfinite(value)]


def _figure_line(table: Table, column: str, *, fahrenheit: bool) -> str:
    values = table.figures(column)
    known = [pair for pair in zip(values, table.machines, strict=True) if math.isfinite(pair[0])]
    pick = min if column in LOW_SIDE else max
    extreme, machine = pick(known, key=lambda pair: pair[0])
    cells = [*percentiles(values), extreme]
    texts = [figure_text(column, value, fahrenheit=fahrenheit) for value in cells]
    missing = len(values) - len(known)
    note = f"  ({missing} without)" if missing else ""
    return (
        f"{title_of(column):<{LABEL}}"
        + "".join(f"{text:>{COLUMN}}" for text in texts)
        + f"  {machine}{note}"
    )


def _bad_line(row: Row) -> str:
    why = str(row.get(FAILURE) or row.get("trip") or "")
    end = str(row[OUTCOME]).replace("-", " ")
    reason = f": {why[:FAILURE_WIDTH]}" if why else ""
    return f"{row['machine']}  {end}{reason}"
