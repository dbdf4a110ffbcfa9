"""A thermometer's correction in a machine file: put in, and nothing else of the file touched.

Responsible for the change of the text, and for being sure that it says just that; not for how big
a correction is (calibration).
"""

import os
import re
import tomllib
from contextlib import suppress
from pathlib import Path

from controller.book.pen import alone, write_whole
from controller.errors import AccessError, MachineFileError

TABLE = "probes"
SAME_K = 5e-4  # the file has thousandths
_HEAD = re.compile(rf"^[ \t]*\[[ \t]*{TABLE}[ \t]*\][ \t]*(#.*)?$", re.MULTILINE)
_ANY_HEAD = re.compile(r"^[ \t]*\[", re.MULTILINE)


def value_text(value_k: float) -> str:
    """As the machine file has it."""
    return f"{round(value_k, 3) + 0.0:.3f} K"


def corrected_text(text: str, key: str, value_k: float) -> str:
    """The machine file with that key of [probes] changed or added.

    Raises:
        ValueError: it can't be done without touching more, as where the table is written in line.
    """
    line = f'{key} = "{value_text(value_k)}"'
    head = _HEAD.search(text)
    if head is None:
        changed = f"{text.rstrip()}\n\n[{TABLE}] # added to what a thermometer reads\n{line}\n"
    else:
        after = _ANY_HEAD.search(text, head.end())
        end = len(text) if after is None else after.start()
        table = text[head.end() : end]
        fresh, found = re.subn(
            rf"^([ \t]*){key}[ \t]*=[^\n#]*?([ \t]*(#.*)?)$",
            lambda match: f"{match[1]}{line}{match[2]}",
            table,
            count=1,
            flags=re.MULTILINE,
        )
        changed = text[: head.end()] + (fresh if found else f"\n{line}{table}") + text[end:]
    _be_sure(text, changed, key, value_k)
    return changed


def _be_sure(before: str, after: str, key: str, value_k: float) -> None:
    """Both must say the same but for that one key."""
    old, new = tomllib.loads(before), tomllib.loads(after)
    old.setdefault(TABLE, {})
    old[TABLE] = {**old[TABLE], key: value_text(value_k)}
    if old != new:
        raise ValueError("its table can't be changed by itself")


def correct(path: Path, key: str, value_k: float) -> None:
    """Put the correction into the machine file; whole or not at all.

    Raises:
        AccessError: it can't be read or written.
        MachineFileError: a person must do it; the sentence says what to write.
    """
    real = path.resolve()
    try:
        text, was = real.read_text(encoding="utf-8"), real.stat()
    except OSError as error:
        raise AccessError(f"{path} can't be read ({error.strerror}).") from error
    try:
        changed = corrected_text(text, key, value_k)
    except ValueError:
        raise MachineFileError(
            f"{path} is written so that only you can change it: write {key} = "
            f'"{value_text(value_k)}" into its table [{TABLE}].'
        ) from None
    with alone(real.parent):
        write_whole(real, changed.encode())
        with suppress(OSError):  # somebody else's file, which could be replaced all the same
            os.chown(real, was.st_uid, was.st_gid)
        with suppress(OSError):
            real.chmod(was.st_mode)
