"""The runs of a folder as entries of a book: listed, and found by a part of their names.

Responsible for a quick look at each (its first line and its last ones); not for whole records
(controller.journal.reader) or for sums (controller.report.summary).
"""

import os
from dataclasses import dataclass
from pathlib import Path

from controller.book.notes import Notes, SetTest, read_notes
from controller.core.profile import Verdict
from controller.errors import AccessError, BainwardError, UsageError
from controller.journal.lines import unframed
from controller.journal.parsing import record_of_line
from controller.journal.reader import SUFFIX, read_header
from controller.journal.records import Closing, Header, Sample

TAIL_BYTES = 16_384  # own engineering value: some dozens of lines, the last sample among them
NEWEST = "last"
_SHOWN = 5  # of the names that a word could mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One run as its first and last lines show it. None: it broke off, or nobody can say."""

    path: Path
    header: Header
    outcome: str | None
    lasted_s: float  # of the record: a stirrer may have turned on after the run had ended
    verdict: Verdict
    notes: Notes | None  # None: they are there and can't be understood


def entries(folder: Path, machine: str = "") -> tuple[Entry, ...]:
    """The runs in `folder`, newest first; of one machine if that is named.

    Files that are no records are passed over.

    Raises:
        AccessError: the folder can't be read.
    """
    found = []
    for path in _records(folder):
        try:
            entry = _entry(path)
        except BainwardError:
            continue
        if machine in {"", entry.header.machine_name}:
            found.append(entry)
    return tuple(sorted(found, key=lambda one: (one.header.began_utc, one.path), reverse=True))


def find(folder: Path, word: str) -> Path:
    """The record that a word means: a path, `last`, or a part of one name alone.

    Raises:
        AccessError: the folder can't be read.
        UsageError: no run is meant, or several are.
    """
    as_path = Path(word)
    if as_path.suffix == SUFFIX and as_path.is_file():
        return as_path
    if word == NEWEST:
        newest = next(iter(entries(folder)), None)
        if newest is None:
            raise UsageError(
                f"There is no run in {folder} yet; add --tries for those of the bench, or name "
                "another folder with --folder."
            )
        return newest.path
    meant = [path for path in _records(folder) if word in path.stem]
    exact = [path for path in meant if path.stem == word]
    if len(exact or meant) == 1:
        return (exact or meant)[0]
    if not meant:
        raise UsageError(
            f'No run in {folder} has "{word}" in its name; `bainward book list` shows them all, '
            "and --tries those of the bench."
        )
    names = ", ".join(sorted(path.stem for path in meant)[-_SHOWN:])
    raise UsageError(f'"{word}" could mean {len(meant)} runs ({names}); write more of the name.')


def set_test_of(verdict: Verdict, notes: Notes | None) -> SetTest | str:
    """What the set test said, the cook's note before the run's own answer; empty: none was made."""
    if notes is not None and notes.set_test is not None:
        return notes.set_test
    return "" if verdict is Verdict.NONE else verdict


def _records(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.name.endswith(SUFFIX))
    except FileNotFoundError:
        return []
    except OSError as error:
        raise AccessError(
            f"The folder {folder} can't be read ({error.strerror}); name another with --folder."
        ) from error


def _entry(path: Path) -> Entry:
    header = read_header(path)
    closing, sample = _end_of(path)
    try:
        notes = read_notes(path)
    except BainwardError:
        notes = None
    return Entry(
        path=path,
        header=header,
        outcome=closing.outcome if closing else None,
        lasted_s=sample.t_s if sample else 0.0,
        verdict=sample.verdict if sample else Verdict.NONE,
        notes=notes,
    )


def _end_of(path: Path) -> tuple[Closing | None, Sample | None]:
    """The closing and the last sample among the last lines that are whole."""
    try:
        with path.open("rb") as file:
            file.seek(0, os.SEEK_END)
            file.seek(max(0, file.tell() - TAIL_BYTES))
            *lines, _ = file.read().split(b"\n")
    except OSError as error:
        raise AccessError(f"The record {path} can't be read ({error.strerror}).") from error
    closing: Closing | None = None
    for line in reversed(lines):
        fields = unframed(line)
        seq = fields.get("seq") if fields else None
        record = record_of_line(line, seq) if isinstance(seq, int) else None
        if isinstance(record, Closing):
            closing = record
        elif isinstance(record, Sample):
            return closing, record
    return closing, None
