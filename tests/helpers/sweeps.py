"""Made-up tables of sweeps, with figures that can be worked out by hand.

Responsible for plausible rows; not for physics.
"""

import csv
import math
from collections.abc import Sequence
from pathlib import Path

from controller.report.table import Row

MACHINES = 21  # then p5, p50 and p95 are the second, eleventh and twentieth value


def a_row(number: int, **changes: str | float) -> Row:
    """The row of machine `number`: each figure rises with it."""
    return {
        "machine": f"drawn-1-{number}",
        "exit": "done",
        "ready_s": 6000.0 + 60.0 * number,
        "working_overshoot_k": number / 100.0,
        "bath_max_c": 50.0 + number / 10.0,
        "switches": 600 + number,
        "form_v": 0.02,
        "trips": "",
        **changes,
    }


def a_sweep() -> list[Row]:
    """A sweep of machines 1 to 21, all in order."""
    return [a_row(number) for number in range(1, MACHINES + 1)]


def a_later_sweep() -> list[Row]:
    """The same machines ten minutes later and twice as far over; one tripped, one much later."""
    rows = [
        a_row(number, ready_s=6600.0 + 60.0 * number, working_overshoot_k=number / 50.0)
        for number in range(1, MACHINES + 1)
    ]
    rows[4] = a_row(5, exit="tripped", ready_s=math.nan, trips="level-lost")
    rows[6] = {**rows[6], "ready_s": 12000.0}
    return rows


def write_table(path: Path, rows: Sequence[Row]) -> None:
    """The rows as CSV."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
