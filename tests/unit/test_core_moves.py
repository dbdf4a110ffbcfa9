"""The table of moves: total, always stoppable, always ending."""

from itertools import product

import pytest

from controller.core.moves import MOVES, Trigger, diagram, move
from controller.core.state import ENDED, Mode

AT_WORK = tuple(mode for mode in Mode if mode not in ENDED)

REFUSED = {
    Mode.IDLE: {Trigger.PAUSE, Trigger.RESUME, Trigger.FINISH, Trigger.SETTLE},
    Mode.RUNNING: {Trigger.START, Trigger.RESUME, Trigger.SETTLE},
    Mode.PAUSING: {Trigger.START, Trigger.PAUSE, Trigger.RESUME, Trigger.FINISH},
    Mode.PAUSED: {Trigger.START, Trigger.PAUSE, Trigger.FINISH, Trigger.SETTLE},
    Mode.RESUMING: {Trigger.START, Trigger.RESUME, Trigger.FINISH},
    Mode.STOPPING: {Trigger.START, Trigger.PAUSE, Trigger.RESUME, Trigger.FINISH},
    Mode.ABORTING: {
        Trigger.START,
        Trigger.PAUSE,
        Trigger.RESUME,
        Trigger.FINISH,
        Trigger.TRIP,  # it is aborting already
    },
    Mode.STOPPED: set(Trigger),
    Mode.ABORTED: set(Trigger),
    Mode.COMPLETE: set(Trigger),
}


@pytest.mark.parametrize(("mode", "trigger"), list(product(Mode, Trigger)))
def test_every_pair_is_either_a_move_or_listed_here_as_refused(
    mode: Mode, trigger: Trigger
) -> None:
    assert (move(mode, trigger) is None) == (trigger in REFUSED[mode])


@pytest.mark.parametrize("mode", AT_WORK)
def test_a_trip_aborts_from_every_mode_that_has_not_ended(mode: Mode) -> None:
    assert (move(mode, Trigger.TRIP) or mode) is Mode.ABORTING


@pytest.mark.parametrize("mode", AT_WORK)
def test_a_stop_is_a_move_from_every_mode_that_has_not_ended(mode: Mode) -> None:
    expected = Mode.ABORTING if mode is Mode.ABORTING else Mode.STOPPING
    assert move(mode, Trigger.STOP) is expected


@pytest.mark.parametrize("mode", Mode)
def test_every_mode_can_reach_an_end(mode: Mode) -> None:
    reached = {mode}
    for _ in Mode:
        reached |= {new for (old, _), new in MOVES.items() if old in reached}
    assert reached & ENDED


@pytest.mark.parametrize("mode", sorted(ENDED))
def test_an_ended_mode_has_no_way_out(mode: Mode) -> None:
    assert all(move(mode, trigger) is None for trigger in Trigger)


@pytest.mark.parametrize("mode", Mode)
def test_every_mode_can_be_reached_from_idle(mode: Mode) -> None:
    reached = {Mode.IDLE}
    for _ in Mode:
        reached |= {new for (old, _), new in MOVES.items() if old in reached}
    assert mode in reached


def test_only_start_and_resume_lead_from_a_mode_without_heat_to_running() -> None:
    cold = {Mode.IDLE, Mode.STOPPING, Mode.ABORTING, *ENDED}
    steered = {Mode.RUNNING, Mode.PAUSING, Mode.PAUSED, Mode.RESUMING}
    ways = {key for key, new in MOVES.items() if key[0] in cold and new in steered}
    assert ways == {(Mode.IDLE, Trigger.START)}


def test_the_diagram_has_one_arrow_for_every_move() -> None:
    lines = diagram().splitlines()
    assert lines[:2] == ["stateDiagram-v2", "    [*] --> idle"]
    assert len(lines) == len(MOVES) + 2
    assert "    running --> pausing: pause" in lines
