"""Writing a leaf of the book so that an interruption loses nothing.

Responsible for files that are either as they were or as they are meant to be; not for what they
hold (notes, traces).
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from controller.errors import AccessError

FILE_MODE = 0o644
PART = ".part"  # nobody reads such a file: it was never finished


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Wait until nobody else writes in `folder`, and keep others waiting while this holds.

    Raises:
        AccessError: the folder is not there, or may not be entered.
    """
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except OSError as error:
        raise AccessError(_cannot(folder, error)) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def write_whole(path: Path, data: bytes) -> None:
    """Put `data` in `path`: after a cut at any moment it holds all of the old or all of the new.

    Raises:
        AccessError: it can't be written; what was there before still is.
    """
    part = path.with_name(f"{path.name}{PART}")
    try:
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.chmod(FILE_MODE)
        part.replace(path)
        _sync_folder(path.parent)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise AccessError(_cannot(path, error)) from error


def refuse_unwritable(path: Path) -> None:
    """Find out before hours of work whether `write_whole` could keep what comes of them.

    Raises:
        AccessError: the folder can't be written, or has no room; nothing is changed.
    """
    part = path.with_name(f"{path.name}{PART}")
    with alone(path.parent):
        try:
            with part.open("wb") as file:
                file.write(b"\n")
                file.flush()
                os.fsync(file.fileno())
            part.unlink()
        except OSError as error:
            raise AccessError(_cannot(path, error)) from error


def _sync_folder(folder: Path) -> None:
    """Without this a power cut may bring the old file back."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _cannot(path: Path, error: OSError) -> str:
    return (
        f"{path} can't be written ({error.strerror}), and what was there before is kept; make its"
        " folder exist, be writable and have room."
    )
