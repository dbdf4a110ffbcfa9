"""A record that still grows, read as it does.

Responsible for handing on each whole line once, in order; not for what they mean.
"""

import os
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.errors import AccessError, RecordError
from controller.journal.parsing import record_of_line
from controller.journal.reader import header_of_line
from controller.journal.records import Closing, Header, Note, Sample

_READ_BYTES = 262_144  # at once; a long run has some megabytes
_LONGEST_LINE = 1_048_576  # own engineering value: no line of ours is a hundredth of it

Record = Sample | Note | Closing


class Growing:
    """One record, open until the `with` block ends."""

    def __init__(self, path: Path) -> None:
        """Open it and read its header.

        Raises:
            AccessError: it can't be read.
            RecordError: it is no record.
        """
        self._path = path
        self._seq = 1
        self._tail = b""
        self._at = 0
        with ExitStack() as opened:
            try:
                self._file = opened.enter_context(path.open("rb", buffering=0))
                first = self._first_line()
            except OSError as error:
                raise self._unreadable(error) from error
            self.header: Header = header_of_line(first, path, is_whole=self._at > len(first))
            opened.pop_all()

    def __enter__(self) -> Self:
        """Nothing more to do."""
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: object, _trace: TracebackType | None
    ) -> None:
        """Close the file."""
        self._file.close()

    def age_s(self, now_s: float) -> float:
        """Seconds since something was written, by the file's own time; `now_s` of the epoch."""
        return max(0.0, now_s - os.fstat(self._file.fileno()).st_mtime)

    def news(self) -> tuple[Record, ...]:
        """What has been written since the last call, whole lines only.

        Raises:
            AccessError: it can't be read any more.
            RecordError: a line is not as it was written, or the file has been cut.
        """
        try:
            self._refuse_a_cut()
            data = self._tail + (self._file.read(_READ_BYTES) or b"")
        except OSError as error:
            raise self._unreadable(error) from error
        *lines, self._tail = data.split(b"\n")
        if len(self._tail) > _LONGEST_LINE:
            raise self._broken()
        return tuple(self._record(line) for line in lines)

    def _record(self, line: bytes) -> Record:
        record = record_of_line(line, self._seq)
        if record is None:
            raise self._broken()
        self._seq += 1
        self._at += len(line) + 1
        return record

    def _first_line(self) -> bytes:
        data = self._file.read(_READ_BYTES) or b""
        first, end, self._tail = data.partition(b"\n")
        self._at = len(first) + len(end)
        return first

    def _refuse_a_cut(self) -> None:
        if os.fstat(self._file.fileno()).st_size < self._at:
            raise RecordError(
                f"The record {self._path} has become shorter while it was read; begin again."
            )

    def _broken(self) -> RecordError:
        return RecordError(
            f"The record {self._path} is damaged after byte {self._at}; "
            "bainward journal verify says how, and show what is good of it."
        )

    def _unreadable(self, error: OSError) -> AccessError:
        return AccessError(
            f"The record {self._path} can't be read ({error.strerror}); name one that exists and "
            "is readable."
        )
