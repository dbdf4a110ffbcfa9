"""What a Homie 5 device says over time: order, retained flags, quality of service.

Responsible for a whole course of messages as they were published; single topics are homie's.
Source: Homie convention, version 5: life cycle, retained messages, quality of service.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from tests.helpers.homie import faults_in_device, faults_in_value, parsed, properties

LEVELS = {"debug", "info", "warn", "error", "fatal"}
QUALITY = 1  # the convention's recommendation; two qualities on one connection lose the order
_KEPT = {"$state", "$description", "$alert"}


@dataclass(frozen=True, slots=True)
class Said:
    """One message as its sender published it."""

    topic: str
    payload: str
    retain: bool
    quality: int


class Course:
    """A device followed from its first message on."""

    def __init__(self, device_id: str) -> None:
        """Nothing said yet."""
        self._device = device_id
        self._state = ""
        self._description = ""
        self._rows: dict[str, dict[str, Any]] = {}
        self._version: object = None
        self._kept: dict[str, str] = {}

    def faults(self, messages: Iterable[Said]) -> Iterator[str]:
        """Everything that is wrong, as sentences."""
        base = f"homie/5/{self._device}/"
        for said in messages:
            path = said.topic.removeprefix(base)
            if said.quality != QUALITY:
                yield f"{path} was sent with quality {said.quality}"
            if said.retain:
                self._kept[said.topic] = said.payload
            yield from self._faults_in(path, said)

    def _faults_in(self, path: str, said: Said) -> Iterator[str]:
        kind, _, rest = path.partition("/")
        if kind == "$log":
            if said.retain or rest not in LEVELS:
                yield f"{path} is kept, or no level"
        elif kind.startswith("$"):
            if not said.retain or kind not in _KEPT:
                yield f"{path} is not kept, or no attribute"
            yield from self._attribute(kind, said.payload)
        else:
            yield from self._value(path, said)

    def _attribute(self, kind: str, payload: str) -> Iterator[str]:
        if kind == "$state":
            if not self._state and payload != "init":
                yield f"the first state is {payload}"
            self._state = payload
            if payload == "ready":
                kept = {topic: text for topic, text in self._kept.items() if text}
                yield from faults_in_device(kept, self._device)
        elif kind == "$description":
            yield from self._described(payload)

    def _described(self, payload: str) -> Iterator[str]:
        if self._state == "ready":
            yield "the description changed while the device was ready"
        description, faults = parsed(payload)
        yield from faults
        if not faults:
            if payload != self._description and description["version"] == self._version:
                yield "the description changed and its version did not"
            self._description, self._version = payload, description["version"]
            self._rows = dict(properties(description))

    def _value(self, path: str, said: Said) -> Iterator[str]:
        row = self._rows.get(path)
        if path.endswith("/set"):
            yield f"{path} is for others to write"
        elif row is None:
            if said.payload:
                yield f"{path} is not described"
        elif said.retain != row.get("retained", True):
            yield f"{path} is kept, or is not, unlike its description"
        elif said.payload:
            yield from (f"{path}: {fault}" for fault in faults_in_value(row, said.payload))
