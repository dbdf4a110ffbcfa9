"""Every way in which a board's thermometer fails, injected into the frames of its serial line.

Responsible for what the loop makes of it: the fault's name, heat off, and the cause of the trip
within its time; and for a line that is frozen. What a frame means: tests/reference.
"""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from controller.core.interlock_rows import _SAID
from controller.core.signals import Fault
from controller.core.state import Mode
from controller.guard import door
from hardware import bus
from hardware.bench.board import RUN_UNIT
from tests.helpers.board_kitchen import Kitchen, kitchen_on_lines
from tests.helpers.spoilt_frames import ASKS_FOR_BATH, ASKS_FOR_BOWL, Line, framed, holding
from tests.helpers.thermometer_list import Failing

BEGINS_S = 20  # heat is on all the time by then
WAIT_S = 30  # after so long without a value a run ends, at the latest
OFF_S = 4  # two ticks of this machine
FROZEN_S = 30
STALE_S = 5
LONG_S = 60.0  # a time-out, never waited for in full


class Case(NamedTuple):
    """One way in which a thermometer's answers fail, and what that is called."""

    mode: Failing
    spoils: Callable[[bytes], bytes]
    fault: Fault
    note: str = ""
    which: str = "bath"


ASKS = {"bath": ASKS_FOR_BATH, "bowl": ASKS_FOR_BOWL}
CASES = [
    Case(Failing.PULLED, lambda _answer: b"", Fault.NO_ANSWER),
    Case(Failing.CHECKSUM, lambda answer: answer[:-1] + bytes([answer[-1] ^ 1]), Fault.NO_ANSWER),
    Case(Failing.EMPTY, lambda answer: answer[:3], Fault.NO_ANSWER),
    Case(Failing.ERROR, lambda _answer: framed(bytes([RUN_UNIT, 0x84, 4])), Fault.DEVICE),
    Case(Failing.OPEN, holding(-0x8000), Fault.DEVICE),
    Case(Failing.OPEN, holding(-0x8000), Fault.DEVICE, "the bowl's", "bowl"),
    Case(Failing.ALL_ZERO, holding(0), Fault.ALL_ZERO),
    Case(Failing.TOO_COLD_TO_BE, holding(-12_700), Fault.DEVICE),
    Case(Failing.TOO_COLD_TO_BE, holding(15_001), Fault.DEVICE, "150 °C"),
]


@pytest.fixture(autouse=True)
def _no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody waits between cycles and rounds: time is handed in."""
    monkeypatch.setattr(door, "PAUSE_S", 0.0)
    monkeypatch.setattr(bus, "PAUSE_S", 0.0001)


@pytest.mark.parametrize("case", CASES, ids=[f"{case.mode} {case.note}" for case in CASES])
def test_a_frame_that_fails_ends_in_its_named_cause_in_time_and_heat_is_off_at_once(
    tmp_path: Path, case: Case
) -> None:
    line, heats = Line(case.spoils, ASKS[case.which]), dict[int, bool]()
    with kitchen_on_lines(tmp_path, line) as kitchen:

        def due(second: int) -> None:
            heats[second] = kitchen.heats
            line.is_spoilt = second >= BEGINS_S

        kitchen.due = due
        last = kitchen.run()
        devices = kitchen.machine.devices
        sensor = devices.bath if case.which == "bath" else devices.bowl
        fault = sensor.read(kitchen.hand.at_s).fault
    assert heats[BEGINS_S]
    assert not any(on for second, on in heats.items() if second > BEGINS_S + OFF_S)
    assert fault is case.fault
    trip = last.state.trips[0]
    assert trip.cause == f"{case.which}-probe-missing"
    assert f"({_SAID[case.fault]})" in trip.what
    assert trip.at_s <= BEGINS_S + WAIT_S


class Threaded(Kitchen):
    """A kitchen whose run's line is spoken to in its own thread, as in a real run."""

    def __init__(self) -> None:
        """Nothing is frozen."""
        super().__init__()
        self.is_frozen = False
        self._rounds = threading.Semaphore(0)

    def begin(self) -> None:
        """Tell of each round."""
        take = self.machine.take

        def counted() -> None:
            take()
            self._rounds.release()

        self.machine.take = counted  # type: ignore[method-assign]  # to know when it was done

    def measure(self) -> None:
        """Two rounds, one of which began after the clock moved; a frozen line is not waited for."""
        while self._rounds.acquire(blocking=False):
            pass
        for _ in range(0 if self.is_frozen else 2):
            assert self._rounds.acquire(timeout=LONG_S)


def test_a_line_that_is_frozen_for_half_a_minute_makes_no_tick_late_and_ends_heat(
    tmp_path: Path,
) -> None:
    heats, thaw = dict[int, bool](), threading.Event()
    thaw.set()
    began: list[int] = []  # a busy computer may make the guard drop heat for a moment: not then

    def wire(_request: bytes, answer: bytes) -> bytes:
        assert thaw.wait(LONG_S)
        return answer

    with kitchen_on_lines(tmp_path, wire, Threaded) as kitchen:
        assert isinstance(kitchen, Threaded)
        kitchen.begin()

        def due(second: int) -> None:
            heats[second] = kitchen.heats
            if not began and second >= BEGINS_S and kitchen.heats:
                began.append(second)
                kitchen.is_frozen = True
                thaw.clear()
            elif began and second >= began[0] + FROZEN_S:
                thaw.set()

        kitchen.due = due
        with kitchen.machine:
            last = kitchen.run()
            thaw.set()
    moments = kitchen.watch.moments
    period_s = kitchen.file.machine.period_s
    assert [moment.now_s for moment in moments] == [
        period_s * number for number in range(len(moments))
    ]
    (since,) = began
    assert not any(on for second, on in heats.items() if second > since + STALE_S + OFF_S)
    assert last.state.mode is Mode.ABORTED
    # A level that can't be read is as bad as one that is lost, and waits for nothing.
    assert last.state.trips[0].cause == "level-lost"
