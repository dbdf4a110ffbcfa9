"""Loads a plan file: what is to be made, of what and in which room, in the words of a cook.

Responsible for finding, reading and its keys; not for what a value means (planning.wish).
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field, ValidationError

from controller.errors import PlanError
from controller.files.complaints import complaints
from controller.files.mistaken import PLAN, refuse_another
from controller.files.shapes import FileTable, Table
from controller.files.temperatures import quoted
from controller.files.toml_file import read_toml
from controller.planning.wish import PIECE_KEYS, SCALARS, SHELL_KEYS, Words

_LONGEST = 60
_MOST_MAKES = 20


def _value(raw: object) -> str:
    """A quantity in quotes, or a bare number; planning says which may go bare."""
    text = str(raw).strip() if isinstance(raw, str | int | float) else ""
    if isinstance(raw, bool) or not 0 < len(text) <= _LONGEST:
        raise ValueError(f"{quoted(raw)} is no quantity; write it in quotes, with its unit")
    return text


Value = Annotated[str, BeforeValidator(_value), Field(examples=['"8 g"'])]


class MakeTable(Table):
    """One `[[make]]`: dipped pieces, or shells."""

    name: Value | None = None
    count: Value | None = None
    centre: Value | None = None
    coating: Value | None = None
    shape: Value | None = None
    size: Value | None = None
    wall: Value | None = None
    at_once: Value | None = None

    def words(self) -> Words:
        """Those that are there."""
        given = {key: getattr(self, key) for key in (*PIECE_KEYS, *SHELL_KEYS)}
        return {key: value for key, value in given.items() if value is not None}


class PlanTable(FileTable):
    """The whole file."""

    chocolate: Value | None = Field(None, examples=['"dark"'])
    fat: Value | None = Field(None, examples=['"38 %"'])
    batch: Value | None = Field(None, examples=['"1.2 kg"'])
    left: Value | None = Field(None, examples=['"200 g"'])
    room: Value | None = Field(None, examples=['"21 C"'])
    humidity: Value | None = Field(None, examples=['"55 %"'])
    altitude: Value | None = Field(None, examples=['"850 m"'])
    pressure: Value | None = Field(None, examples=['"915 hPa"'])
    tap: Value | None = Field(None, examples=['"15 C"'])
    seed: Value | None = Field(None, examples=['"20 C"'])
    fridge: Value | None = Field(None, examples=['"6 C"'])
    work: Value | None = Field(None, examples=['"40 min"'])
    by: Value | None = Field(None, examples=['"15:00"'])
    ready_at: Value | None = Field(None, examples=['"14:00"'])
    profile: Value | None = Field(None, examples=['"dark-seeded"'])
    machine: Value | None = Field(None, examples=['"kitchen.toml"'])
    make: tuple[MakeTable, ...] = Field((), strict=False, max_length=_MOST_MAKES)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFile:
    """All that a plan file says, still in its own words."""

    told: Words
    makes: tuple[tuple[str, Words], ...]
    orders: Words  # by, ready_at, profile, machine


def load_plan_file(path: Path) -> PlanFile:
    """The file's words.

    Raises:
        PlanError: it can't be read or has keys that are none; one line for each fault.
    """
    try:
        raw = read_toml(path)
        refuse_another(raw, PLAN)
        table = PlanTable.model_validate(raw)
    except ValidationError as error:
        found = complaints(error, PlanTable, raw)
        raise PlanError("\n".join(f"{path.name}, {one}" for one in found)) from None
    except ValueError as error:
        raise PlanError(f"{path.name}: {error}") from None
    makes = tuple(
        (f"make {quoted(one.name) if one.name else number}", one.words())
        for number, one in enumerate(table.make, start=1)
    )
    orders = _given(table, ("by", "ready_at", "profile", "machine"))
    return PlanFile(
        told=_given(table, SCALARS),
        makes=makes,
        orders={key: _beside(path, key, word) for key, word in orders.items()},
    )


def _beside(path: Path, key: str, word: str) -> str:
    """Another file's path goes from where this one lies; all else stays as it is."""
    is_path = key in {"profile", "machine"} and ("/" in word or word.endswith(".toml"))
    return str(path.parent / word) if is_path else word


def _given(table: PlanTable, keys: tuple[str, ...]) -> Words:
    values = {key: getattr(table, key) for key in keys}
    return {key: value for key, value in values.items() if value is not None}
