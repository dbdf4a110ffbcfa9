"""A whole profile over Modbus: the real loop, guard and drivers, and a bench that is two boards.

Responsible for a run in simulated time over a real wire, and for what becomes of it when board,
line or guard fail; not for processes (test_modbus_processes), nor for single frames.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from controller.core.state import Mode
from controller.guard import door
from controller.guard.decision import Cause
from hardware.bench.attach import BenchFault
from hardware.bench.board import GUARD_UNIT, RUN_UNIT, Coil
from tests.helpers.board_kitchen import Kitchen, kitchen_on_lines, kitchen_over_tcp


@pytest.fixture(autouse=True)
def _no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    """The guard waits for nobody between its cycles: time is handed in."""
    monkeypatch.setattr(door, "PAUSE_S", 0.0)


def test_a_whole_profile_runs_over_modbus_to_its_end_and_leaves_everything_off(
    tmp_path: Path,
) -> None:
    with kitchen_over_tcp(tmp_path) as kitchen:
        last = kitchen.run()
        moments = kitchen.watch.moments
        assert last.state.mode is Mode.COMPLETE, last.state.trips
        assert {moment.state.progress.phase for moment in moments} == {0, 1}
        period_s = kitchen.file.machine.period_s
        assert [moment.now_s for moment in moments] == [
            period_s * number for number in range(len(moments))
        ]
        assert kitchen.bench.truth().bowl_c == pytest.approx(24.0, abs=0.5)
        assert kitchen.bench.truth().energy_j > 30_000.0
        kitchen.keeper.cycle()
        assert not kitchen.heats
        assert kitchen.keeper.guard.latched is Cause.NONE


BEGINS_S = 20  # heat is on all the time by then


def test_two_serial_lines_carry_a_run_and_a_dead_guard_leaves_no_heat(tmp_path: Path) -> None:
    heats: dict[int, bool] = {}
    with kitchen_on_lines(tmp_path) as kitchen:

        def due(second: int) -> None:
            heats[second] = kitchen.heats
            kitchen.guard_lives = second < BEGINS_S

        kitchen.due = due
        last = kitchen.run()
        loss_s = kitchen.boards[GUARD_UNIT].host_loss_s
    assert heats[BEGINS_S - 2]
    assert last.state.mode is Mode.ABORTED
    assert [trip.cause for trip in last.state.trips] == ["guard-silent"]
    # Its board hears nobody and opens by itself, though the run goes on to speak to its own.
    late_s = BEGINS_S + loss_s + 2 * kitchen.file.machine.period_s
    assert not any(on for second, on in heats.items() if second >= late_s)


def broken_probe(kitchen: Kitchen) -> None:
    """The bath's thermometer has no value."""
    kitchen.bench.inject(BenchFault.BATH_PROBE_OPEN)


def deaf_output(kitchen: Kitchen) -> None:
    """The stirrer's output shows that it is open, whatever it is told."""
    board = kitchen.boards[RUN_UNIT]
    shown = board.discrete_inputs
    board.discrete_inputs = lambda: [*[False] * len(Coil), *shown()[len(Coil) :]]  # type: ignore[method-assign]  # a fault of the board itself


def forgetful(kitchen: Kitchen) -> None:
    """The run's board starts anew, and has forgotten its time-out."""
    board = kitchen.boards[RUN_UNIT]
    board.restart()
    board.host_loss_s = 0.0


def standing(kitchen: Kitchen) -> None:
    """The stirrer's shaft stands though its output is closed."""
    kitchen.bench.inject(BenchFault.SHAFT_LOST)


def dry(kitchen: Kitchen) -> None:
    """The level switch sees no water."""
    kitchen.bench.inject(BenchFault.LEVEL_LOST)


# What is broken, what the run ends with, and within how many seconds heat must be off.
FAULTS: list[tuple[Callable[[Kitchen], None], str, int]] = [
    (broken_probe, "bath-probe-missing", 4),
    (deaf_output, "bath-probe-missing", 10),  # some rounds of grace
    (forgetful, "bath-probe-missing", 4),
    (standing, "stirrer-stopped", 14),
    (dry, "level-lost", 4),
]


@pytest.mark.parametrize(("breaks", "cause", "within_s"), FAULTS)
def test_a_fault_of_the_board_ends_in_its_named_cause_with_heat_off_in_time(
    tmp_path: Path, breaks: Callable[[Kitchen], None], cause: str, within_s: int
) -> None:
    heats: dict[int, bool] = {}
    with kitchen_over_tcp(tmp_path) as kitchen:

        def due(second: int) -> None:
            heats[second] = kitchen.heats
            if second == BEGINS_S:
                breaks(kitchen)

        kitchen.due = due
        last = kitchen.run()
    assert heats[BEGINS_S]
    assert not any(on for second, on in heats.items() if second > BEGINS_S + within_s)
    assert last.state.trips[0].cause == cause


def test_a_guards_board_that_starts_anew_ends_the_guard_before_it_heats_again(
    tmp_path: Path,
) -> None:
    with kitchen_over_tcp(tmp_path) as kitchen:

        def due(second: int) -> None:
            if second == BEGINS_S:
                assert kitchen.heats
                kitchen.boards[GUARD_UNIT].restart()
            elif second > BEGINS_S:
                assert not kitchen.heats

        kitchen.due = due
        last = kitchen.run()
        assert "has started anew" in kitchen.guards_end
        assert not kitchen.heats
        assert [trip.cause for trip in last.state.trips] == ["guard-silent"]
