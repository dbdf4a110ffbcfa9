"""The command `bainward sweep`: one profile on many drawn machines, on all cores or a cluster.

Responsible for what it prints and for how it ends; not for the sweep itself (controller.trials).
"""

import argparse
import re
import shutil
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from types import FrameType

from controller.clock import process_s
from controller.commands.faulting import refuse_broker
from controller.commands.places import made, state_folder
from controller.errors import AccessError, Exit, UsageError
from controller.files.profile_file import load_profile, shipped_profiles
from controller.report.plot import check_picture, plot_sweep
from controller.report.table import OUTCOME, Row
from controller.trials.faults import plans_for
from controller.trials.sweep import Sweep, run_sweep
from controller.trials.sweep_progress import SweepLine
from controller.trials.sweep_rows import rows_path
from controller.trials.sweep_summary import sweep_text
from controller.trials.sweep_work import FAILED, Work, build_text, run_drawn
from controller.trials.sweep_workers import Workers, on_cluster, on_cores
from controller.wiring import NUMBER_MOST, machine_meant

MACHINES_MOST = 1_000_000  # own engineering value: their rows are all held in memory
NAME_MOST = 120  # letters of a table's name, within what any disk takes
FOLDER = "sweeps"  # in the folder of records, where no --table names another place


def sweep(options: argparse.Namespace) -> Exit:
    """Run it, or go on with it, and print what came of it.

    Raises:
        BainwardError: profile, faults or table can't be used, or workers were lost for good.
    """
    if options.plot is not None:
        check_picture(options.plot)
    work = _work(options)
    numbers = numbers_meant(options)
    plan = Sweep(work=work, numbers=numbers, table=options.table or usual_table(work))
    rows, pace = swept(plan, _workers(options))
    if rows is None:
        return Exit.STOPPED
    fahrenheit = options.units == "F"
    sys.stdout.write("\n" + sweep_text(rows, work, fahrenheit=fahrenheit))
    if pace:
        sys.stdout.write(f"Pace: {pace}\n")
    sys.stdout.write(f"Table: {plan.table}\n")
    if options.plot is not None:
        title = f"{work.profile} on {len(rows)} machines of seed {work.seed}"
        plot_sweep(rows, options.plot, title=title, fahrenheit=fahrenheit)
        sys.stdout.write(f"Picture: {options.plot}\n")
    return Exit.CRASHED if any(row[OUTCOME] == FAILED for row in rows) else Exit.DONE


def swept(plan: Sweep, workers: Workers) -> tuple[list[Row] | None, str]:
    """Run it with a line that says how far it is; its rows, None if interrupted, and its pace.

    Raises:
        BainwardError: the table can't be written, or workers were lost for good.
    """
    line = SweepLine(
        sys.stdout,
        total=len(plan.numbers),
        clock_s=process_s,
        columns=shutil.get_terminal_size().columns,
    )
    try:
        with _ended_by_sigterm():
            return run_sweep(plan, workers, line.tell), line.pace_text()
    except KeyboardInterrupt:
        line.finish()
        sys.stdout.write(
            f"Interrupted. Finished machines are kept in {rows_path(plan.table)}; "
            "the same command goes on where this one was.\n"
        )
        return None, ""
    finally:
        line.finish()


def numbers_meant(options: argparse.Namespace) -> range:
    """The machines' numbers.

    Raises:
        UsageError: there are no such machines, or more than a sweep can hold at once.
    """
    if options.machines > MACHINES_MOST:
        raise UsageError(
            f"A sweep takes at most {MACHINES_MOST} --machines; go on from there with --first and "
            "another --table."
        )
    numbers = range(options.first, options.first + options.machines)
    if max(options.seed, numbers[-1]) > NUMBER_MOST:
        raise UsageError(
            f"The bench draws machines of seeds 0 to {NUMBER_MOST}, numbered 1 to {NUMBER_MOST}; "
            "give a smaller --seed or --first."
        )
    return numbers


def _work(options: argparse.Namespace) -> Work:
    """What every worker is told, once it is clear that profile and faults can be used at all."""
    plans = plans_for(options.fault, load_profile(options.profile, machine_meant(None).machine))
    refuse_broker(plans)
    is_shipped = options.profile in shipped_profiles()
    return Work(
        profile=options.profile,
        profile_text=None if is_shipped else Path(options.profile).read_text(encoding="utf-8-sig"),
        seed=options.seed,
        faults=tuple(options.fault),
        build=build_text(),
        run_one=partial(run_drawn, give_up_after_s=options.give_up_after),
        give_up_after_s=options.give_up_after,
    )


def usual_table(work: Work, folder_name: str = FOLDER, kind: str = "") -> Path:
    """Where the table goes if nobody says: in the folder of records, by what it is a table of.

    Raises:
        AccessError: it can't be made.
    """
    folder = state_folder() / folder_name
    try:
        made(folder)
    except AccessError as error:
        raise AccessError(
            f"The folder {folder} for the table can't be made; name another place with --table."
        ) from error
    named = [Path(work.profile).stem, str(work.seed), kind, *work.faults]
    name = "-".join(re.sub(r"[^\w.]+", "-", word) for word in named if word)
    return folder / f"{name[:NAME_MOST]}.csv"


def _workers(options: argparse.Namespace) -> Workers:
    if options.scheduler is not None:
        return on_cluster(options.scheduler)
    return on_cores(options.processes)


@contextmanager
def _ended_by_sigterm() -> Iterator[None]:
    """Let SIGTERM end a sweep as Ctrl-C does."""

    def interrupt(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
