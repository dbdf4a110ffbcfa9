"""A reader of Homie 5 devices that trusts nothing, written from the convention and not from ours.

Responsible for saying what is wrong with a tree of topics; not for fetching it.
Source: Homie convention, version 5: topic ids, payloads, device attributes, life cycle.
"""

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

_ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")
_FORMS = {
    "boolean": re.compile(r"true|false"),
    "integer": re.compile(r"-?[0-9]+"),
    "float": re.compile(r"-?[0-9]+(\.[0-9]+)?([eE]-?[0-9]+)?"),
    "datetime": re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)"),
}
_DATATYPES = {
    "integer", "float", "boolean", "string", "enum", "color", "datetime", "duration", "json",
}  # fmt: skip
_STATES = {"init", "ready", "disconnected", "sleeping", "lost"}
_DEVICE_KEYS = {
    "homie", "version", "name", "nodes", "type", "children", "root", "parent", "extensions",
}  # fmt: skip
_NODE_KEYS = {"name", "type", "properties"}
_PROPERTY_KEYS = {"name", "datatype", "format", "settable", "retained", "unit"}


def faults_in_device(topics: Mapping[str, str], device_id: str) -> list[str]:
    """Everything that is wrong with a device's retained topics, as sentences."""
    base = f"homie/5/{device_id}"
    if not _ID.fullmatch(device_id):
        return [f"device id {device_id!r}"]
    if topics.get(f"{base}/$state") not in _STATES:
        return [f"$state is {topics.get(f'{base}/$state')!r}"]
    description, faults = parsed(topics.get(f"{base}/$description", ""))
    if faults:
        return faults
    rows = dict(properties(description))
    for topic, payload in topics.items():
        path = topic.removeprefix(f"{base}/")
        if path.startswith("$"):
            faults += _faults_in_attribute(path, payload)
        elif path.endswith("/set"):
            faults.append(f"{path} is kept, and a command never is")
        elif path not in rows:
            faults.append(f"{path} is not described")
        elif not rows[path].get("retained", True):
            faults.append(f"{path} is kept, and its description says otherwise")
        else:
            faults += [f"{path}: {fault}" for fault in faults_in_value(rows[path], payload)]
    return faults


def _faults_in_attribute(path: str, payload: str) -> list[str]:
    """What is wrong with a topic of the device's own; log lines are heard and never kept."""
    kind, _, rest = path.partition("/")
    if kind in {"$state", "$description"} and not rest:
        return []
    if kind == "$alert" and _ID.fullmatch(rest) and payload:
        return []
    return [f"{path} is no attribute that is kept"]


def parsed(text: str) -> tuple[dict[str, Any], list[str]]:
    """A description and what is wrong with it."""
    try:
        description = json.loads(text, object_pairs_hook=_without_twins)
    except ValueError as error:
        return {}, [f"$description is no JSON: {error}"]
    return description, list(_faults_in_description(description))


def properties(description: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Each property's path and what the description says of it."""
    for node, body in description["nodes"].items():
        for id_, row in body["properties"].items():
            yield f"{node}/{id_}", row


def faults_in_value(row: Mapping[str, Any], payload: str) -> list[str]:
    """What is wrong with one payload."""
    if payload == "":
        return ["the payload is empty"]
    datatype = row["datatype"]
    if datatype == "enum" and payload not in row["format"].split(","):
        return [f"{payload!r} is none of {row['format']}"]
    if datatype == "json":
        return _faults_in_json(payload)
    if datatype in _FORMS and not _FORMS[datatype].fullmatch(payload):
        return [f"{payload!r} is no {datatype}"]
    return _faults_in_number(row, payload) if datatype in {"integer", "float"} else []


def _faults_in_number(row: Mapping[str, Any], payload: str) -> list[str]:
    if row["datatype"] == "integer" and not -(2**63) <= int(payload) < 2**63:
        return [f"{payload} has more than 64 bits"]
    low, high = row.get("format", ":").split(":")[:2]
    if not float(low or "-inf") <= float(payload) <= float(high or "inf"):
        return [f"{payload} is not in {row['format']}"]
    return []


def _faults_in_json(text: str) -> list[str]:
    try:
        value = json.loads(text, object_pairs_hook=_without_twins, parse_constant=_no_number)
    except ValueError as error:
        return [f"{text!r} is no JSON: {error}"]
    return [] if isinstance(value, dict | list) else [f"{text!r} is neither object nor array"]


def _no_number(name: str) -> object:
    raise ValueError(f"{name} is no number")


def _without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(dict(pairs)) < len(pairs):
        raise ValueError("a key stands there twice")
    return dict(pairs)


def _faults_in_description(description: Mapping[str, Any]) -> Iterator[str]:
    yield from (f"{path} is null" for path in _nulls(description))
    if unknown := description.keys() - _DEVICE_KEYS:
        yield f"unknown keys {sorted(unknown)}"
    if not re.fullmatch(r"5\.[0-9]+", str(description.get("homie"))):
        yield f"homie is {description.get('homie')!r}"
    if type(description.get("version")) is not int:
        yield f"version is {description.get('version')!r}"
    if not isinstance(description.get("nodes"), dict):
        yield "there are no nodes"
        return
    for node, body in description["nodes"].items():
        if not _ID.fullmatch(node):
            yield f"node id {node!r}"
        if unknown := body.keys() - _NODE_KEYS:
            yield f"{node}: unknown keys {sorted(unknown)}"
        for id_, row in body.get("properties", {}).items():
            if not _ID.fullmatch(id_):
                yield f"property id {id_!r}"
            yield from (f"{node}/{id_}: {fault}" for fault in _faults_in_property(row))


def _faults_in_property(row: Mapping[str, Any]) -> Iterator[str]:
    if unknown := row.keys() - _PROPERTY_KEYS:
        yield f"unknown keys {sorted(unknown)}"
    if row.get("datatype") not in _DATATYPES:
        yield f"datatype {row.get('datatype')!r}"
    if any(type(row.get(key, True)) is not bool for key in ("settable", "retained")):
        yield "settable and retained are booleans"
    if any(type(row.get(key, "x")) is not str for key in ("name", "unit", "format")):
        yield "name, unit and format are text"
    if any(sign in str(row.get("unit", "")) for sign in ("\u2103", "\u2109", "\u00ba")):
        yield "a degree is U+00B0 and a letter"
    if fault := _FORMATS.get(str(row.get("datatype")), _sound)(str(row.get("format", ""))):
        yield fault


def _sound(_format: str) -> str:
    return ""


def _fault_in_words(text: str) -> str:
    words = text.split(",")
    is_sound = len(set(words)) == len(words) and "" not in words
    return "" if is_sound else f"format {text!r} is missing, or has an empty or a double word"


def _fault_in_range(text: str) -> str:
    if not text:
        return ""
    parts = text.split(":")
    try:
        low, high, step = (float(part) if part else None for part in (*parts, "")[:3])
    except ValueError:
        return f"format {text!r} is no range"
    is_empty = low is not None and high is not None and low >= high
    if not 2 <= len(parts) <= 3 or is_empty or (step is not None and step <= 0.0):
        return f"format {text!r} is no range"
    return ""


def _fault_in_color(text: str) -> str:
    words = set(text.split(","))
    return "" if words and words <= {"rgb", "hsv", "xyz"} else f"format {text!r} is no colour's"


def _fault_in_labels(text: str) -> str:
    labels = text.split(",")
    is_sound = not text or (len(labels) == 2 and labels[0] != labels[1] and all(labels))
    return "" if is_sound else f"format {text!r} is not two labels"


def _fault_in_schema(text: str) -> str:
    return "; ".join(_faults_in_json(text)) if text else ""


_FORMATS = {
    "enum": _fault_in_words,
    "color": _fault_in_color,
    "integer": _fault_in_range,
    "float": _fault_in_range,
    "boolean": _fault_in_labels,
    "json": _fault_in_schema,
}


def _nulls(value: object, path: str = "description") -> Iterator[str]:
    if value is None:
        yield path
    if isinstance(value, dict):
        for key, part in value.items():
            yield from _nulls(part, f"{path}/{key}")
