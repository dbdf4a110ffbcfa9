"""Creating the file of a run so that a power cut can't take it away again.

Responsible for the file, its first line and its name on the disk; not for what comes after.
"""

import os
from pathlib import Path

from controller.errors import AccessError, BusyError
from controller.journal.scribe import Write, write_all

FILE_MODE = 0o644


def create(path: Path, first: bytes, write: Write | None = None) -> int:
    """Create `path` with its first line, on the disk with its name; give the descriptor.

    Raises:
        BusyError: the file exists, so it is another run's.
        AccessError: the file can't be created or written; nothing is left of it.
    """
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, FILE_MODE)
    except FileExistsError as error:
        raise BusyError(
            f"The journal {path} exists already, so it is another run's; give another run id."
        ) from error
    except OSError as error:
        raise AccessError(_cannot(path, error)) from error
    try:
        write_all(handle, first, write)
        os.fsync(handle)
        _sync_folder(path.parent)
    except OSError as error:
        os.close(handle)
        path.unlink(missing_ok=True)
        raise AccessError(_cannot(path, error)) from error
    return handle


def _sync_folder(folder: Path) -> None:
    """Without this a power cut may lose the file's name, and with it the run."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _cannot(path: Path, error: OSError) -> str:
    return (
        f"The journal {path} can't be written ({error.strerror}), and no run starts without one;"
        " make its folder exist, be writable and have room, or name another."
    )
