"""Whole readings that can't be true, through every driver, under the real loop; and the whole list.

Responsible for what the loop makes of values that no driver can refuse, and for every fault of the
list having its case in every driver; not for what a driver refuses (files, frames).
"""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

import pytest

from controller.core.state import Trip
from controller.guard import door
from hardware import bus
from tests.faults.test_thermometer_files import CASES as FILE_CASES
from tests.faults.test_thermometer_frames import CASES as FRAME_CASES
from tests.helpers.board_kitchen import kitchen_on_lines
from tests.helpers.file_machine import PAIRS, FileMachine
from tests.helpers.spoilt_frames import Line, holding
from tests.helpers.thermometer_list import CAN_NOT_BE, LIES, PICTURED, Driver, Failing
from tests.helpers.thermometer_pictures import PICTURES, run_with

FILES_S, FRAMES_S = 60, 20  # heat is on all the time by then
AFTER_S = 5  # somebody stops a run that hasn't ended by itself so long after it should have
STEPS_PER_C = 100  # of the board's registers


class Lie(NamedTuple):
    """What the bath's thermometer says so many seconds after it began, and what comes of it."""

    told_c: Callable[[int], float | None]  # None: the truth
    cause: str
    heat_ends_s: int
    within_s: int


# A jump is believed when it comes three times in a row, and ends the run by its range then; a slack
# contact's never do. A picture of a bath that warms and a thermometer that doesn't takes 45 s.
LIE_OF = {
    Failing.HOT: Lie(lambda _s: 100.0, "bath-probe-out-of-range", 2, 32),
    Failing.COLD: Lie(lambda _s: -6.0, "bath-probe-out-of-range", 2, 32),
    Failing.POWER_ON: Lie(lambda _s: 85.0, "bath-probe-out-of-range", 2, 32),
    Failing.SLACK: Lie(
        lambda s: 20.0 + 12.0 * (s % 5 + 1) if s % 4 == 0 else None, "bath-probe-jumping", 60, 60
    ),
    Failing.FROZEN: Lie(lambda _s: 21.0, "bath-probe-frozen", 60, 60),
}


class Ended(NamedTuple):
    """How a run went, in seconds since the lie began."""

    heated_before: bool
    heated_last_s: int
    trip: Trip
    trip_s: float


def on_files(folder: Path, driver: Driver, lie: Lie) -> Ended:
    """The run over the kernel's files."""
    machine = FileMachine(folder, PAIRS[driver])

    def told_c(now_s: float) -> float | None:
        since_s = round(now_s) - FILES_S
        return lie.told_c(since_s) if since_s >= 0 else None

    machine.lies(told_c)

    def due(now_s: float) -> None:
        machine.files.show(now_s)
        machine.linux.take()
        if now_s == FILES_S + lie.within_s + AFTER_S:
            machine.halt()

    moments = machine.run(due)
    last_s = max(second for second, moment in enumerate(moments) if moment.heater_on)
    trip = moments[-1].state.trips[0]
    return Ended(moments[FILES_S - 1].heater_on, last_s - FILES_S, trip, trip.at_s - FILES_S)


def on_frames(folder: Path, lie: Lie) -> Ended:
    """The run over a serial line."""
    heats = dict[int, bool]()
    line = Line(lambda answer: answer)
    with ExitStack() as stack:
        kitchen = stack.enter_context(kitchen_on_lines(folder, line))

        def spoils(answer: bytes) -> bytes:
            told_c = lie.told_c(round(kitchen.hand.at_s) - FRAMES_S)
            return answer if told_c is None else holding(round(told_c * STEPS_PER_C))(answer)

        line.spoils = spoils

        def due(second: int) -> None:
            heats[second] = kitchen.heats
            line.is_spoilt = second >= FRAMES_S

        kitchen.due = due
        trip = kitchen.run().state.trips[0]
    last_s = max(second for second, is_on in heats.items() if is_on)
    return Ended(heats[FRAMES_S], last_s - FRAMES_S, trip, trip.at_s - FRAMES_S)


@pytest.fixture(autouse=True)
def _no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody waits between cycles and rounds: time is handed in."""
    monkeypatch.setattr(door, "PAUSE_S", 0.0)
    monkeypatch.setattr(bus, "PAUSE_S", 0.0001)


FILED = {(case.mode, case.driver) for case in FILE_CASES}
FRAMED = {(case.mode, Driver.MODBUS) for case in FRAME_CASES}
TRIED = [
    (mode, driver) for mode in LIES for driver in Driver if (mode, driver) not in FILED | FRAMED
]


def test_every_fault_of_the_list_has_its_case_in_every_driver_or_a_reason_why_it_can_not() -> None:
    groups = [FILED, FRAMED, set(TRIED), set(CAN_NOT_BE)]
    groups.append({(mode, driver) for mode in PICTURED for driver in Driver})
    assert set.union(*groups) == {(mode, driver) for mode in Failing for driver in Driver}
    assert sum(map(len, groups)) == len(Failing) * len(Driver)


def test_every_fault_that_only_minutes_show_has_its_run() -> None:
    assert set(PICTURES) == set(PICTURED) - {Failing.BLOCKED}


@pytest.mark.parametrize("driver", Driver)
def test_thermometers_that_are_swapped_are_named_and_heat_ends(
    tmp_path: Path, driver: Driver
) -> None:
    picture = PICTURES[Failing.SWAPPED]
    assert run_with(tmp_path, driver, picture).is_right(picture)


@pytest.mark.parametrize(("mode", "driver"), TRIED)
def test_a_whole_reading_that_can_not_be_true_ends_in_its_named_cause_in_time(
    tmp_path: Path, mode: Failing, driver: Driver
) -> None:
    lie = LIE_OF[mode]
    on_a_line = driver is Driver.MODBUS
    ended = on_frames(tmp_path, lie) if on_a_line else on_files(tmp_path, driver, lie)
    # A board is told and asked in rounds of its own: two ticks of that machine more.
    grace_s = 4 if on_a_line else 0
    assert ended.heated_before
    assert ended.heated_last_s < lie.heat_ends_s + grace_s
    assert ended.trip.cause == lie.cause
    assert 0.0 < ended.trip_s <= lie.within_s + grace_s
