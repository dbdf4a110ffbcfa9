"""Whether ready-at is honest: how often the truth lay where it was foretold, and how narrowly.

Usage: python tests/benchmarks/ready_at.py [--machines 1000] [--seed 1001] [--processes N]
           [--table FILE]
       python tests/benchmarks/ready_at.py --only drawn-1001-17

Machines are drawn at random and run the shipped profiles in turn, through the real loop; each
question is answered as late as the forecast and the plan take people to be, half of them within a
minute and nine in ten within five. Judged is the forecast in force at several moments of each run.
Seeds below 1000 are for tuning, so judge on others. Finished machines are kept in FILE.rows, and
the same command goes on where it was.
Responsible for the command and its table; runs stand in ready_at_runs.
"""

import argparse
import math
import os
import statistics
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.errors import BainwardError, Exit
from controller.report.table import Row
from controller.trials.sweep_rows import kept_rows
from controller.trials.sweep_work import FAILURE, Work, build_text
from controller.trials.sweep_workers import on_cores
from tests.benchmarks.ready_at_runs import MOMENTS, Judged, judged_of, run_one

JUDGING_SEED = 1001
GOAL = (0.77, 0.83)  # of the moments, within the band
WIDE = 1000  # own choice: with fewer runs chance alone moves a share by more than the goal allows

HEAD = (
    f"{'asked at':18}{'runs':>6}{'in the band':>13}{'sooner':>8}{'later':>8}"
    f"{'left, min':>11}{'band, min':>11}  likely hour off by, min: p10, p50, p90"
)


def all_rows(seed: int, machines: int, processes: int, table: Path) -> list[Row]:
    """Every machine's row, of which those that are kept beside `table` are not run again.

    Raises:
        BainwardError: the kept rows are of another build, or workers are lost.
    """
    work = Work(
        profile="each in turn",
        profile_text=None,
        seed=seed,
        faults=(),
        build=build_text(),
        run_one=run_one,
    )
    numbers = range(1, machines + 1)
    with kept_rows(table, {"seed": str(seed), "build": work.build, "of": "ready-at"}) as kept:
        left = [number for number in numbers if number not in kept.rows]
        if left:
            for rows in on_cores(processes)(work, left):
                kept.add(rows)
                print(f"{len(kept.rows)} of {machines}", end="\r", file=sys.stderr, flush=True)
        return [kept.rows[number] for number in numbers]


def table_text(rows: Sequence[Row]) -> str:
    """How often each moment's band held, how wide it was, and how far off the likely hour."""
    judged = [one for row in rows for one in judged_of(row)]
    lines = [HEAD]
    for moment in (*MOMENTS, "all"):
        part = [one for one in judged if moment in {one.moment, "all"}]
        if part:
            lines.append(_line(moment, part))
    return "\n".join(lines)


def _line(moment: str, part: Sequence[Judged]) -> str:
    inside = _share([one.early_s <= one.ready_s <= one.late_s for one in part])
    sooner = _share([one.ready_s < one.early_s for one in part])
    later = _share([one.ready_s > one.late_s for one in part])
    left_min = statistics.median((one.ready_s - one.at_s) / 60.0 for one in part)
    width_min = statistics.median((one.late_s - one.early_s) / 60.0 for one in part)
    off = sorted((one.ready_s - one.likely_s) / 60.0 for one in part)
    cuts = statistics.quantiles(off, n=10) if len(off) > 1 else off * 9
    return (
        f"{moment:18}{len(part):6}{inside:>13}{sooner:>8}{later:>8}{left_min:11.1f}{width_min:11.1f}"
        f"  {cuts[0]:+.1f}, {cuts[4]:+.1f}, {cuts[8]:+.1f}"
    )


def _share(held: Sequence[bool]) -> str:
    return f"{100.0 * sum(held) / len(held):.1f} %"


def text_of(rows: Sequence[Row], seed: int) -> str:
    """All that is printed."""
    ready = [row for row in rows if judged_of(row)]
    failed = [f"{row['machine']}: {row[FAILURE]}" for row in rows if row.get(FAILURE)]
    judged = [one for row in rows for one in judged_of(row)]
    held = sum(one.early_s <= one.ready_s <= one.late_s for one in judged) / max(1, len(judged))
    met = GOAL[0] <= held <= GOAL[1]
    never = len(rows) - len(ready) - len(failed)
    head = (
        f"drawn-{seed}-1 to -{len(rows)}: {len(ready)} got ready, {len(failed)} refused or failed, "
        f"{never} not ready after 8 h"
    )
    low, high = (f"{100.0 * share:.0f}" for share in GOAL)
    does = "does" if met else "does NOT"
    foot = (
        f"The band is meant to hold the truth in {low} to {high} %: it {does}, with "
        f"{100.0 * held:.1f} % of {len(judged)} moments"
    )
    foot += "." if len(rows) >= WIDE else f"; {WIDE} machines would say it more surely."
    return "\n".join([head, "", table_text(rows), "", foot, *failed])


def options_of(arguments: Sequence[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(
        description=(__doc__ or "").partition("\n")[0],
        epilog="Seeds below 1000 are for tuning; judge on others.",
    )
    parser.add_argument("--machines", type=int, default=1000, metavar="N")
    parser.add_argument("--seed", type=int, default=JUDGING_SEED, metavar="S")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1, metavar="N")
    parser.add_argument("--table", type=Path, metavar="FILE", help="keep finished machines beside")
    parser.add_argument("--only", metavar="NAME", help="replay one machine, like drawn-1001-17")
    return parser.parse_args(arguments)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit code."""
    options = options_of(arguments)
    try:
        if options.only:
            for column, cell in run_one(options.only, "", ()).items():
                shown = f"{cell:.0f}" if isinstance(cell, float) and math.isfinite(cell) else cell
                print(f"{column:28} {shown}")
            return 0
        with tempfile.TemporaryDirectory(prefix="bainward-") as folder:
            table = options.table or Path(folder) / "ready-at"
            rows = all_rows(options.seed, options.machines, options.processes, table)
        print(text_of(rows, options.seed))
    except BainwardError as error:
        print(error, file=sys.stderr)
        return int(error.exit_code)
    except KeyboardInterrupt:
        where = f"kept beside {options.table}" if options.table else "lost: give it --table FILE"
        print(f"\nInterrupted. Finished machines are {where}.", file=sys.stderr)
        return int(Exit.STOPPED)
    return 0


if __name__ == "__main__":
    sys.exit(main())
