"""The reader that follows a device: it must find each fault of order, retaining and quality."""

import json
from dataclasses import replace

import pytest

from tests.helpers.homie_course import Course, Said

BASE = "homie/5/kitchen"


def description(version: int = 1, name: str = "Kitchen") -> str:
    rows = {
        "temperature": {"datatype": "float"},
        "go": {"datatype": "string", "settable": True, "retained": False},
    }
    body = {"homie": "5.0", "version": version, "name": name}
    return json.dumps({**body, "nodes": {"bowl": {"properties": rows}}})


def said(path: str, payload: str, *, retain: bool = True, quality: int = 1) -> Said:
    return Said(f"{BASE}/{path}", payload, retain, quality)


SOUND = [
    said("$state", "init"),
    said("$description", description()),
    said("bowl/temperature", "31.5"),
    said("$state", "ready"),
    said("bowl/temperature", "31.6"),
    said("$log/warn", "It gets warm.", retain=False),
    said("$alert/too-hot", "It is."),
    said("$alert/too-hot", ""),
    said("bowl/go", "on", retain=False),
    said("bowl/temperature", ""),  # not known any more
    said("$state", "init"),
    said("$description", description(2, "Cellar")),
    said("$state", "ready"),
    said("$state", "disconnected"),
]


def faults(messages: list[Said]) -> list[str]:
    return list(Course("kitchen").faults(messages))


def test_a_sound_course_has_no_fault() -> None:
    assert faults(SOUND) == []


BAD = {
    "ready before anything": [said("$state", "ready"), *SOUND],
    "a description while ready": [*SOUND[:4], said("$description", description(2, "Cellar"))],
    "a new description of the old version": [
        *SOUND[:11],
        said("$description", description(1, "x")),
    ],
    "ready without a description": [SOUND[0], SOUND[3]],
    "a value that is not kept": [*SOUND[:2], replace(SOUND[2], retain=False)],
    "an event that is kept": [*SOUND[:2], replace(SOUND[8], retain=True)],
    "a log line that is kept": [*SOUND[:4], replace(SOUND[5], retain=True)],
    "a log line of no level": [*SOUND[:4], said("$log/loud", "x", retain=False)],
    "an alert that is not kept": [*SOUND[:4], replace(SOUND[6], retain=False)],
    "a state that is not kept": [replace(SOUND[0], retain=False), *SOUND[1:]],
    "an attribute of one's own": [*SOUND[:4], said("$stats", "x")],
    "another quality": [*SOUND[:4], replace(SOUND[4], quality=0)],
    "a value that is not described": [*SOUND[:4], said("bath/temperature", "40.0")],
    "a value of another type": [*SOUND[:4], said("bowl/temperature", "warm")],
    "a command of one's own": [*SOUND[:4], said("bowl/go/set", "on", retain=False)],
}


@pytest.mark.parametrize("messages", BAD.values(), ids=BAD.keys())
def test_a_fault_in_a_course_is_found(messages: list[Said]) -> None:
    assert faults(messages)
