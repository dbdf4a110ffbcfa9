"""How well control does on machines it has never seen, beside rivals and physics: one table.

Usage: python tests/benchmarks/control.py [--machines 1000] [--seed 1001] [--processes 2]
           [--table FILE] [--plot FILE] [--daemon-s 60]
       python tests/benchmarks/control.py --check [--table FILE]
       python tests/benchmarks/control.py --only drawn-1001-17 [--row melt] [--plot FILE]

Machines are drawn at random; seeds 1 to 99 are for tuning, so judge on others. Finished machines
are kept in FILE.rows, and the same command goes on where it was. Every machine goes through the
long run and the cooling; the slow relay, the rivals and other structures are tried on each so
manieth, and their lines say on how many. Accuracy is judged by what the bowl's thermometer would
show without lag, noise and steps (rivals/eye.py says why).
Responsible for the command; runs, measures and rows stand in the modules beside it.
"""

import argparse
import hashlib
import math
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from controller.errors import BainwardError, Exit, UsageError
from controller.report.table import Cell, Row
from controller.trials.sweep_rows import kept_rows
from controller.trials.sweep_work import FAILURE, Work, build_text
from controller.trials.sweep_workers import on_cores
from tests.benchmarks import control_specials as specials
from tests.benchmarks.control_goals import lost, won
from tests.benchmarks.control_measures import RUNS, run_one
from tests.benchmarks.control_plot import draw
from tests.benchmarks.control_sides import rivals_text, structures_text
from tests.benchmarks.control_structures import STRUCTURES
from tests.benchmarks.control_table import LINES, Line, table_text

JUDGING_SEED = 1001
HASH_DIGITS = 12
# Which of the machines are asked for what, see control_measures.runs_of. Own engineering values: a
# share of 99 % wants hundreds of machines, a median some dozens.
PLAN = "curve cooling relay/2 rivals/4 film/20 layers/20 nuclei/20"
CHECK_PLAN = "curve cooling relay/4 rivals/10 film/25 layers/25 nuclei/25"
CHECK_MACHINES = 100
GOAL_LOST = 1  # exit code
# The words of --row, each with the runs that it needs.
REPLAYED = {word: runs for word, (_, runs) in LINES.items()} | {one: (one,) for one in STRUCTURES}


def harness_text() -> str:
    """A hash of the benchmark's own files: rows of another one are not mixed in."""
    digest = hashlib.sha256()
    for path in sorted((ROOT / "tests" / "benchmarks").rglob("*.py")):
        digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()[:HASH_DIGITS]


def all_rows(plan: str, seed: int, machines: int, processes: int, table: Path) -> list[Row]:
    """Every machine's row, of which those that are kept beside `table` are not run again.

    Raises:
        BainwardError: the kept rows are of another benchmark, or workers are lost.
    """
    work = Work(
        profile=plan,
        profile_text=None,
        seed=seed,
        faults=(),
        build=build_text(),
        run_one=run_one,
    )
    purpose = {
        "seed": str(seed),
        "plan": plan,
        "build": work.build,
        "benchmark": harness_text(),
    }
    numbers = range(1, machines + 1)
    with kept_rows(table, purpose) as kept:
        left = [number for number in numbers if number not in kept.rows]
        if left:
            for rows in on_cores(processes)(work, left):
                kept.add(rows)
                print(f"{len(kept.rows)} of {machines}", end="\r", file=sys.stderr, flush=True)
        return [kept.rows[number] for number in numbers]


def judged(rows: Sequence[Row], daemon: Mapping[str, float]) -> dict[str, Line]:
    """All lines of the table, by their words."""
    lines = {word: judge(rows) for word, (judge, _) in LINES.items()}
    lines["addition"] = specials.addition()
    lines["ready-reference"] = specials.ready("reference")
    lines["ready-brisk"] = specials.ready("brisk")
    lines["speed"] = specials.speed(rows, daemon)
    return lines


def many(options: argparse.Namespace) -> int:
    """Run all machines and print the tables; the exit code."""
    daemon = specials.daemon_cost(options.daemon_s)
    plan = CHECK_PLAN if options.check else PLAN
    with tempfile.TemporaryDirectory(prefix="bainward-") as folder:
        table = options.table or Path(folder) / "control"
        rows = all_rows(plan, options.seed, options.machines, options.processes, table)
    lines = judged(rows, daemon)
    parts = [
        f"{options.machines} machines, drawn-{options.seed}-1 to -{options.machines}",
        table_text(list(lines.values())),
        rivals_text(rows),
        structures_text(rows),
        *(f"{row['machine']} failed: {row[FAILURE]}" for row in rows if row.get(FAILURE)),
    ]
    text = "\n\n".join(parts)
    print(text)
    if options.table:
        options.table.write_text(f"{text}\n", encoding="utf-8")
    return _verdict(lines) if options.check else 0


def _verdict(lines: Mapping[str, Line]) -> int:
    gone = lost(lines)
    for sentence in (*won(lines), *gone):
        print(f"\n{sentence}")
    return GOAL_LOST if gone else 0


def single(name: str, row: str | None) -> None:
    """Replay one machine and print its numbers."""
    runs = RUNS if row is None else REPLAYED[row]
    columns = run_one(name, " ".join(runs), ())
    for column, cell in columns.items():
        print(f"{column:28} {_shown(cell)}")


def _shown(cell: Cell) -> str:
    if isinstance(cell, str):
        return cell
    return "never" if math.isnan(cell) else f"{cell:.6g}"


def options_of(arguments: Sequence[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(
        description=(__doc__ or "").partition("\n")[0],
        epilog="Seeds 1 to 99 are for tuning; judge on others.",
    )
    parser.add_argument("--machines", type=_at_least_one, default=1000, metavar="N")
    parser.add_argument("--seed", type=int, default=JUDGING_SEED, metavar="S")
    parser.add_argument(
        "--check", action="store_true", help="fail if a goal that was met before is not any more"
    )
    parser.add_argument("--processes", type=_at_least_one, default=2, metavar="N")
    parser.add_argument(
        "--table", type=Path, metavar="FILE", help="write here, too; keep finished machines beside"
    )
    parser.add_argument("--only", metavar="NAME", help="replay one machine, like drawn-1001-17")
    parser.add_argument("--row", choices=REPLAYED, help="with --only: run what this row needs")
    parser.add_argument("--plot", type=Path, metavar="FILE", help="draw a machine (.svg or .png)")
    parser.add_argument(
        "--daemon-s", type=float, default=60.0, metavar="S", help="measure the daemon for so long"
    )
    options = parser.parse_args(arguments)
    if options.check:
        options.seed, options.machines, options.daemon_s = JUDGING_SEED, CHECK_MACHINES, 0.0
    return options


def _at_least_one(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError(f"{text} is too few; write 1 or more")
    return number


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit code."""
    options = options_of(arguments)
    code = 0
    try:
        if options.row and not options.only:
            raise UsageError("--row says what to replay of one machine; name it with --only.")
        if options.only:
            single(options.only, options.row)
        else:
            code = many(options)
        if options.plot:
            draw(options.only or f"drawn-{options.seed}-1", options.plot)
    except BainwardError as error:
        print(error, file=sys.stderr)
        return int(error.exit_code)
    except KeyboardInterrupt:
        where = f"kept beside {options.table}" if options.table else "lost: give it --table FILE"
        print(f"\nInterrupted. Finished machines are {where}.", file=sys.stderr)
        return int(Exit.STOPPED)
    return code


if __name__ == "__main__":
    sys.exit(main())
