"""A reader of Homie 5 devices that trusts nothing, written from the convention and not from ours.

Responsible for saying what is wrong with a tree of topics; not for fetching it.
Source: Homie convention, version 5: topic ids, payloads, device attributes, life cycle.
"""

import json
import math
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from functools import partial
from typing import Any

_ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")
_FORMS = {
    "boolean": re.compile(r"true|false"),
    "integer": re.compile(r"-?[0-9]+"),
    "float": re.compile(r"-?[0-9]+(\.[0-9]+)?([eE]-?[0-9]+)?"),
    "datetime": re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)"),
    "duration": re.compile(r"PT(?=\d)(\d+H)?(\d+M)?(\d+S)?"),
    "string": re.compile(r"[^\x00]+|\x00"),  # one zero byte stands for the empty text
}
_RANGES = {"rgb": (255.0,) * 3, "hsv": (360.0, 100.0, 100.0), "xyz": (1.0, 1.0)}
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
        elif path.endswith("/$target"):
            faults += _faults_in_target(rows, path.removesuffix("/$target"), payload)
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


def _faults_in_target(rows: Mapping[str, Any], path: str, payload: str) -> list[str]:
    """What is wrong with a value that a property is on its way to."""
    if path not in rows:
        return [f"{path}/$target belongs to nothing described"]
    if not rows[path].get("settable", False):
        return [f"{path}/$target belongs to what nobody sets"]
    return [f"{path}/$target: {fault}" for fault in faults_in_value(rows[path], payload)]


def parsed(text: str) -> tuple[dict[str, Any], list[str]]:
    """A description and what is wrong with it."""
    try:
        description = json.loads(text, object_pairs_hook=_without_twins)
    except ValueError as error:
        return {}, [f"$description is no JSON: {error}"]
    if not isinstance(description, dict):
        return {}, ["$description is no object"]
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
    more = _MORE.get(datatype)
    return more(row, payload) if more else []


def _faults_in_moment(_row: Mapping[str, Any], payload: str) -> list[str]:
    return [] if _is_moment(payload) else [f"{payload!r} is in no calendar"]


def _is_moment(payload: str) -> bool:
    try:
        return datetime.fromisoformat(payload).tzinfo is not None
    except ValueError:
        return False


def _faults_in_color(row: Mapping[str, Any], payload: str) -> list[str]:
    """Such as "rgb,255,0,12": a form that the format names, and numbers within its bounds."""
    form, *parts = payload.split(",")
    most = _RANGES.get(form, ())
    kind = "float" if form == "xyz" else "integer"
    is_sound = (
        form in row["format"].split(",")
        and len(parts) == len(most)
        and all(_FORMS[kind].fullmatch(part) for part in parts)
        and all(0.0 <= float(part) <= top for part, top in zip(parts, most, strict=True))
    )
    return [] if is_sound else [f"{payload!r} is no colour of {row['format']}"]


def _faults_in_number(row: Mapping[str, Any], payload: str) -> list[str]:
    if row["datatype"] == "integer" and not -(2**63) <= int(payload) < 2**63:
        return [f"{payload} has more than 64 bits"]
    low, high = row.get("format", ":").split(":")[:2]
    if not float(low or "-inf") <= float(payload) <= float(high or "inf"):
        return [f"{payload} is not in {row['format']}"]
    if not math.isfinite(float(payload)):
        return [f"{payload} has more than 64 bits"]
    return _faults_in_step(row.get("format", ""), float(payload))


def _faults_in_step(format_: str, value: float) -> list[str]:
    """A value stands so many whole steps from the lowest, or else the highest, or else 0."""
    low, high, step = (*format_.split(":"), "", "")[:3]
    if not step:
        return []
    steps = (value - float(low or high or 0.0)) / float(step)
    return [] if math.isclose(steps, round(steps), abs_tol=1e-6) else [f"{value} is off {format_}"]


def _faults_in_json(text: str) -> list[str]:
    try:
        value = json.loads(text, object_pairs_hook=_without_twins, parse_constant=_no_number)
    except ValueError as error:
        return [f"{text!r} is no JSON: {error}"]
    return [] if isinstance(value, dict | list) else [f"{text!r} is neither object nor array"]


_MORE = {
    "integer": _faults_in_number,
    "float": _faults_in_number,
    "datetime": _faults_in_moment,
    "color": _faults_in_color,
}


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
    elif not -(2**63) <= description["version"] < 2**63:
        yield "version has more than 64 bits"
    yield from _faults_in_family(description)
    if not isinstance(description.get("nodes"), dict):
        yield "there are no nodes"
        return
    for node, body in description["nodes"].items():
        yield from _faults_in_node(node, body)


def _faults_in_node(node: str, body: Mapping[str, Any]) -> Iterator[str]:
    if not _ID.fullmatch(node):
        yield f"node id {node!r}"
    if unknown := body.keys() - _NODE_KEYS:
        yield f"{node}: unknown keys {sorted(unknown)}"
    if any(type(body.get(key, "x")) is not str for key in ("name", "type")):
        yield f"{node}: name and type are text"
    for id_, row in body.get("properties", {}).items():
        if not _ID.fullmatch(id_):
            yield f"property id {id_!r}"
        yield from (f"{node}/{id_}: {fault}" for fault in _faults_in_property(row))


def _faults_in_family(description: Mapping[str, Any]) -> Iterator[str]:
    """Name and type, children, and where a device that is no root hangs."""
    if any(type(description.get(key, "x")) is not str for key in ("name", "type")):
        yield "name and type are text"
    for key in ("children", "extensions"):
        listed = description.get(key, [])
        if not isinstance(listed, list) or any(type(one) is not str for one in listed):
            yield f"{key} is a list of text"
        elif len(set(listed)) < len(listed):
            yield f"{key} names one twice"
    if not all(_ID.fullmatch(str(one)) for one in description.get("children", [])):
        yield "children are device ids"
    for key in ("root", "parent"):
        if not _ID.fullmatch(str(description.get(key, "x"))):
            yield f"{key} {description[key]!r} is no device id"
    if "parent" in description and "root" not in description:
        yield "a child names its root, too"


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


def _fault_in_range(text: str, datatype: str = "float") -> str:
    if not text:
        return ""
    parts = text.split(":")
    if any(part and not _FORMS[datatype].fullmatch(part) for part in parts):
        return f"format {text!r} is no range"
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


def _fault_in_nothing(text: str) -> str:
    return f"format {text!r} belongs to no such type" if text else ""


_FORMATS: dict[str, Callable[[str], str]] = {
    "enum": _fault_in_words,
    "color": _fault_in_color,
    "integer": partial(_fault_in_range, datatype="integer"),
    "float": _fault_in_range,
    "boolean": _fault_in_labels,
    "json": _fault_in_schema,
    "datetime": _fault_in_nothing,
    "duration": _fault_in_nothing,
    "string": _fault_in_nothing,
}


def _nulls(value: object, path: str = "description") -> Iterator[str]:
    if value is None:
        yield path
    if isinstance(value, dict):
        for key, part in value.items():
            yield from _nulls(part, f"{path}/{key}")
