"""The shared seconds of processes under test: who is waited for, in which order, and who is not."""

import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from tests.helpers.guard_stage import until
from tests.helpers.pace import BEGINS_S, STEP_S, Place, Seat, Shared, pacemaker, pass_s


class Stage:
    """Some who take part, each in a thread that notes its turns."""

    def __init__(self, path: Path, stack: ExitStack) -> None:
        """Nobody yet."""
        self.path, self._stack = path, stack
        self.seconds = Shared(path)
        self.turns: list[tuple[str, float]] = []  # who, and when by the shared seconds

    def seat(self, name: str, seat: Seat) -> None:
        """Somebody takes part for as long as there are turns."""
        place = self._stack.enter_context(closing(Place(self.path, seat)))

        def go_on() -> None:
            while place.go():
                self.turns.append((name, self.seconds.now_s()))
                place.done()

        thread = threading.Thread(target=go_on, daemon=True)
        thread.start()
        self._stack.callback(thread.join)

    def run(self) -> Place:
        """A run, at work until it asks for a moment."""
        place = self._stack.enter_context(closing(Place(self.path, Seat.RUN)))
        place.ask(float("nan"))
        return place


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """A pacemaker."""
    path = tmp_path / "pace"
    with ExitStack() as stack, pacemaker(path):  # whose end is everybody's
        yield Stage(path, stack)


def test_what_a_run_did_goes_through_all_in_their_order_before_time_moves(stage: Stage) -> None:
    run = stage.run()
    stage.seat("guard", Seat.GUARD)
    stage.seat("files", Seat.FILES)
    stage.seat("bus", Seat.MEASURES)
    until("all take part", lambda: len({who for who, _ in stage.turns}) == 3)
    run.ask(BEGINS_S + 1.0)
    assert run.go()
    assert stage.seconds.now_s() == BEGINS_S + 1.0
    then = [who for who, at_s in stage.turns if at_s == BEGINS_S]
    assert then[-4:] == ["guard", "files", "bus", "guard"]


def test_time_stands_while_a_run_works_and_others_have_their_turns(stage: Stage) -> None:
    stage.run()
    stage.seat("guard", Seat.GUARD)
    until("turns go on", lambda: len(stage.turns) > 5)
    assert {at_s for _, at_s in stage.turns} == {BEGINS_S}


def test_nobody_waits_for_who_has_left_be_it_in_a_turn(stage: Stage) -> None:
    run = stage.run()
    gone = Place(stage.path, Seat.MEASURES)
    assert gone.go()  # its turn, which never ends
    stage.seat("guard", Seat.GUARD)
    gone.close()
    run.ask(BEGINS_S + 1.0)
    assert run.go()


def test_several_buses_are_each_waited_for(stage: Stage) -> None:
    run = stage.run()
    names = [f"bus {number}" for number in range(12)]
    for name in names:
        stage.seat(name, Seat.MEASURES)
    until("all take part", lambda: len({who for who, _ in stage.turns}) == len(names))
    run.ask(BEGINS_S + 1.0)
    assert run.go()
    then = [who for who, at_s in stage.turns if at_s == BEGINS_S]
    assert set(then[-len(names) :]) == set(names)


def test_a_run_that_has_ended_leaves_time_to_the_next(stage: Stage) -> None:
    first = stage.run()
    first.ask(BEGINS_S + 1.0)
    assert first.go()
    first.close()  # at work, as far as anybody knows
    pass_s(stage.path, 2.5 * STEP_S)
    assert stage.seconds.now_s() == BEGINS_S + 1.0 + 2.5 * STEP_S
