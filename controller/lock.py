"""One daemon a machine: an advisory lock that ends with its process.

Responsible for refusing a second daemon; not for what the first one does.
"""

import fcntl
import os
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.errors import AccessError, BusyError


class MachineLock:
    """Held while a daemon runs a machine; usable as a context manager."""

    def __init__(self, folder: Path, machine: str) -> None:
        """Name the lock; nothing is taken yet."""
        self._path = folder / f"{machine}.lock"
        self._machine = machine
        self._file: int | None = None

    def __enter__(self) -> Self:
        """Take the lock.

        Raises:
            BusyError: another process holds it.
            AccessError: the lock's folder can't be written.
        """
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            self._file = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as error:
            raise AccessError(
                f"The lock file {self._path} can't be opened ({error.strerror}); "
                "make its folder writable, or name another with XDG_STATE_HOME."
            ) from error
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(self._file)
            self._file = None
            raise BusyError(
                f"Machine {self._machine} is already run by another bainward "
                f"(it holds {self._path}); stop that one first."
            ) from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let go; the file stays, since removing it would race with the next holder."""
        if self._file is not None:
            os.close(self._file)
            self._file = None
