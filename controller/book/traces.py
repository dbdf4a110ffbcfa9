"""What the last product leaves in a machine, and who must be told before the next.

Responsible for allergens and for each machine's memory of them; not for asking the cook
(commands/tracing).
"""

import difflib
import re
from pathlib import Path

import msgspec
from msgspec import Struct

from controller.book.pen import alone, write_whole
from controller.core.profile import Kind
from controller.errors import AccessError, TableError

# The substances that a label must name in the European Union: Regulation (EU) No 1169/2011,
# Annex II; from memory, not checked.
ALLERGENS = (
    "gluten",
    "crustaceans",
    "egg",
    "fish",
    "peanut",
    "soya",
    "milk",
    "nuts",
    "celery",
    "mustard",
    "sesame",
    "sulphites",
    "lupin",
    "molluscs",
)
# What each kind holds for certain, or nearly so; lecithin (soya) and nuts stand on the bag.
OF_KIND = {Kind.MILK: ("milk",), Kind.WHITE: ("milk",), Kind.COMPOUND: ("milk",)}
_ODD = re.compile(r"[^A-Za-z0-9._-]")


class Last(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The last product in a machine."""

    machine: str
    run_id: str
    began_utc: str  # ISO 8601
    title: str  # in a cook's words
    carries: tuple[str, ...]  # allergens that may still be in the machine


def allergen_of(word: str) -> str:
    """The allergen meant.

    Raises:
        ValueError: none is; the sentence names the nearest.
    """
    plain = word.strip().casefold()
    if plain in ALLERGENS:
        return plain
    near = difflib.get_close_matches(plain, ALLERGENS, n=1)
    hint = f"did you mean {near[0]}?" if near else f"write some of {', '.join(ALLERGENS)}"
    raise ValueError(f'"{word.strip()[:40]}" is no allergen that a label names; {hint}')


def sorted_allergens(*groups: tuple[str, ...]) -> tuple[str, ...]:
    """Each once, in the order of the list."""
    return tuple(one for one in ALLERGENS if any(one in group for group in groups))


def left_behind(last: Last | None, contains: tuple[str, ...]) -> tuple[str, ...]:
    """What may get from the machine into a product that does not contain it."""
    return () if last is None else tuple(one for one in last.carries if one not in contains)


def memory_path(folder: Path, machine: str) -> Path:
    """Where a machine's memory is; its name may hold signs that a file's may not."""
    return folder / f"{_ODD.sub('_', machine)}.last.json"


def recall(folder: Path, machine: str) -> Last | None:
    """The last product in that machine; None where none is known.

    Raises:
        AccessError: the memory can't be read.
        TableError: it can't be understood.
    """
    path = memory_path(folder, machine)
    try:
        return msgspec.json.decode(path.read_bytes(), type=Last)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise AccessError(
            f"{path}, which says what was last in the machine, can't be read ({error.strerror});"
            " make it readable."
        ) from error
    except msgspec.DecodeError as error:
        raise TableError(
            f"{path}, which says what was last in the machine, can't be understood ({error});"
            " wash the machine and delete the file."
        ) from error


def remember(folder: Path, last: Last) -> None:
    """Keep that this product is in its machine now.

    Raises:
        AccessError: it can't be written.
    """
    with alone(folder):
        write_whole(memory_path(folder, last.machine), msgspec.json.encode(last) + b"\n")
