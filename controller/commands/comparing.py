"""The command `compare`: two runs, or two sweeps, side by side.

Responsible for telling a run from a sweep and for what is printed; not for the comparison
(controller.report).
"""

import argparse
import sys
from pathlib import Path

from controller.errors import AccessError, Exit, UsageError
from controller.journal.reader import SUFFIX, read_header, read_run
from controller.report.compare_match import match
from controller.report.compare_runs import compare_runs
from controller.report.compare_sweeps import compare_sweeps
from controller.report.plot import check_picture, plot_runs, plot_sweeps
from controller.report.table_file import read_table

RECORD_BEGINS = b"{"  # a record is lines of JSON objects; no table begins so


def compare(options: argparse.Namespace) -> Exit:
    """Print both side by side, and draw them if that was asked for.

    Raises:
        BainwardError: one can't be read, is damaged, or they can't be compared.
    """
    if options.plot is not None:
        check_picture(options.plot)
    paths: tuple[Path, Path] = (options.before, options.after)
    kinds = [_is_record(path) for path in paths]
    if kinds[0] is not kinds[1]:
        run, sweep = paths if kinds[0] else reversed(paths)
        # Where one of them is neither, these have a better sentence.
        read_header(run)
        read_table(sweep)
        raise UsageError(
            f"{run} is the record of a run and {sweep} is the table of a sweep; compare two runs"
            " or two sweeps."
        )
    code = _runs(paths, options) if kinds[0] else _sweeps(paths, options)
    if options.plot is not None:
        sys.stdout.write(f"Picture: {options.plot}\n")
    return code


def _is_record(path: Path) -> bool:
    """Whether it is a run's record rather than a table, by its name or else by how it begins."""
    if path.exists() and not (path.is_file() or path.is_dir()):  # a pipe is waited for for ever
        raise AccessError(f"{path} is no plain file; name a run's record or a sweep's table.")
    if path.suffix == SUFFIX:
        return True
    try:
        with path.open("rb") as file:
            return file.read(1) == RECORD_BEGINS
    except OSError as error:
        raise AccessError(
            f"{path} can't be read ({error.strerror}); name a run's record or a sweep's table that"
            " exists and is readable; bainward book compare finds runs by their names."
        ) from error


def _runs(paths: tuple[Path, Path], options: argparse.Namespace) -> Exit:
    """Two runs; a damaged record is compared as far as it goes, and said to be so."""
    before, after = (read_run(path) for path in paths)
    fahrenheit = options.units == "F"
    sys.stdout.write(compare_runs(before, after, fahrenheit=fahrenheit))
    if options.plot is not None:
        plot_runs(before, after, options.plot, fahrenheit=fahrenheit)
    torn = [path for path, run in zip(paths, (before, after), strict=True) if run.torn]
    for path in torn:
        sys.stderr.write(
            f"bainward: The record {path} breaks off at a damaged line, and only what stands before"
            " it was compared; bainward journal verify says where.\n"
        )
    return Exit.BAD_FILE if torn else Exit.DONE


def _sweeps(paths: tuple[Path, Path], options: argparse.Namespace) -> Exit:
    """Two sweeps, machine by machine."""
    before, after = (read_table(path) for path in paths)
    found = match((str(paths[0]), str(paths[1])), before, after)
    fahrenheit = options.units == "F"
    sys.stdout.write(compare_sweeps(found, fahrenheit=fahrenheit))
    if options.plot is not None:
        plot_sweeps(found, options.plot, fahrenheit=fahrenheit)
    return Exit.DONE
