"""Inputs: a switch, a stop button, and the pulses of a turning shaft.

Responsible for levels and speed out of a line's edges; not for finding the line (gpio). The kernel
debounces, and dates each edge by the clock that the loop reads, too: Documentation/userspace-api/
gpio of Linux.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from controller.ports import Fault, Reading, missing
from hardware.linux.kernel_file import read_bytes

# So long may the next pulse be in coming until the shaft stands. Own engineering value, not
# published: one pulse a turn at 24 rpm, and half of what a standing stirrer may last.
PATIENCE_S = 2.5
_S_PER_MIN = 60.0
_NS_PER_S = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class InputPlan:
    """One input."""

    line: str  # its name
    active_low: bool
    debounce_s: float
    pulses: int = 1  # of a shaft, in one turn


@dataclass(frozen=True, slots=True, kw_only=True)
class FilePlan:
    """A switch in a file that holds 1 or 0."""

    path: str
    active_low: bool


class Switch:
    """A level or another switch: 1.0 while it is active, 0.0 while it is not."""

    def __init__(self, request: Any, plan: InputPlan, active: object) -> None:  # noqa: ANN401 - a class of an optional package
        """Of a line that is taken."""
        self._request, self._line, self._active = request, plan.line, active

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """The level now; no answer from a line that is gone."""
        try:
            level = self._request.get_value(self._line)
        except OSError:
            return missing()
        return Reading(1.0 if level == self._active else 0.0)

    def close(self) -> None:
        """Let go of the line."""
        self._request.release()


class FileSwitch:
    """A switch whose level another program writes into a file: 1 or 0."""

    def __init__(self, plan: FilePlan, root: Path) -> None:
        """Nothing is opened yet."""
        self._path = root / plan.path.lstrip("/")
        self._values = {b"1": float(not plan.active_low), b"0": float(plan.active_low)}

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """The level now; a fault for a file that is gone or holds something else."""
        content = read_bytes(self._path)
        if isinstance(content, Fault):
            return missing(content)
        value = self._values.get(content.strip())
        return missing(Fault.DEVICE) if value is None else Reading(value)

    def close(self) -> None:
        """Nothing is held."""


class Button(Switch):
    """A stop button: 0.0 once pressed since the last look, however short, 1.0 otherwise."""

    def read(self, now_s: float) -> Reading:
        """The level now, unless an edge tells of a press that is over already."""
        level = super().read(now_s)
        try:
            was_pressed = bool(_edges_s(self._request))
        except OSError:
            return missing()
        return Reading(0.0) if was_pressed and level.fault is Fault.NONE else level


class Shaft:
    """A shaft's speed by the time between its pulses, rpm."""

    def __init__(self, request: Any, plan: InputPlan) -> None:  # noqa: ANN401 - as above
        """Standing, as far as is known."""
        self._request, self._pulses = request, plan.pulses
        self._last_s: float | None = None
        self._rpm = 0.0

    def read(self, now_s: float) -> Reading:
        """Speed by the pulses since the last look; 0 when the next is too long in coming."""
        try:
            edges_s = _edges_s(self._request)
        except OSError:
            return missing()
        if edges_s:
            first_s = edges_s[0] if self._last_s is None else self._last_s
            turns = (len(edges_s) - (self._last_s is None)) / self._pulses
            span_s = edges_s[-1] - first_s
            # After a standstill the first span is no measure of speed.
            is_measure = turns > 0.0 and 0.0 < span_s / (turns * self._pulses) <= PATIENCE_S
            self._rpm = _S_PER_MIN * turns / span_s if is_measure else 0.0
            self._last_s = edges_s[-1]
        if self._last_s is None or now_s - self._last_s > PATIENCE_S:
            self._rpm = 0.0
        return Reading(self._rpm)

    def close(self) -> None:
        """Let go of the line."""
        self._request.release()


def _edges_s(request: Any) -> list[float]:  # noqa: ANN401 - as above
    """When the edges came that nobody has looked at yet, s."""
    if not request.wait_edge_events(0.0):
        return []
    return [event.timestamp_ns / _NS_PER_S for event in request.read_edge_events()]
