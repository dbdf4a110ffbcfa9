"""The commands on a run's record: `journal verify`, `show` and `export`.

Responsible for what is printed; not for reading (controller/journal) or sums (controller/report).
"""

import argparse
import sys
from pathlib import Path

from controller.book.shelf import find
from controller.commands.places import shelf_folder
from controller.errors import Exit
from controller.journal.inspection import Inspection, inspect_file
from controller.journal.reader import SUFFIX, read_run
from controller.report.export import write_csv, write_json
from controller.report.summary import summarise, summary_text
from controller.report.words import clock_text


def journal(options: argparse.Namespace) -> Exit:
    """Verify, show or export one record.

    Raises:
        BainwardError: the file can't be read, or is no record.
    """
    path = _meant(options)
    if options.action == "verify":
        return _verify(path)
    return {"show": _show, "export": _export}[options.action](options, path)


def _meant(options: argparse.Namespace) -> Path:
    """The record meant: a path, or as the batch book knows its runs.

    Raises:
        BainwardError: no run is meant, or several are.
    """
    word = str(options.run)
    if "/" in word or word.endswith(SUFFIX) or Path(word).exists():
        return Path(word)
    return find(shelf_folder(options), word)


def _verify(path: Path) -> Exit:
    """Say whether every byte is as it was written, and if not, where it breaks."""
    found = inspect_file(path)
    sys.stdout.write(inspection_text(found, path))
    return Exit.DONE if found.broken is None else Exit.BAD_FILE


def _show(options: argparse.Namespace, path: Path) -> Exit:
    """Print the run's summary, and whether its record is whole."""
    run, found = read_run(path), inspect_file(path)
    sys.stdout.write(summary_text(summarise(run), fahrenheit=options.units == "F").rstrip() + "\n")
    sys.stdout.write("\n" + inspection_text(found, path))
    return Exit.DONE


def _export(options: argparse.Namespace, path: Path) -> Exit:
    """Write the samples as CSV, or all as JSON."""
    run = read_run(path)
    if options.json:
        write_json(run, sys.stdout)
    else:
        write_csv(run, sys.stdout)
    return Exit.DONE


def inspection_text(found: Inspection, path: Path) -> str:
    """What there is of a record, a fact a line."""
    until = clock_text(found.ends_at_s)
    lines = [f"{path}: run {found.run_id}"]
    if found.broken is None:
        lines.append(f"Every one of its {found.lines} lines is as it was written, until {until}.")
    else:
        lines.append(
            f"It breaks at line {found.broken.line}, byte {found.broken.offset}: "
            f"{found.broken.why}."
        )
        lines.append(
            f"Good are {found.lines} lines, {found.good_bytes} of {found.size} bytes, "
            f"until {until} of the run; nothing after that is used."
        )
    if not found.is_closed:
        lines.append("It has no end: the run was cut off, or is still going on.")
    if found.lost_samples or found.lost_events:
        lines.append(
            f"The disk did not keep up: {found.lost_samples} samples and {found.lost_events} "
            "events were left out."
        )
    return "\n".join(lines) + "\n"
