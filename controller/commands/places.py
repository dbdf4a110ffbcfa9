"""Where records and locks live on this computer.

Responsible for paths after the XDG base directory convention; not for what is in the files.
"""

import os
from pathlib import Path

from controller.errors import AccessError, UsageError


def state_folder() -> Path:
    """Records and locks, unless a machine file or an option names another folder."""
    base = os.environ.get("XDG_STATE_HOME", "")
    if base.startswith("/"):
        return Path(base) / "bainward"
    home = os.environ.get("HOME", "") or "~"
    try:
        return Path(home).expanduser() / ".local" / "state" / "bainward"
    except RuntimeError:
        raise UsageError(
            "There is no home folder to keep records in; set HOME or XDG_STATE_HOME."
        ) from None


def made(folder: Path) -> Path:
    """The folder, made if it was not there.

    Raises:
        AccessError: it can't be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise AccessError(
            f"The folder {folder} for the run's record can't be made ({error.strerror}); "
            "name one that can be written with --journal-dir."
        ) from error
    return folder
