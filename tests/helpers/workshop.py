"""A maker's whole way with one machine: a bench as files, its guard, hands and clock.

Responsible for the stage on which each step is taken; not for any expectation.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import structlog

from controller.commands.advising import advised
from controller.commands.options import parser
from controller.commissioning.naming import Seen
from controller.commissioning.site import Site
from controller.core.profile import Profile
from controller.files.attach_shape import LinuxAttach
from controller.files.machine_file import load_machine_file
from controller.guard.messages import Status
from controller.health.checks import examine
from controller.health.finding import Finding, Place
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.ports import Sensor
from controller.wiring import Attached, Order, Sources, Starter, execute, identity
from controller.wiring.attaching import _real_machine
from controller.wiring.looking import _named, kernels_own
from hardware.linux.looking import Thermometers
from tests.helpers.commissioned import COMPUTER, Kitchen, Scripted, machine_text, site_in

TURNS = ("bath", "bowl", "guard")
PLENTY_MB = 4000.0


class Maker(Scripted):
    """Somebody who does what is asked for, or what the test says instead."""

    def __init__(self, kitchen: Kitchen) -> None:
        """Willing."""
        super().__init__()
        self._kitchen = kitchen
        self.warms = {turn: turn for turn in TURNS}
        self.beside: dict[str, str] = {}  # what else lies in the hand, by whose turn it is
        self.deeds = {
            "Water covers": lambda: "yes",
            "Let the cut-out trip": lambda: kitchen.hand("cut-out", "1"),
            "reset it by hand": lambda: kitchen.hand("cut-out", "0"),
            "Press the stop": lambda: kitchen.hand("stop-button", "1"),
            "Release": lambda: kitchen.hand("stop-button", "0"),
        }

    def does(self, word: str, deed: Callable[[], str]) -> None:
        """Asked with that word, do this instead."""
        self.deeds = {**self.deeds, word: deed}

    def say(self, text: str) -> None:
        """Read it, and warm the thermometer whose turn it is."""
        super().say(text)
        turn = next((one for one in TURNS if text.endswith(f"{one}'s turn.")), "")
        for one in TURNS:
            is_warm = one in {self.warms.get(turn), self.beside.get(turn)}
            self._kitchen.hand(one, "33\n" if is_warm else "")


class Workshop:
    """The machine from its first page of advice on."""

    def __init__(self, folder: Path, *advice: str) -> None:
        """Write the machine file from what `bainward parts` says; nothing is shown yet."""
        self.folder = folder
        self.page = advised(parser().parse_args(["parts", *advice]))
        sizes = self.page[self.page.index("[bath]\n") :]
        text = machine_text()
        head, rest = text.partition("[bath]\n")[0], text.partition("[fitted]")[2]
        path = folder / "kitchen.toml"
        path.write_text(f"{head}{sizes}\n[fitted]{rest}", encoding="utf-8")
        self.path = path
        self.kitchen = Kitchen(folder, "second-switch", "mains-live")
        self.maker = Maker(self.kitchen)
        self._runs = 0

    def site(self) -> Site:
        """The machine as its files say now."""
        return site_in(self.folder, self.maker, self.kitchen.clock)

    def a_day_later(self) -> None:
        """Everything stands in the room's warmth again."""
        at_s = self.kitchen.clock.at_s
        self.kitchen = Kitchen(self.folder, "second-switch", "mains-live")
        self.kitchen.clock.at_s = at_s + timedelta(days=1).total_seconds()
        self.kitchen.served.follow(0.0)
        self.maker = Maker(self.kitchen)

    def rewrite(self, old: str, new: str) -> None:
        """A change of the machine file."""
        text = self.path.read_text(encoding="utf-8")
        assert old in text
        self.path.write_text(text.replace(old, new, 1), encoding="utf-8")

    @contextmanager
    def thermometers(self) -> Iterator[tuple[Seen, ...]]:
        """All that the kernel has, measured whenever the clock moves."""
        machine_file = load_machine_file(self.path)
        plan, guard = machine_file.attach, machine_file.guard
        assert isinstance(plan, LinuxAttach)
        assert guard is not None
        own, plans = _named(plan, guard.probe)
        clock = self.kitchen.clock
        found = Thermometers(plans, clock.now_s, plan.root)
        with self.measuring(found.take):
            yield kernels_own(own, plans, found.sensors, plan.root)

    def run(self, profile: Profile) -> Run:
        """A whole run over the real drivers, in simulated time; its record as it is read back."""
        machine_file = load_machine_file(self.path)
        assert isinstance(machine_file.attach, LinuxAttach)
        clock = self.kitchen.clock
        record = self.folder / "runs" / f"run-{self._runs}.jsonl"
        record.parent.mkdir(exist_ok=True)
        self._runs += 1
        with self.kitchen.opened() as guard:
            machine = _real_machine(machine_file.attach, guard.heater, guard.permit, clock)
            with self.measuring(machine.take):
                execute(
                    Order(
                        profile=profile,
                        machine=machine_file.machine,
                        attached=Attached(
                            devices=machine.devices,
                            panels=(self.kitchen.bench.operator,),
                            truth=None,
                            farewell=lambda _now_s, _tripped: None,
                        ),
                        clock=clock,
                        identity=identity(
                            record.stem, clock.wall().isoformat(), profile, machine_file.machine
                        ),
                        journal_path=record,
                        link=None,
                        panels=(Starter(),),
                        tellers=(),
                        log=structlog.get_logger(),
                    )
                )
        return read_run(record)

    @contextmanager
    def measuring(self, take: Callable[[], object]) -> Iterator[None]:
        """Thermometers measure whenever the clock moves."""
        clock = self.kitchen.clock
        before = clock.due

        def due(now_s: float) -> None:
            before(now_s)
            take()

        take()
        clock.due = due
        try:
            yield
        finally:
            clock.due = before

    def health(self) -> dict[str, tuple[Finding, ...]]:
        """What each check that isn't content found."""
        return {check.what: many for check, many in examine(self._place()) if many}

    def _place(self) -> Place:
        machine_file = load_machine_file(self.path)
        kitchen = self.kitchen

        @contextmanager
        def sensors() -> Iterator[Mapping[str, Sensor]]:
            with self.thermometers() as seen:
                yield {role: one.sensor for one in seen for role in one.roles if role != "guard"}

        return Place(
            machine_file=machine_file,
            path=self.path,
            records=self.folder / "runs",
            now=kitchen.clock.wall(),
            clock=kitchen.clock,
            sources=Sources(
                held_mb=lambda: 50.0,
                left_mb=lambda: PLENTY_MB,
                threads=lambda: (),
                disk_left_mb=lambda: PLENTY_MB,
                wall_s=lambda: 0.0,
                boot_s=lambda: 0.0,
            ),
            is_synchronised=lambda: True,
            thermometers=sensors,
            ask_guard=self._status,
            systemctl=lambda _words: "",
            program=self.folder / "bainward",
            owners=dict,
            computer=COMPUTER,
            root=self.folder / "root",
        )

    def _status(self) -> Status:
        permit = self.kitchen.read(0.0)
        return Status(
            latched=self.kitchen.guard.latched,
            heat=False,
            bath_mc=round(1000 * permit.bath_c),
            number=0,
        )
