"""How often the computer has started lately, by a note kept beside the records.

Responsible for the note; not for what follows from it (controller.core.recovery).
"""

import os
from datetime import datetime
from pathlib import Path

from controller.core.recovery_rows import BOOTS_WITHIN_S
from controller.errors import AccessError
from controller.journal.records import Stamp

NAME = "boots"
KEPT = 10


def note_boot(folder: Path, boot_id: str, stamp: Stamp) -> int:
    """Note this boot in `folder`; give the number of boots in the last ten minutes, at least 1.

    A wall clock that has gone back, as on a computer without one of its own, counts as "lately"
    until this boot itself is ten minutes old.

    Raises:
        AccessError: the note can't be written.
    """
    path = folder / NAME
    noted = {name: utc for name, utc in _read(path) if name != boot_id}
    if boot_id:
        _write(path, [*noted.items(), (boot_id, stamp.utc)][-KEPT:])
    if stamp.boot_s > BOOTS_WITHIN_S:
        return 1
    return 1 + sum(_is_recent(utc, stamp.utc) for utc in noted.values())


def _is_recent(then: str, now: str) -> bool:
    try:
        past_s = (datetime.fromisoformat(now) - datetime.fromisoformat(then)).total_seconds()
    except (ValueError, TypeError):
        return True  # unsafe unless shown safe
    return past_s <= BOOTS_WITHIN_S


def _read(path: Path) -> list[tuple[str, str]]:
    try:
        lines = path.read_text("utf-8", "replace").splitlines()
    except OSError:
        return []
    return [(name, utc) for name, _, utc in (line.partition(" ") for line in lines) if utc]


def _write(path: Path, boots: list[tuple[str, str]]) -> None:
    """A new file under the old name, so that a power cut leaves the one or the other."""
    fresh = path.with_suffix(".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with fresh.open("w", encoding="utf-8") as file:
            file.writelines(f"{name} {utc}\n" for name, utc in boots)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except OSError as error:
        raise AccessError(
            f"The note of boots {path} can't be written ({error.strerror}); "
            "make its folder writable and free the disk, or name another with --journal-dir."
        ) from error
