"""A sweep: one profile on many drawn machines, into one table.

Responsible for what is still to be run, for keeping rows as they come, and for the table at the
end; not for where machines run (sweep_workers), how (sweep_work), nor for what is printed.
"""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from controller.report.table import Row
from controller.trials.sweep_rows import kept_rows
from controller.trials.sweep_table import check_table, filled, write_table
from controller.trials.sweep_work import Work, give_up_text
from controller.trials.sweep_workers import Workers

HASH_DIGITS = 12

# Told of the rows that have just come, after they are safe; first of those kept from before.
Tell = Callable[[Mapping[int, Row]], object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """What is swept, over which machines, and where the table goes."""

    work: Work
    numbers: Sequence[int]  # of the machines, from 1
    table: Path

    @property
    def purpose(self) -> dict[str, str]:
        """What the figures depend on, but for the machines' numbers."""
        text = self.work.profile_text
        made_of = "" if text is None else f" {hashlib.sha256(text.encode()).hexdigest()}"
        return {
            "profile": Path(self.work.profile).name + made_of[: HASH_DIGITS + 1],
            "seed": str(self.work.seed),
            "faults": ", ".join(self.work.faults) or "none",
            "what": self.work.what,
            "give up after": give_up_text(self.work) or "never",
            "build": self.work.build,
        }


def run_sweep(sweep: Sweep, workers: Workers, tell: Tell) -> list[Row]:
    """Run what no earlier try has finished, and write the table.

    The rows are kept beside the table as they come, so a sweep that breaks off, however, goes on
    where it was. The table is in the order of the machines' numbers, and its bytes are the same
    whoever ran them.

    Raises:
        UsageError: the rows beside the table are of another sweep, or a worker can't take part.
        AccessError: the disk doesn't take it.
        BusyError: another process is at the same table.
        CrashError: workers are lost one after the other.
    """
    check_table(sweep.table)
    with kept_rows(sweep.table, sweep.purpose) as kept:
        wanted = set(sweep.numbers)
        tell({number: row for number, row in kept.rows.items() if number in wanted})
        left = [number for number in sweep.numbers if number not in kept.rows]
        if left:
            for rows in workers(sweep.work, left):
                kept.add(rows)
                tell(rows)
        found = filled([kept.rows[number] for number in sweep.numbers])
        write_table(sweep.table, found, sweep.purpose)
        if wanted.issuperset(kept.rows):
            kept.forget()
    return found
