"""Turns what pydantic found into one sentence each: where, what is wrong, what to write.

Responsible for places and remedies; not for the checks themselves.
"""

import difflib
import typing
from collections.abc import Mapping, Sequence

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
    "tuple_type": "a list of tables",
    "too_short": "at least one table",
}
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


def _table_at(model: type[BaseModel], path: Sequence[int | str]) -> type[BaseModel]:
    """The model of the table that `path` leads to."""
    for step in path:
        field = _keys(model).get(step) if isinstance(step, str) else None
        inner = _model_in(field.annotation) if field is not None else None
        model = inner or model
    return model


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
    return f"write {example}" if example.startswith("[") else f"write {key} = {example}"


def _unknown_key(key: str, keys: Sequence[str]) -> str:
    close = nearest(key, keys)
    if close is not None:
        return f"is not a key here; did you mean {close}?"
    return f"is not a key here; known are {', '.join(keys)}"


def _not_one_of(error: ErrorDetails) -> str:
    known = [
        part.strip("' ") for part in str(error["ctx"]["expected"]).replace(" or ", ",").split(",")
    ]
    close = nearest(quoted(error["input"]).strip('"'), known) or known[0]
    return f"{quoted(error['input'])} is not one of {', '.join(known)}; write {quoted(close)}"


def _sentence(error: ErrorDetails, model: type[BaseModel]) -> str:
    path, kind = error["loc"], error["type"]
    key = next((step for step in reversed(path) if isinstance(step, str)), "")
    parent = path[: len(path) - 1 - list(reversed(path)).index(key)] if key else ()
    keys = _keys(_table_at(model, parent))
    match kind:
        case "value_error":
            return str(error["ctx"]["error"])
        case "extra_forbidden":
            return _unknown_key(key, list(keys))
        case "missing":
            return f"is missing; {_write(key, keys.get(key))}"
        case "enum":
            return _not_one_of(error)
        case "literal_error":
            return f"{quoted(error['input'])} is not known; {_write(key, keys.get(key))}"
        case _:
            wanted = _KINDS.get(kind, error["msg"].removeprefix("Input should be "))
            return f"must be {wanted}; {_write(key, keys.get(key))}"


def complaints(error: ValidationError, model: type[BaseModel], raw: object) -> list[str]:
    """One sentence for each fault: `phase "cool" · bath_cut: "45" has no unit; write "45 C"`."""
    found = error.errors(include_url=False)
    lines = [f"{where(one['loc'], raw)}: {_sentence(one, model)}" for one in found]
    return lines[:_MOST_SENTENCES]
