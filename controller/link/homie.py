"""The Homie 5 convention, as far as the link needs it: properties, payloads, the description.

Responsible for the convention's forms; not for which properties there are (tree).
Source: Homie convention, version 5 (topic ids, payloads, device description).
"""

import json
import math
import zlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from controller.ports import Moment

VERSION = "5.0"
ROOT = "homie/5"


class Datatype(StrEnum):
    """The datatypes in use here."""

    BOOLEAN = "boolean"
    DATETIME = "datetime"
    ENUM = "enum"
    FLOAT = "float"
    INTEGER = "integer"
    JSON = "json"
    STRING = "string"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """When a value is sent: on a change of `step` or more, but not before `gap_s` has gone by.

    After `most_s` it is sent in any case. A step of 0 means any change of the text; with
    `words_at_once` one of more than its figures waits for nothing.
    """

    gap_s: float = 0.0
    step: float = 0.0
    most_s: float = math.inf
    words_at_once: bool = False


AT_ONCE = Rhythm()


@dataclass(frozen=True, slots=True, kw_only=True)
class Property:
    """One topic. `value` gives its text, or None while there is no value to show."""

    path: str  # node and property id
    name: str
    datatype: Datatype
    value: Callable[[Moment], str | None]
    unit: str = ""
    format: str = ""
    settable: bool = False
    retained: bool = True
    rhythm: Rhythm = AT_ONCE


def number(value: float, places: int) -> str | None:
    """A float: plain decimals, no minus zero; None for what is no number."""
    if not math.isfinite(value):
        return None
    return f"{round(value, places) + 0.0:.{places}f}"


def boolean(value: bool) -> str:
    """A boolean."""
    return "true" if value else "false"


def choices(words: Iterable[str]) -> str:
    """An enum's format: each word once, no space after the comma."""
    return ",".join(dict.fromkeys(words))


def describe(properties: Iterable[Property], *, name: str, nodes: Mapping[str, str]) -> str:
    """The `$description` of a device with these properties; `nodes` gives the nodes' names.

    Its version is a check sum of the rest, so it changes exactly when the description does.
    """
    listed: dict[str, dict[str, object]] = {}
    for row in properties:
        node, _, id_ = row.path.partition("/")
        listed.setdefault(node, {})[id_] = _described(row)
    body: dict[str, object] = {
        "homie": VERSION,
        "name": name,
        "nodes": {node: {"name": nodes[node], "properties": rows} for node, rows in listed.items()},
    }
    version = zlib.crc32(json.dumps(body, sort_keys=True).encode())
    return json.dumps({**body, "version": version}, ensure_ascii=False)


def _described(row: Property) -> dict[str, object]:
    described: dict[str, object] = {
        "name": row.name,
        "datatype": row.datatype.value,
        "settable": row.settable,
        "retained": row.retained,
    }
    if row.unit:
        described["unit"] = row.unit
    if row.format:
        described["format"] = row.format
    return described
