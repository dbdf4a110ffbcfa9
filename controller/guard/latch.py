"""What the guard remembers across its own end: the latched cause, and that heat was permitted.

Responsible for one small file, written whole or not at all, and for one guard a file; not for what
may be latched.
"""

import fcntl
import json
import os
import re
import zlib
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.errors import AccessError, BusyError
from controller.guard.decision import CAUSES_MAX, Cause, causes_of
from controller.guard.words import words_of

_MOST_BYTES = 4096  # a whole file has about 200, and with all the causes that there are 2000
_WORD = re.compile(r"[a-z-]{1,28}")
_FOLDER_MODE = 0o750
_FILE_MODE = 0o640
_NO_FILE = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """What the file says."""

    latched: Cause = Cause.NONE
    since_s: int = 0  # when it latched, seconds of Unix time
    armed: bool = False  # heat was permitted, and no farewell came since
    tripped: str = ""  # the controller's word for its trip, where that latched
    also: tuple[str, ...] = ()  # the words of what came after the first, until a person re-arms

    @property
    def causes(self) -> tuple[str, ...]:
        """The words of all that is latched, the first one first."""
        return causes_of(self.latched, self.tripped, self.also)


def to_bytes(memory: Memory) -> bytes:
    """The whole file: one line for people and programs, one with its checksum."""
    line = json.dumps(
        {
            "also": memory.also,
            "armed": memory.armed,
            "cause": memory.latched,
            "since_s": memory.since_s,
            "tripped": memory.tripped,
            "what": words_of(memory.latched, memory.tripped)[0],
        }
    ).encode()
    return line + b"\n%08x\n" % zlib.crc32(line)


def from_bytes(data: bytes) -> Memory | None:
    """What `to_bytes` wrote; None for anything else."""
    line, _, check = data.partition(b"\n")
    if check != b"%08x\n" % zlib.crc32(line):
        return None
    try:
        raw = json.loads(line)
        memory = Memory(
            latched=Cause(raw["cause"]),
            since_s=int(raw["since_s"]),
            armed=raw["armed"] is True,
            tripped=raw.get("tripped", ""),
            also=tuple(raw.get("also", ())),
        )
        # What is no word could be told to nobody, and its rule would be lost with it.
        is_told = all(map(_WORD.fullmatch, (memory.tripped or "-", *memory.also)))
        return memory if is_told and len(memory.also) <= CAUSES_MAX else None
    except (ValueError, KeyError, TypeError):
        return None


class Latch:
    """The file and its lock; usable as a context manager, held while a guard runs."""

    def __init__(self, path: Path) -> None:
        """Name the file; nothing is touched yet."""
        self._path = path
        self._lock = _NO_FILE

    def __enter__(self) -> Self:
        """Take the lock, which lies beside the file since each writing puts a new file there.

        Raises:
            BusyError: another guard holds it.
            AccessError: the folder can't be made or written.
        """
        try:
            self._path.parent.mkdir(mode=_FOLDER_MODE, parents=True, exist_ok=True)
            lock = f"{self._path}.lock"
            self._lock = os.open(lock, os.O_RDONLY | os.O_CREAT | os.O_CLOEXEC, _FILE_MODE)
        except OSError as error:
            raise AccessError(
                f"The guard can't remember trips beside {self._path} ({error.strerror}), "
                "and without that it permits no heat: free or mend the disk, or name another latch."
            ) from error
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(self._lock)
            raise BusyError(
                f"Another guard already holds {self._path}: stop that one first, "
                "or name another latch in [guard] if this is another machine."
            ) from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let go; the lock's file stays, since removing it would race with the next holder."""
        os.close(self._lock)

    def read(self) -> Memory:
        """What a guard that starts now must take as latched.

        No file is a first start. A file that can't be read or was torn is latched, and so is one
        that says that heat was permitted when its guard ended.
        """
        try:
            with self._path.open("rb") as file:
                memory = from_bytes(file.read(_MOST_BYTES))
        except FileNotFoundError:
            return Memory()
        except OSError:
            memory = None
        if memory is None:
            return Memory(latched=Cause.LATCH_UNREADABLE)
        if memory.armed and memory.latched is Cause.NONE:
            return Memory(latched=Cause.GUARD_RESTARTED)
        return memory

    def write(self, memory: Memory) -> None:
        """Put the whole new file in the place of the old one, on the disk itself.

        Raises:
            OSError: it can't be; the old file is still whole.
        """
        fresh = Path(f"{self._path}.new")
        try:
            _write_through(fresh, to_bytes(memory))
            fresh.rename(self._path)
        except OSError:
            with suppress(OSError):
                fresh.unlink()
            raise
        # Without this the new name may be lost in a power cut, and the armed mark with it.
        folder = os.open(self._path.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _write_through(path: Path, data: bytes) -> None:
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
