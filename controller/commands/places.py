"""Where records and locks live on this computer.

Responsible for paths after the XDG base directory convention; not for what is in the files.
"""

import os
from pathlib import Path
from typing import TYPE_CHECKING

from controller.errors import AccessError, UsageError

if TYPE_CHECKING:
    import argparse


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


def shelf_folder(options: "argparse.Namespace") -> Path:
    """Where the records are that a command is to read, by --folder and --tries."""
    named: Path | None = options.folder
    return named or state_folder() / ("tries" if options.tries else "runs")


def runs_folder(*named: Path | None) -> Path:
    """Where runs are written down: the first that is named, or the usual folder."""
    found = next((one for one in named if one is not None), None)
    return found or state_folder() / "runs"


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
