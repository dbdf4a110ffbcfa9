"""A file that a command writes at its end, looked at before it begins.

Responsible for one clear sentence where it can't be written; not for what is in it. A sweep of an
hour must not end with a picture that its disk refuses.
"""

from pathlib import Path
from tempfile import TemporaryFile

from controller.errors import AccessError


def check_target(path: Path, what: str) -> None:
    """See whether `path` can be written, as far as anybody can tell now. Nothing is left of it.

    Args:
        path: the file to come; one that is there already stays as it is.
        what: a word for it, for the sentence: "picture".

    Raises:
        AccessError: its folder is not there, or it can't be written.
    """
    try:
        why = _obstacle(path)
    except OSError as error:
        raise AccessError(
            f"The {what} {path} can't be written ({error.strerror}); name one in a folder that you "
            "may write in."
        ) from error
    if why:
        raise AccessError(f"The {what} {path} can't be written: {why}.")


def _obstacle(path: Path) -> str:
    """What is in the way, and what to do; empty if nothing is.

    Raises:
        OSError: the disk says so itself.
    """
    if not path.parent.is_dir():
        return f"there is no folder {path.parent}; make it"
    if path.is_dir():
        return "it is a folder; name a file"
    if path.is_file():
        with path.open("ab"):
            return ""
    if path.exists():  # opening a pipe would wait for ever
        return "it is no plain file; name another"
    # Never `path` itself for a moment: another command may just be putting its own there.
    with TemporaryFile(dir=path.parent):
        return ""
