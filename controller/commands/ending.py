"""What a run prints at its end: its summary, where its record is, and what to do now.

Responsible for the order of what is printed; not for the words (report, book).
"""

import argparse
import sys
from pathlib import Path

from controller.book import finishing
from controller.book.notes import read_notes
from controller.commands.booking import write_page
from controller.core.profile import Kind
from controller.journal.reader import read_run
from controller.report.plot import plot_run
from controller.report.summary import summarise, summary_text


def show_end(
    options: argparse.Namespace,
    path: Path,
    failure: OSError | None,
    room: finishing.Room,
    *,
    fahrenheit: bool,
) -> None:
    """Print what the record says, draw it and write its page if that was asked for.

    Raises:
        BainwardError: the record can't be read, or picture or page can't be written.
    """
    if failure is not None:
        sys.stdout.write(
            f"The record {path} breaks off ({failure}): free the disk, "
            "or name another folder with --journal-dir, before the next run.\n"
        )
    run = read_run(path)
    sys.stdout.write("\n" + summary_text(summarise(run), fahrenheit=fahrenheit).rstrip() + "\n")
    sys.stdout.write(f"Record: {path}\n")
    if options.plot is not None:
        plot_run(run, options.plot, fahrenheit=fahrenheit)
        sys.stdout.write(f"Picture: {options.plot}\n")
    kind, ended = read_notes(path).chocolate or run.header.profile_kind, finishing.ended_of(run)
    sys.stdout.write("\n" + finishing.text(kind, room, ended, fahrenheit=fahrenheit))
    if kind != Kind.WATER:
        if ended.was_worked:
            sys.stdout.write(f"Note how it turned out: bainward book note {path} --gloss glossy\n")
        sys.stdout.write(f"Label what is left: bainward book label {path}\n")
    if options.page is not None:
        write_page(path, options.page, room, fahrenheit=fahrenheit)
        sys.stdout.write(f"Page: {options.page}\n")
