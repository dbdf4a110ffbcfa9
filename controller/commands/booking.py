"""The command `bainward book`: list, open, note, compare, export.

Responsible for what is printed and for judging what is typed; not for the book itself
(controller/book).
"""

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

import msgspec

from controller.book import finishing
from controller.book.finishing import Room
from controller.book.label import break_text, label_text
from controller.book.listing import list_text, notes_text, row_of, write_csv, write_json
from controller.book.notes import (
    Bloom,
    Gloss,
    Notes,
    Remark,
    SetTest,
    Snap,
    change_notes,
    read_notes,
)
from controller.book.page import label_page, page, room_of
from controller.book.pen import write_whole
from controller.book.shelf import entries, find
from controller.book.story import tell
from controller.book.traces import allergen_of, sorted_allergens
from controller.clock import wall_time
from controller.commands.places import shelf_folder
from controller.errors import Exit, UsageError
from controller.journal.reader import read_header, read_run
from controller.planning.quantities import LEFT, ROOM, Quantity, read, whole
from controller.report.compare_runs import compare_runs
from controller.report.summary import summarise, summary_text
from controller.report.target import check_target

Action = Callable[[argparse.Namespace, Path], None]
Reads = Callable[[str], object]
LONGEST_TEXT = 600
# More often than this nobody melts the same leftovers (own engineering value, not published).
REMELTS = Quantity(units={"": (0.0, 1.0)}, low=0.0, high=20.0, example="2", bare="")


def book(options: argparse.Namespace) -> Exit:
    """Do what was asked of the book.

    Raises:
        BainwardError: no such run, a file can't be read or written, or a value can't be meant.
    """
    folder = shelf_folder(options)
    actions: dict[str, Action] = {
        "list": _list,
        "open": _open,
        "note": _note,
        "compare": _compare,
        "export": _export,
        "page": _page,
        "label": _label,
    }
    actions[options.action](options, folder)
    return Exit.DONE


def _list(options: argparse.Namespace, folder: Path) -> None:
    found = entries(folder, options.machine)
    if not found:
        elsewhere = (
            ""
            if options.tries or options.folder
            else " Those of the bench: bainward book list --tries."
        )
        sys.stdout.write(f"No run is in {folder} yet.{elsewhere}\n")
        return
    sys.stdout.write(list_text(found, wall_time()))


def _open(options: argparse.Namespace, folder: Path) -> None:
    path = find(folder, options.run)
    run, notes = read_run(path), read_notes(path)
    sys.stdout.write(summary_text(summarise(run), fahrenheit=options.units == "F"))
    sys.stdout.write(_after_a_gap(notes_text(notes)))
    kind, fahrenheit = notes.chocolate or run.header.profile_kind, options.units == "F"
    ended = finishing.ended_of(run)
    sys.stdout.write("\n" + finishing.text(kind, room_of(notes), ended, fahrenheit=fahrenheit))
    sys.stdout.write(f"\nRecord: {path}\n")


def _compare(options: argparse.Namespace, folder: Path) -> None:
    paths = (find(folder, options.run), find(folder, options.other))
    before, after = (read_run(path) for path in paths)
    sys.stdout.write(compare_runs(before, after, fahrenheit=options.units == "F"))
    for name, path in zip("AB", paths, strict=True):
        noted = notes_text(read_notes(path))
        sys.stdout.write(f"\nNoted of {name}\n{noted}" if noted else "")


def _export(options: argparse.Namespace, folder: Path) -> None:
    rows = (row_of(read_run(one.path), one.notes or Notes()) for one in entries(folder))
    (write_json if options.json else write_csv)(rows, sys.stdout)


def _page(options: argparse.Namespace, folder: Path) -> None:
    path = find(folder, options.run)
    out = options.out or Path(f"{path.stem}.html")
    noted = room_of(read_notes(path))
    room = Room(
        room_c=noted.room_c if options.room is None else _room_c(options.room),
        humidity=noted.humidity if options.humidity is None else options.humidity,
    )
    write_page(path, out, room, fahrenheit=options.units == "F")
    sys.stdout.write(f"Page: {out}\n")


def _label(options: argparse.Namespace, folder: Path) -> None:
    path = find(folder, options.run)
    told = tell(read_run(path), read_notes(path), fahrenheit=options.units == "F")
    sys.stdout.write(label_text(told))
    if broken := break_text(told.run):
        sys.stderr.write(f"bainward: {broken}\n")
    if options.out is not None:
        write_whole(named_html(options.out), label_page(told).encode())
        sys.stdout.write(f"Label: {options.out}\n")


def write_page(record: Path, out: Path, room: Room, *, fahrenheit: bool) -> None:
    """Write the page of a run that was made in that room.

    Raises:
        BainwardError: the record can't be read, or the page can't be written.
    """
    told = tell(read_run(record), read_notes(record), fahrenheit=fahrenheit)
    write_whole(named_html(out), page(told, room).encode())


def note_room(record: Path, room: Room) -> None:
    """Put into the notes of a run where it takes place.

    Raises:
        BainwardError: the notes can't be read or written.
    """

    def change(notes: Notes) -> Notes:
        return msgspec.structs.replace(notes, room_c=room.room_c, humidity=room.humidity)

    change_notes(record, change)


def check_page(path: Path) -> None:
    """See before a run whether its page can be.

    Raises:
        UsageError: its name does not say that it is a page.
        AccessError: it can't be written.
    """
    check_target(named_html(path), "page")


def named_html(path: Path) -> Path:
    """The same path.

    Raises:
        UsageError: its name does not say that it is a page.
    """
    if path.suffix not in {".html", ".htm"}:
        raise UsageError(f"{path} is to hold a page; give it a name that ends in .html.")
    return path


def _room_c(text: str) -> float:
    try:
        return read(text, ROOM)
    except ValueError as error:
        raise UsageError(sentence(f"--room: {error}")) from error


def _note(options: argparse.Namespace, folder: Path) -> None:
    path = find(folder, options.run)
    changes = _changes(options)
    if not changes and options.remark is None:
        raise UsageError("Nothing to note; add --gloss, --snap, --bloom, --remark or another.")
    read_header(path)  # a file that is no record of a run has no batch to be noted of
    now = wall_time().isoformat(timespec="seconds")
    remarks = () if options.remark is None else (Remark(at_utc=now, text=_text(options.remark)),)
    if "bloom" in changes:
        changes["bloom_utc"] = now

    def change(notes: Notes) -> Notes:
        return msgspec.structs.replace(notes, **changes, remarks=(*notes.remarks, *remarks))

    notes = change_notes(path, change)
    sys.stdout.write(f"Noted of {path.stem}:\n{notes_text(notes)}")


def _changes(options: argparse.Namespace) -> dict[str, object]:
    """What the options change in the notes, each by its field's name."""
    read_by: dict[str, Reads] = {
        "set_test": SetTest,
        "gloss": Gloss,
        "snap": Snap,
        "bloom": Bloom,
        "made": _text,
        "left": lambda text: read(text, LEFT),
        "remelts": lambda text: whole(text, REMELTS),
        "contains": allergens,
    }
    names = {"left": "left_kg"}
    changes = {}
    for option, reads in read_by.items():
        told = getattr(options, option)
        if told is None:
            continue
        try:
            changes[names.get(option, option)] = reads(told)
        except ValueError as error:
            raise UsageError(sentence(f"--{option}: {error}")) from error
    return changes


def allergens(text: str) -> tuple[str, ...]:
    """Allergens with commas between them; "none" for none.

    Raises:
        ValueError: one of them is no allergen.
    """
    if text.strip().casefold() == "none":
        return ()
    return sorted_allergens(tuple(allergen_of(word) for word in text.split(",")))


def sentence(text: str) -> str:
    """With a full stop, unless it ends in a question."""
    return text if text.endswith("?") else f"{text}."


def _text(text: str) -> str:
    """Words on one line that can be printed anywhere.

    Raises:
        UsageError: they can't, or are too many.
    """
    plain = " ".join(text.split())
    if not plain or not plain.isprintable() or len(plain) > LONGEST_TEXT:
        raise UsageError(f"A note is 1 to {LONGEST_TEXT} printable signs; write it so.")
    return plain


def _after_a_gap(text: str) -> str:
    return f"\n{text}" if text else ""
