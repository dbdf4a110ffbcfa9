"""A whole run over Modbus in simulated time: the real loop, guard and drivers, the bench as boards.

Responsible for putting that together on TCP or on serial lines; not for what is broken, nor for any
expectation.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import structlog

from controller.core.profile import Profile
from controller.core.signals import Request, Verb
from controller.daemon import Crew, Daemon
from controller.files.board_shape import ModbusAttach
from controller.files.machine_file import MachineFile, load_machine_file
from controller.files.profile_file import load_profile
from controller.guard.board import Board as GuardsBoard
from controller.guard.client import GuardedHeater
from controller.guard.door import Door
from controller.guard.keeper import Keeper, Parts
from controller.guard.latch import Latch
from controller.guard.lines import Switches, open_input
from controller.guard.probe import Probe
from controller.guard.settings import GuardSettings
from controller.guard.voice import Voice
from controller.ports import Moment, Question
from controller.wiring.board_attaching import board_machine
from hardware.bench.board import GUARD_UNIT, RUN_UNIT, Coil, boards_of
from tests.helpers.records import replace
from tests.helpers.served_board import Hand, Wire, pty_boards, tcp_boards, water_bench, whole

FILE = Path(__file__).with_name("board_machine.toml")
MOST_S = 3600
CYCLES = 2  # of the guard in a second: it makes twenty, but all after the second say the same


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
        self.measure()

    def measure(self) -> None:
        """What the bus does by then."""
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
        self.halt = daemon.halt
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
def kitchen_on_lines(
    folder: Path, wire: Wire = whole, made: Callable[[], Kitchen] = Kitchen
) -> Iterator[Kitchen]:
    """Each board on a serial line of its own; `wire` is the run's."""
    kitchen = made()
    boards = kitchen.boards
    with (
        pty_boards({RUN_UNIT: boards[RUN_UNIT]}, wire) as run_at,
        pty_boards({GUARD_UNIT: boards[GUARD_UNIT]}) as guard_at,
        ExitStack() as stack,
    ):
        kitchen.attach(machine_file_at(folder, run_at, guard_at), stack)
        yield kitchen
