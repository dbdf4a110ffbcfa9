"""Inputs of the GPIO character device: a switch, and the pulses of a turning shaft.

Responsible for levels and speed out of a line's edges; not for finding the line (gpio). The kernel
debounces, and dates each edge by the clock that the loop reads, too: Documentation/userspace-api/
gpio of Linux.
"""

from dataclasses import dataclass
from typing import Any

from controller.ports import Reading, missing

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
            edges_s = self._edges_s()
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

    def _edges_s(self) -> list[float]:
        """When the pulses came that nobody has looked at yet, s."""
        if not self._request.wait_edge_events(0.0):
            return []
        return [event.timestamp_ns / _NS_PER_S for event in self._request.read_edge_events()]
