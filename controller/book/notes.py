"""What a cook notes of a batch, then and later: the file beside the run's record.

Responsible for its shape, for reading and for changing it; not for how its bytes get to the disk
(pen).
"""

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path

import msgspec
from msgspec import Struct

from controller.book.pen import alone, write_whole
from controller.errors import AccessError, TableError
from controller.journal.reader import SUFFIX

SCHEMA = 1
NOTES_SUFFIX = ".notes.json"


class SetTest(StrEnum):
    """How a thin smear looked, at 18 to 21 °C and after some 5 minutes."""

    CLEAN = "clean"  # set, and clean
    STREAKED = "streaked"
    NOT_SET = "not-set"


class Gloss(StrEnum):
    """How the finished pieces shine."""

    GLOSSY = "glossy"
    DULL = "dull"
    STREAKED = "streaked"


class Snap(StrEnum):
    """How they break."""

    CLEAN = "clean"
    SOFT = "soft"
    CRUMBLES = "crumbles"


class Bloom(StrEnum):
    """What a look a week later shows."""

    NONE = "none"
    SPECKS = "specks"
    FILM = "film"


class Remark(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something that a cook wrote, and when."""

    at_utc: str  # ISO 8601
    text: str


class Notes(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that was noted of one batch. None, or empty: nothing was."""

    schema: int = SCHEMA
    chocolate: str = ""  # what was in the bowl, where the profile serves several kinds
    contains: tuple[str, ...] = ()  # allergens of the product
    traces: tuple[str, ...] = ()  # those that the machine may have brought along
    room_c: float | None = None  # where it was made
    humidity: float | None = None  # there, relative, 0 to 1
    made: str = ""  # what was made of it
    set_test: SetTest | None = None  # what it showed; the last word, over the run's own answer
    gloss: Gloss | None = None
    snap: Snap | None = None
    bloom: Bloom | None = None
    bloom_utc: str = ""  # when that look was taken
    left_kg: float | None = None
    remelts: int = 0  # how often what is left has been melted
    remarks: tuple[Remark, ...] = ()


def notes_path(record: Path) -> Path:
    """Where the notes on a run are, beside its record."""
    return record.with_name(record.name.removesuffix(SUFFIX) + NOTES_SUFFIX)


def read_notes(record: Path) -> Notes:
    """The notes on a run; empty ones where nothing was noted.

    Raises:
        AccessError: the file can't be read.
        TableError: it holds no notes, or those of a newer bainward.
    """
    path = notes_path(record)
    try:
        found = msgspec.json.decode(path.read_bytes(), type=Notes)
    except FileNotFoundError:
        return Notes()
    except OSError as error:
        raise AccessError(
            f"The notes {path} can't be read ({error.strerror}); make them readable."
        ) from error
    except msgspec.DecodeError as error:
        raise TableError(
            f"{path} holds no notes of this bainward ({error}); move it away, or use the bainward"
            " that wrote it."
        ) from error
    if found.schema > SCHEMA:
        raise TableError(
            f"The notes {path} have schema {found.schema} and this program reads up to {SCHEMA};"
            " use the bainward that wrote them, or a newer one."
        )
    return found


def change_notes(record: Path, change: Callable[[Notes], Notes]) -> Notes:
    """Read, change and write the notes on a run, while nobody else does.

    Raises:
        AccessError: they can't be read or written; what was there before still is.
        TableError: what is there can't be understood, and is left as it is.
    """
    path = notes_path(record)
    with alone(path.parent):
        notes = change(read_notes(record))
        write_whole(path, msgspec.json.format(msgspec.json.encode(notes), indent=1) + b"\n")
    return notes
