"""Turns what pydantic found into one sentence each: where, what is wrong, what to write.

Responsible for places and remedies; not for the checks themselves.
"""

import difflib
import typing
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from controller.files.temperatures import quoted

_LABEL_KEYS = ("name", "id", "word")  # what the items of a list of tables are called by
_KINDS = {
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "int_type": "a whole number",
    "int_parsing_size": "a whole number of few digits",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "tuple_type": "a list of tables",
    "too_short": "at least one table",
}
_TAG_FAULTS = ("union_tag_invalid", "union_tag_not_found")
_MOST_SENTENCES = 20  # more than that helps nobody


def nearest(word: str, known: Sequence[str]) -> str | None:
    """The known word that looks most like `word`, or None."""
    close = difflib.get_close_matches(word.lower(), known, n=1)
    return close[0] if close else None


def _keys(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """The fields of a table by the keys that a file uses."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _model_in(annotation: object) -> type[BaseModel] | None:
    """The table that a field holds: itself, in a list, or perhaps absent."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = (_model_in(part) for part in typing.get_args(annotation))
    return next((model for model in inner if model is not None), None)


def _kinds_of(field: FieldInfo) -> dict[str, type[BaseModel]]:
    """The tables that a field may hold, by the word that tells them apart; empty for others."""
    if not isinstance(field.discriminator, str):
        return {}
    tables = [_model_in(part) for part in typing.get_args(field.annotation)]
    return {
        word: table
        for table in tables
        if table is not None
        for word in typing.get_args(table.model_fields[field.discriminator].annotation)
    }


@dataclass(frozen=True, slots=True)
class _Spot:
    """Where a fault is, as the file has it: the path, and the table that its last key is of."""

    path: tuple[int | str, ...]
    table: type[BaseModel]

    @property
    def key(self) -> str:
        """The last key of the path."""
        return next((step for step in reversed(self.path) if isinstance(step, str)), "")


def _spot(error: ErrorDetails, model: type[BaseModel]) -> _Spot:
    """Follow pydantic's path, which also names the kind of table that it chose on its way."""
    path: list[int | str] = []
    table, kinds, told_apart_by = model, dict[str, type[BaseModel]](), ""
    for step in error["loc"]:
        if step in kinds:
            model, kinds = kinds[str(step)], {}
            continue
        path.append(step)
        field = _keys(model).get(step) if isinstance(step, str) else None
        table = model if isinstance(step, str) else table
        if field is not None:
            kinds, told_apart_by = _kinds_of(field), str(field.discriminator)
            model = _model_in(field.annotation) or model
    if error["type"] in _TAG_FAULTS:
        return _Spot((*path, told_apart_by), next(iter(kinds.values())))
    return _Spot(tuple(path), table)


def _label(item: object, index: int) -> str:
    """What the reader calls the item of a list: its name, or its number."""
    labels = (item.get(key) for key in _LABEL_KEYS) if isinstance(item, Mapping) else iter(())
    name = next((label for label in labels if isinstance(label, str)), None)
    return quoted(name) if name else str(index + 1)


def where(path: Sequence[int | str], raw: object) -> str:
    """A place in the file as a person would say it: `phase "cool" · bath_cut`."""
    words: list[str] = []
    here = raw
    for step in path:
        if isinstance(step, int):
            here = here[step] if isinstance(here, Sequence) else None
            words[-1] += f" {_label(here, step)}"
        else:
            here = here.get(step) if isinstance(here, Mapping) else None
            words.append(step)
    return " · ".join(words)


def _example(field: FieldInfo | None) -> str:
    examples = field.examples if field is not None else None
    return str(examples[0]) if examples else ""


def _write(key: str, field: FieldInfo | None) -> str:
    """The remedy for a key that is missing or of the wrong kind."""
    example = _example(field)
    if not example and field is not None and _model_in(field.annotation) is not None:
        example = f"[{key}]"
    return f"write {example}" if example.startswith("[") else f"write {key} = {example}"


def _unknown_key(key: str, keys: Sequence[str]) -> str:
    close = nearest(key, keys)
    if close is not None:
        return f"is not a key here; did you mean {close}?"
    return f"is not a key here; known are {', '.join(keys)}"


def _not_one_of(error: ErrorDetails) -> str:
    ctx = error["ctx"]
    words = str(ctx.get("expected_tags", ctx.get("expected"))).replace(" or ", ",")
    known = [part.strip("' ") for part in words.split(",")]
    said = quoted(ctx.get("tag", error["input"]))
    close = nearest(said.strip('"'), known) or known[0]
    return f"{said} is not one of {', '.join(known)}; write {quoted(close)}"


def _sentence(error: ErrorDetails, spot: _Spot) -> str:
    kind, key, keys = error["type"], spot.key, _keys(spot.table)
    match kind:
        case "value_error":
            return str(error["ctx"]["error"])
        case "extra_forbidden":
            return _unknown_key(key, list(keys))
        case "missing" | "union_tag_not_found":
            return f"is missing; {_write(key, keys.get(key))}"
        case "enum" | "union_tag_invalid":
            return _not_one_of(error)
        case "literal_error":
            return f"{quoted(error['input'])} is not known; {_write(key, keys.get(key))}"
        case _:
            wanted = _KINDS.get(kind, error["msg"].removeprefix("Input should be "))
            remedy = (
                f"write {key} = true or {key} = false"  # either may be meant
                if kind == "bool_type"
                else _write(key, keys.get(key))
            )
            return f"must be {wanted}; {remedy}"


def _is_echo(error: ErrorDetails, every: Sequence[ErrorDetails]) -> bool:
    """A list is called empty, too, when each of its items has a fault of its own."""
    inside = (one["loc"][: len(error["loc"])] for one in every if one is not error)
    return error["type"] == "too_short" and error["loc"] in inside


def complaints(error: ValidationError, model: type[BaseModel], raw: object) -> list[str]:
    """One sentence for each fault: `phase "cool" · bath_cut: "45" has no unit; write "45 C"`."""
    lines = []
    found = error.errors(include_url=False)
    for one in [one for one in found if not _is_echo(one, found)][:_MOST_SENTENCES]:
        spot = _spot(one, model)
        lines.append(f"{where(spot.path, raw)}: {_sentence(one, spot)}")
    return lines
