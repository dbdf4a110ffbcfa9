"""The finished rows of a sweep, kept beside its table until the table is whole.

Responsible for no kill and no power cut costing a finished machine, and for refusing to mix two
sweeps; not for running machines or for the table.
"""

import fcntl
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from controller.errors import AccessError, BusyError, UsageError
from controller.journal.lines import framed, unframed
from controller.journal.scribe import write_all
from controller.report.table import Row

SUFFIX = ".rows"
FILE_MODE = 0o644

Purpose = Mapping[str, str]  # what a sweep is of, in words that a refusal can quote


def rows_path(table: Path) -> Path:
    """Where the finished rows of a table are kept."""
    return table.with_name(table.name + SUFFIX)


class KeptRows:
    """Rows on the disk: each line framed by its checksum, so that a torn one is seen and redone."""

    def __init__(self, path: Path, handle: int, rows: dict[int, Row]) -> None:
        """Go on with an open file that holds `rows`, by the machines' numbers."""
        self._path = path
        self._handle = handle
        self.rows = rows

    def add(self, rows: Mapping[int, Row]) -> None:
        """Bring finished rows to the disk.

        Raises:
            AccessError: the disk is full or failing.
        """
        lines = [_line({"number": number, "row": row}) for number, row in rows.items()]
        try:
            write_all(self._handle, b"".join(lines))
            os.fdatasync(self._handle)
        except OSError as error:
            raise _cannot(self._path, error) from error
        self.rows.update(rows)

    def forget(self) -> None:
        """Take the file away: the table holds them all now."""
        self._path.unlink(missing_ok=True)


@contextmanager
def kept_rows(table: Path, purpose: Purpose) -> Iterator[KeptRows]:
    """The rows that an earlier try of the same sweep left beside `table`, to be added to.

    Raises:
        UsageError: they are of another sweep.
        BusyError: another process is at it.
        AccessError: the file can't be read or written.
    """
    path = rows_path(table)
    handle = _locked(path)
    try:
        try:
            rows = _take_up(path, handle, purpose)
        except OSError as error:
            raise _cannot(path, error) from error
        yield KeptRows(path, handle, rows)
    finally:
        os.close(handle)


def _locked(path: Path) -> int:
    """Open the file for us alone; not one that another sweep, now ended, has just taken away."""
    while True:
        try:
            handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, FILE_MODE)
        except OSError as error:
            raise _cannot(path, error) from error
        try:
            _lock(path, handle)
        except BusyError:
            os.close(handle)
            raise
        if os.fstat(handle).st_nlink:
            return handle
        os.close(handle)


def _lock(path: Path, handle: int) -> None:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        raise BusyError(
            f"Another sweep is writing {path}; let it end, or give this one another --table."
        ) from error


def _take_up(path: Path, handle: int, purpose: Purpose) -> dict[int, Row]:
    """Read what is whole, cut off what is torn, and begin a file that holds nothing."""
    data = os.pread(handle, os.fstat(handle).st_size, 0)
    lines, good_bytes = _whole_lines(data)
    is_ours = data.startswith(_BEGINS) or _BEGINS.startswith(data)
    is_torn = is_ours and b"\n" not in data  # killed as it wrote its first line
    if data and not lines and not is_torn:
        raise UsageError(
            f"{path} is there already and does not begin as the rows of a sweep do, so it is left "
            "alone; give this one another --table, or move that file away."
        )
    if len(lines) <= 1:  # a sweep that finished no machine is nothing to keep
        os.ftruncate(handle, 0)
        write_all(handle, _line({"purpose": dict(purpose)}))
        os.fsync(handle)
        return {}
    os.ftruncate(handle, good_bytes)
    _refuse_others(path, lines[0].get("purpose"), purpose)
    return {line["number"]: line["row"] for line in lines[1:]}  # type: ignore[misc] # as framed


_BEGINS = b'{"purpose"'


def _whole_lines(data: bytes) -> tuple[list[dict[str, object]], int]:
    lines: list[dict[str, object]] = []
    good_bytes = 0
    for raw in data.splitlines(keepends=True):
        line = unframed(raw[:-1]) if raw.endswith(b"\n") else None
        if line is None:
            break
        lines.append(line)
        good_bytes += len(raw)
    return lines, good_bytes


def _refuse_others(path: Path, found: object, purpose: Purpose) -> None:
    """Two sweeps in one table would be worth nothing."""
    before = found if isinstance(found, dict) else {}
    for name, now in purpose.items():
        if before.get(name) != now:
            raise UsageError(
                f"{path} holds the rows of another sweep, which was interrupted ({name}: "
                f"{before.get(name, 'not known')}; now {now}). Give this one another --table, "
                "or remove that file to begin again."
            )


def _line(record: Mapping[str, object]) -> bytes:
    return framed(json.dumps(record, ensure_ascii=False, separators=(",", ":"))[:-1])


def _cannot(path: Path, error: OSError) -> AccessError:
    return AccessError(
        f"The finished rows can't be kept in {path} ({error.strerror}); make its folder exist, be "
        "writable and have room, or name another place with --table."
    )
