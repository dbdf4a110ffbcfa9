"""The reader that judges our tree: it must find each fault that the convention names.

Source: Homie convention, version 5: topic ids, payloads, device description, attributes.
"""

import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.helpers.homie import faults_in_device

BASE = "homie/5/kitchen"


def sound() -> tuple[dict[str, Any], dict[str, str]]:
    """A small device without a fault: its description and its kept topics."""
    rows = {
        "temperature": {"datatype": "float", "unit": "°C", "format": "-20:120"},
        "count": {"datatype": "integer", "format": "0:"},
        "on": {"datatype": "boolean", "format": "closed,open"},
        "mode": {"datatype": "enum", "format": "a,b"},
        "told": {"datatype": "json", "format": '{"type":"object"}'},
        "at": {"datatype": "datetime"},
        "lasts": {"datatype": "duration"},
        "shade": {"datatype": "color", "format": "rgb,xyz"},
        "dose": {"datatype": "float", "format": "0:10:0.5", "settable": True},
        "go": {"datatype": "string", "settable": True, "retained": False},
    }
    description = {
        "homie": "5.0",
        "version": 7,
        "name": "Kitchen",
        "nodes": {"bowl": {"name": "Bowl", "properties": rows}},
    }
    topics = {
        "$state": "ready",
        "$alert/too-hot": "It is.",
        "bowl/temperature": "31.5",
        "bowl/count": "3",
        "bowl/on": "true",
        "bowl/mode": "a",
        "bowl/told": "{}",
        "bowl/at": "2026-01-01T06:00:00+00:00",
        "bowl/lasts": "PT1H2S",
        "bowl/shade": "rgb,255,0,12",
        "bowl/dose": "2.5",
        "bowl/dose/$target": "3.0",
    }
    return description, topics


def faults(change: Callable[[dict[str, Any], dict[str, str]], object]) -> list[str]:
    """What is found after a change; the description may have been replaced by raw text."""
    description, topics = sound()
    change(description, topics)
    topics.setdefault("$description", json.dumps(description))
    return faults_in_device({f"{BASE}/{path}": text for path, text in topics.items()}, "kitchen")


def test_a_sound_device_has_no_fault() -> None:
    assert faults(lambda _d, _t: None) == []


VALUES = [
    ("$state", "alert"),
    ("$description", "{"),
    ("$description", '{"homie": "5.0", "homie": "5.0"}'),
    ("$stats/uptime", "7"),
    ("$alert/Too hot", "It is."),
    ("$log/info", "kept"),
    ("bowl/temperature", ""),
    ("bowl/temperature", "NaN"),
    ("bowl/temperature", "+3.0"),
    ("bowl/temperature", " 3.0"),
    ("bowl/temperature", "3,0"),
    ("bowl/temperature", "121"),
    ("bowl/count", "3.0"),
    ("bowl/count", "-1"),
    ("bowl/count", "9223372036854775808"),
    ("bowl/on", "True"),
    ("bowl/on", "open"),
    ("bowl/mode", "A"),
    ("bowl/mode", "a "),
    ("bowl/told", '"text"'),
    ("bowl/told", "{"),
    ("bowl/told", '{"a": NaN}'),
    ("bowl/at", "today"),
    ("bowl/at", "2026-02-30T06:00:00+00:00"),
    ("bowl/at", "2026-01-01T06:00:00"),
    ("bowl/lasts", "PT"),
    ("bowl/lasts", "1:02"),
    ("bowl/shade", "rgb,256,0,0"),
    ("bowl/shade", "rgb,1,2"),
    ("bowl/shade", "hsv,1,2,3"),
    ("bowl/shade", "xyz,0.1,1.1"),
    ("bowl/dose", "2.6"),
    ("bowl/dose", "1e999"),
    ("bowl/dose/$target", "11"),
    ("bowl/count/$target", "3"),
    ("bowl/nothing/$target", "3"),
    ("$description", "[]"),
    ("$log/loud", "kept"),
    ("bowl/go", "kept though it never is"),
    ("bowl/go/set", "kept"),
    ("bowl/unheard-of", "1"),
]


@pytest.mark.parametrize(("path", "text"), VALUES)
def test_a_topic_that_is_not_as_described_is_found(path: str, text: str) -> None:
    assert len(faults(lambda _, topics: topics.update({path: text}))) == 1


def row(description: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = description["nodes"]["bowl"]["properties"][name]
    return found


DESCRIPTIONS: dict[str, Callable[[dict[str, Any]], object]] = {
    "no version": lambda d: d.pop("version"),
    "a version of text": lambda d: d.update(version="7"),
    "another convention": lambda d: d.update(homie="4.0"),
    "an unknown key": lambda d: d.update(colour="brown"),
    "a null": lambda d: d.update(type=None),
    "no nodes": lambda d: d.pop("nodes"),
    "a loud node": lambda d: d["nodes"].update(Bath={}),
    "a node with more": lambda d: d["nodes"]["bowl"].update(retained=True),
    "a node whose name is a number": lambda d: d["nodes"]["bowl"].update(name=1),
    "a device whose name is a number": lambda d: d.update(name=1),
    "a version of more than 64 bits": lambda d: d.update(version=2**63),
    "children of text": lambda d: d.update(children="a"),
    "a loud child": lambda d: d.update(children=["A"]),
    "the same child twice": lambda d: d.update(children=["a", "a"]),
    "a root that is no id": lambda d: d.update(root="A b"),
    "a parent without a root": lambda d: d.update(parent="a"),
    "extensions of numbers": lambda d: d.update(extensions=[1]),
    "a format of a text": lambda d: row(d, "go").update(format="a,b"),
    "a format of a duration": lambda d: row(d, "lasts").update(format="PT1H"),
    "a colour of no form": lambda d: row(d, "shade").update(format=""),
    "half a whole number": lambda d: row(d, "count").update(format="0:2.5"),
    "a property of no type": lambda d: row(d, "count").pop("datatype"),
    "a property of a new type": lambda d: row(d, "count").update(datatype="number"),
    "an unknown key of a property": lambda d: row(d, "count").update(min=0),
    "a settable of text": lambda d: row(d, "go").update(settable="true"),
    "a unit of one sign": lambda d: row(d, "temperature").update(unit="\u2103"),
    "a range the wrong way": lambda d: row(d, "temperature").update(format="120:-20"),
    "a range of words": lambda d: row(d, "temperature").update(format="cold:hot"),
    "a step of nothing": lambda d: row(d, "temperature").update(format="-20:120:0"),
    "an enum of none": lambda d: row(d, "mode").pop("format"),
    "an enum with a double": lambda d: row(d, "mode").update(format="a,a"),
    "one label": lambda d: row(d, "on").update(format="open"),
    "a schema that is none": lambda d: row(d, "told").update(format="object"),
}


@pytest.mark.parametrize("spoil", DESCRIPTIONS.values(), ids=DESCRIPTIONS.keys())
def test_a_description_that_a_controller_would_drop_is_found(
    spoil: Callable[[dict[str, Any]], object],
) -> None:
    assert faults(lambda description, _: spoil(description))


def test_a_device_whose_id_no_topic_may_have_is_found() -> None:
    assert faults_in_device({}, "Kitchen") == ["device id 'Kitchen'"]
