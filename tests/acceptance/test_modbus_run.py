"""A whole profile over Modbus: the real loop, guard and drivers, and a bench that is two boards.

Responsible for a run in simulated time over a real wire, and for what becomes of it when board,
line or guard fail; not for processes (test_modbus_processes), nor for single frames.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import structlog

from controller.core.profile import Profile
from controller.core.signals import Request, Verb
from controller.core.state import Mode
from controller.daemon import Crew, Daemon
from controller.files.board_shape import ModbusAttach
from controller.files.machine_file import MachineFile, load_machine_file
from controller.files.profile_file import load_profile
from controller.guard import door
from controller.guard.board import Board as GuardsBoard
from controller.guard.client import GuardedHeater
from controller.guard.decision import Cause
from controller.guard.door import Door
from controller.guard.keeper import Keeper, Parts
from controller.guard.latch import Latch
from controller.guard.lines import Switches, open_input
from controller.guard.probe import Probe
from controller.guard.settings import GuardSettings
from controller.guard.voice import Voice
from controller.ports import Moment, Question
from controller.wiring.board_attaching import board_machine
from hardware.bench.attach import BenchFault
from hardware.bench.board import GUARD_UNIT, RUN_UNIT, Coil, boards_of
from tests.helpers.records import replace
from tests.helpers.served_board import Hand, pty_boards, tcp_boards, water_bench

FILE = Path(__file__).resolve().parents[1] / "helpers" / "board_machine.toml"
MOST_S = 3600
CYCLES = 2  # of the guard in a second: it makes twenty, but all after the second say the same


@pytest.fixture(autouse=True)
def _no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    """The guard waits for nobody between its cycles: time is handed in."""
    monkeypatch.setattr(door, "PAUSE_S", 0.0)


def machine_file_at(folder: Path, run_at: str, guard_at: str) -> MachineFile:
    """The machine file with its boards there."""
    first, second = FILE.read_text(encoding="utf-8").split("[guard]")
    path = folder / "kitchen.toml"
    said = "127.0.0.1:1502"
    path.write_text(
        first.replace(said, run_at) + "[guard]" + second.replace(said, guard_at), encoding="utf-8"
    )
    return load_machine_file(path)


def short_trial(machine_file: MachineFile) -> Profile:
    """The water trial between lower temperatures and with shorter dwells: minutes, not an hour."""
    profile = load_profile("water-trial", machine_file.machine)
    targets_c = (22.0, 24.0)
    phases = tuple(
        replace(phase, bowl_target_c=target_c, dwell_s=30.0, settle_s=20.0)
        for phase, target_c in zip(profile.phases, targets_c, strict=True)
    )
    return replace(profile, phases=phases)


def keeper_of(
    settings: GuardSettings, now_ms: Callable[[], int], stack: ExitStack
) -> tuple[Keeper, Probe]:
    """The guard's own cycle, its parts opened as its process opens them, on a clock handed in."""
    assert settings.board is not None
    assert settings.mains_live is not None
    board = stack.enter_context(closing(GuardsBoard(settings.board)))
    switches = stack.enter_context(Switches((settings.main,), board))
    probe = Probe(settings.probe, now_ms, board)
    voice = Voice(now_ms)
    parts = Parts(
        switches=switches,
        probe=probe,
        door=stack.enter_context(Door(settings.sockets, voice)),
        latch=stack.enter_context(Latch(Path(settings.latch))),
        now_ms=now_ms,
        wall_s=lambda: 1_700_000_000,
        voice=voice,
        mains_live=open_input(settings.mains_live, board),
    )
    return Keeper(parts, settings.limits), probe


@dataclass(slots=True)
class Watch:
    """Starts the run, and keeps each tick."""

    moments: list[Moment] = field(default_factory=list)

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """A start."""
        return () if self.moments else (Request(verb=Verb.START),)

    def tell(self, moment: Moment) -> None:
        """Keep it."""
        self.moments.append(moment)


class Kitchen:
    """Everything of one run, and its clock, which is the loop's, the guard's and the bench's."""

    def __init__(self) -> None:
        """A bench that is two boards; nothing is attached to it."""
        self.hand = Hand()
        self.bench = water_bench()
        self.boards = boards_of(self.bench, self.hand)
        self.watch = Watch()
        self.due: Callable[[int], None] = lambda _second: None
        self.guard_lives, self.guards_end = True, ""

    def attach(self, file: MachineFile, stack: ExitStack) -> None:
        """Guard and machine at their boards."""
        assert file.guard is not None
        assert isinstance(file.attach, ModbusAttach)
        self.file, self.profile = file, short_trial(file)
        now_ms = lambda: round(self.hand.at_s * 1000)  # noqa: E731 - one word
        self.guards = stack.enter_context(ExitStack())
        self.keeper, self.probe = keeper_of(file.guard, now_ms, self.guards)
        heater = self._greeted(file.guard.sockets)
        stack.callback(heater.close)
        self.machine = board_machine(file.attach, heater, heater, self.hand)
        stack.callback(self.machine.close)

    def _greeted(self, sockets: tuple[str, ...]) -> GuardedHeater:
        """The heater, once the guard has answered in its own cycle."""
        made: list[GuardedHeater] = []
        thread = threading.Thread(target=lambda: made.append(GuardedHeater(sockets)))
        thread.start()
        while thread.is_alive():
            self.keeper.cycle()
        return made[0]

    def now_s(self) -> float:
        """Seconds of the run."""
        return self.hand.at_s

    def other_s(self) -> float:
        """The same."""
        return self.hand.at_s

    def wait_until(self, when_s: float) -> None:
        """What guard and buses do until then, and what the test wants."""
        self._guard()
        self.hand.at_s = max(self.hand.at_s, when_s)
        assert self.hand.at_s <= MOST_S, "the run does not end"
        self.due(round(self.hand.at_s))
        if self.guard_lives:
            self.probe.read_once()
        self.machine.take()

    def _guard(self) -> None:
        """What the guard's process would do; an error ends it."""
        try:
            for _ in range(CYCLES if self.guard_lives else 0):
                self.keeper.cycle()
        except OSError as error:
            self.guard_lives, self.guards_end = False, str(error)
            self.guards.close()

    def wake(self) -> None:
        """Nobody waits."""

    def run(self) -> Moment:
        """To the end; the last moment."""
        daemon = Daemon(
            profile=self.profile,
            machine=self.file.machine,
            devices=self.machine.devices,
            crew=Crew(panels=[self.watch, self.bench.operator], tellers=[self.watch]),
            clock=self,
            log=structlog.get_logger(),
        )
        daemon.run()
        return self.watch.moments[-1]

    @property
    def heats(self) -> bool:
        """Whether the element's coil is closed."""
        return self.boards[GUARD_UNIT].coils()[Coil.HEATER]


@contextmanager
def kitchen_over_tcp(folder: Path) -> Iterator[Kitchen]:
    """Both boards at one port."""
    kitchen = Kitchen()
    with tcp_boards(kitchen.boards) as at, ExitStack() as stack:
        kitchen.attach(machine_file_at(folder, at, at), stack)
        yield kitchen


@contextmanager
def kitchen_on_lines(folder: Path) -> Iterator[Kitchen]:
    """Each board on a serial line of its own."""
    kitchen = Kitchen()
    boards = kitchen.boards
    with (
        pty_boards({RUN_UNIT: boards[RUN_UNIT]}) as run_at,
        pty_boards({GUARD_UNIT: boards[GUARD_UNIT]}) as guard_at,
        ExitStack() as stack,
    ):
        kitchen.attach(machine_file_at(folder, run_at, guard_at), stack)
        yield kitchen


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
    board.discrete_inputs = lambda: [*[False] * len(Coil), shown()[-1]]  # type: ignore[method-assign]  # a fault of the board itself


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
