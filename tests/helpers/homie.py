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
_PROPERTY_KEYS = {"name", "datatype", "format", "settable", "retained", "unit"}


def faults_in_device(topics: Mapping[str, str], device_id: str) -> list[str]:
    """Everything that is wrong with a device's retained topics, as sentences."""
    base = f"homie/5/{device_id}"
    if topics.get(f"{base}/$state") not in _STATES:
        return [f"$state is {topics.get(f'{base}/$state')!r}"]
    description, faults = parsed(topics.get(f"{base}/$description", ""))
    if faults:
        return faults
    rows = dict(properties(description))
    for topic, payload in topics.items():
        path = topic.removeprefix(f"{base}/")
        if path.startswith("$"):
            continue
        if path not in rows:
            faults.append(f"{path} is not described")
        elif not rows[path].get("retained", True):
            faults.append(f"{path} is kept, and its description says otherwise")
        else:
            faults += [f"{path}: {fault}" for fault in faults_in_value(rows[path], payload)]
    return faults


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
    if datatype in _FORMS and not _FORMS[datatype].fullmatch(payload):
        return [f"{payload!r} is no {datatype}"]
    if row["datatype"] in {"integer", "float"} and "format" in row:
        low, high = row["format"].split(":")[:2]
        if not float(low or "-inf") <= float(payload) <= float(high or "inf"):
            return [f"{payload} is not in {row['format']}"]
    return []


def _without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(dict(pairs)) < len(pairs):
        raise ValueError("a key stands there twice")
    return dict(pairs)


def _faults_in_description(description: Mapping[str, Any]) -> Iterator[str]:
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
    if row.get("datatype") in {"enum", "color"} and not row.get("format"):
        yield "a format is needed"
    words = str(row.get("format", "")).split(",")
    if row.get("datatype") == "enum" and (len(set(words)) < len(words) or "" in words):
        yield f"format {row.get('format')!r} has an empty or a double word"
