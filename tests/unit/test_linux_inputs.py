"""Inputs of the GPIO character device: levels, and speed out of dated edges.

Responsible for what becomes of levels and edges, against a stand-in for a taken line; not for how a
line is found and taken (test_linux_gpio).
"""

import errno
import os
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.ports import Fault, Quality, Reading
from hardware.linux.inputs import PATIENCE_S, Button, FilePlan, FileSwitch, InputPlan, Shaft, Switch

PLAN = InputPlan(line="GPIO5", active_low=False, debounce_s=0.05)


class Line:
    """A taken line: its level, and edges that wait to be read."""

    def __init__(self) -> None:
        """Low, and nothing happens."""
        self.level = "low"
        self.edges_s: list[float] = []
        self.is_gone = self.is_free = False

    def get_value(self, name: str) -> str:
        """The level."""
        assert name == PLAN.line
        self._look()
        return self.level

    def wait_edge_events(self, timeout: float) -> bool:
        """Whether there are any; nobody waits."""
        assert timeout == 0.0
        self._look()
        return bool(self.edges_s)

    def read_edge_events(self) -> list[SimpleNamespace]:
        """All of them, once."""
        edges_s, self.edges_s = self.edges_s, []
        return [SimpleNamespace(timestamp_ns=round(at_s * 1e9)) for at_s in edges_s]

    def release(self) -> None:
        """Let go."""
        self.is_free = True

    def _look(self) -> None:
        if self.is_gone:
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))


def shaft_of(line: Line, pulses: int = 1) -> Shaft:
    """A shaft with that many pulses a turn."""
    plan = InputPlan(line="GPIO5", active_low=False, debounce_s=0.002, pulses=pulses)
    return Shaft(line, plan)


def test_a_switch_shows_its_level_and_a_line_that_is_gone_is_no_answer() -> None:
    line = Line()
    switch = Switch(line, PLAN, "high")
    assert switch.read(0.0) == Reading(0.0)
    line.level = "high"
    assert switch.read(1.0) == Reading(1.0)
    line.is_gone = True
    assert switch.read(2.0).fault is Fault.NO_ANSWER
    switch.close()
    assert line.is_free


def test_a_press_that_is_over_before_the_next_look_is_seen_once() -> None:
    line = Line()
    button = Button(line, PLAN, "high")
    line.level = "high"
    assert button.read(0.0) == Reading(1.0)
    line.edges_s = [0.2]
    assert button.read(1.0) == Reading(0.0)
    assert button.read(2.0) == Reading(1.0)
    line.level = "low"  # held, without an edge: pressed before the run began
    assert button.read(3.0) == Reading(0.0)
    line.is_gone = True
    assert button.read(4.0).fault is Fault.NO_ANSWER


@pytest.mark.parametrize(
    ("content", "active_low", "shown"),
    [
        (b"1\n", False, Reading(1.0)),
        (b"0\n", False, Reading(0.0)),
        (b"1", True, Reading(0.0)),
        (b"0", True, Reading(1.0)),
        (b"", False, Fault.NO_ANSWER),
        (b"open\n", False, Fault.DEVICE),
    ],
)
def test_a_switch_in_a_file_shows_what_the_file_holds(
    tmp_path: Path, content: bytes, active_low: bool, shown: Reading | Fault
) -> None:
    (tmp_path / "lid").write_bytes(content)
    switch = FileSwitch(FilePlan(path="/lid", active_low=active_low), tmp_path)
    reading = switch.read(0.0)
    assert (reading if reading.fault is Fault.NONE else reading.fault) == shown
    (tmp_path / "lid").unlink()
    assert switch.read(1.0).fault is Fault.NO_ANSWER
    switch.close()


@given(
    rpm=st.floats(25.0, 300.0),
    pulses=st.integers(1, 20),
    period_s=st.sampled_from([0.25, 0.5, 1.0, 2.0]),
)
def test_a_turning_shaft_shows_its_speed_whenever_it_is_looked_at(
    rpm: float, pulses: int, period_s: float
) -> None:
    line, edge_s = Line(), 100.0
    shaft, apart_s = shaft_of(line, pulses), 60.0 / rpm / pulses
    for tick in range(1, 60):
        now_s = 100.0 + tick * period_s
        while edge_s <= now_s:
            line.edges_s.append(edge_s)
            edge_s += apart_s
        reading = shaft.read(now_s)
        if now_s > 100.0 + 3 * PATIENCE_S:
            assert reading.quality is Quality.GOOD
            assert reading.value == pytest.approx(rpm, rel=1e-6)


def test_a_shaft_that_stops_stands_once_the_next_pulse_is_too_long_in_coming() -> None:
    line = Line()
    shaft = shaft_of(line)
    line.edges_s = [100.0, 101.0, 102.0]
    assert shaft.read(102.5) == Reading(60.0)
    assert shaft.read(102.0 + PATIENCE_S) == Reading(60.0)
    assert shaft.read(102.1 + PATIENCE_S) == Reading(0.0)


def test_the_first_pulse_after_a_standstill_is_no_speed_and_the_second_is() -> None:
    line = Line()
    shaft = shaft_of(line)
    assert shaft.read(99.0) == Reading(0.0)
    line.edges_s = [100.0]
    assert shaft.read(100.5) == Reading(0.0)
    line.edges_s = [200.0]
    assert shaft.read(200.5) == Reading(0.0)
    line.edges_s = [202.0]
    assert shaft.read(202.5) == Reading(30.0)


def test_a_shaft_whose_line_is_gone_is_no_answer() -> None:
    line = Line()
    shaft = shaft_of(line)
    line.is_gone = True
    assert shaft.read(1.0).fault is Fault.NO_ANSWER
    shaft.close()
    assert line.is_free
