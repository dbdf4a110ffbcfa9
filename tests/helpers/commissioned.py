"""A bench that is commissioned like a real machine, in simulated time, and the person beside it.

Responsible for clock, thermometers, machine file and answers; not for expectations.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from controller.commissioning.computer import computer_id
from controller.commissioning.proof_file import change_proofs, with_step
from controller.commissioning.proofs import Step
from controller.commissioning.proving import Guard
from controller.commissioning.site import Site
from controller.errors import StoppedError
from controller.files.machine_file import load_machine_file
from controller.guard.decision import Cause, Lease, Limits, Sight, begin, step
from controller.guard.lines import FileLine
from controller.guard.probe import read_mc
from controller.guard.settings import ProbeAt, ProbeKind
from controller.guard.words import words_of
from controller.ports import Kind, Permit
from hardware.bench.attach import Bench, attach
from hardware.bench.faults import BenchFault
from hardware.bench.file_machine import HEATER, MAINS_LIVE, SECOND, FileMachine
from hardware.bench.kernel_files import ONE_WIRE_IDS
from tests.helpers.file_machine import Seconds
from tests.helpers.proven import facts_of

BEGAN = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
COMPUTER = computer_id()  # commands ask for it by themselves
SIZES = Path(__file__).resolve().parent / "board_machine.toml"
ATTACHED = f"""
[fitted]
level_switch = false
shaft_pulses = false
load_signal = false

[attach]
kind = "linux"
root = "tree"

[attach.bath]
kind = "1-wire"
id = "{ONE_WIRE_IDS["bath"]}"

[attach.bowl]
kind = "1-wire"
id = "{ONE_WIRE_IDS["bowl"]}"

[attach.stirrer]
pwm = "/sys/class/pwm/pwmchip0/pwm0"
full = "60 rpm"

[guard]
socket = "guard"
latch = "latch"

[guard.main]
kind = "file"
path = "tree/{HEATER}"

[guard.second]
kind = "file"
path = "tree/{SECOND}"

[guard.mains_live]
kind = "file"
path = "tree/{MAINS_LIVE}"

[guard.probe]
kind = "1-wire"
path = "tree/sys/bus/w1/devices/{ONE_WIRE_IDS["guard"]}/temperature"
"""


class Minutes(Seconds):
    """The same clock, that knows the time of day, too."""

    def wall(self) -> datetime:
        """The time of day."""
        return BEGAN + timedelta(seconds=self.at_s)


@dataclass(slots=True)
class Scripted:
    """A person who does and answers what the test says; see `commissioning.person`."""

    deeds: Mapping[str, Callable[[], str]] = field(default_factory=dict)
    said: list[str] = field(default_factory=list)
    shown: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def say(self, text: str) -> None:
        """Remember it."""
        self.said.append(text)

    def show(self, text: str) -> None:
        """Remember it."""
        self.shown.append(text)

    def ask(self, question: str, words: tuple[str, ...] = ("yes", "no")) -> str:
        """Do what is asked, by a word of the question; leave where the test knows none."""
        self.asked.append(question)
        for word, deed in self.deeds.items():
            if word in question:
                answer = deed()
                assert answer in words, (question, answer)
                return answer
        raise StoppedError(question)


def machine_text(*changes: tuple[str, str]) -> str:
    """A machine file of a bench that is served as files."""
    text = SIZES.read_text(encoding="utf-8").partition("[fitted]")[0] + ATTACHED
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def site_in(
    folder: Path, person: Scripted, clock: Minutes, *, shown: tuple[Step, ...] = ()
) -> Site:
    """A machine in that folder, of which these steps were shown; made anew, as after a kill."""
    path = folder / "kitchen.toml"
    if not path.exists():
        path.write_text(machine_text(), encoding="utf-8")
    machine_file = load_machine_file(path)
    for one in shown:
        facts = facts_of(one, machine_file)
        change = with_step(one, machine_file, BEGAN, facts, on=COMPUTER)
        change_proofs(path, machine_file.machine.name, change)
    return Site(
        machine_file=machine_file,
        path=path,
        clock=clock,
        now=clock.wall,
        person=person,
        computer=COMPUTER,
    )


class Kitchen:
    """A bench served as files, and a guard's own decision over its lines, in simulated time.

    The guard reads and writes the same files as the process does, and takes a step at each moment
    of the clock, with or without a word of whoever asks for heat.
    """

    def __init__(self, folder: Path, *fitted: str) -> None:
        """All is off."""
        self.folder = folder / "tree"
        self.bench: Bench = attach(
            machine="reference",
            seed=1,
            kind=Kind.WATER,
            batch_kg=1.0,
            seed_share=0.0,
            fitted=frozenset(fitted),
        )
        self.served = FileMachine(self.bench, self.folder)
        self.served.follow(0.0)
        self.clock = Minutes(due=self._pass)
        self._sees = "mains-live" in fitted
        names = (HEATER, SECOND) if "second-switch" in fitted else (HEATER,)
        self.lines = [FileLine(str(self.folder / name)) for name in names]
        self.limits = Limits(cap_mc=62_000)
        self.guard = begin(0, Cause.NONE)
        self.is_deaf = False  # a guard that goes on heating without a word
        self._peer, self._number = 0, 0

    def hand(self, name: str, text: str) -> str:
        """Do something at the machine; "yes", for a person who says so."""
        (self.folder / "hands" / name).write_text(text, encoding="utf-8")
        self._pass(self.clock.at_s)
        return "yes"

    def fault(self, fault: BenchFault) -> None:
        """Break something of the bench."""
        self.bench.inject(fault)

    def _pass(self, now_s: float) -> None:
        if self.is_deaf and self.guard.heat:
            self.guard = self.guard._replace(leased_ms=round(now_s * 1000))
        self._step(now_s, None)

    def _step(self, now_s: float, lease: Lease | None) -> None:
        live_at = self.folder / MAINS_LIVE
        sight = Sight(
            now_ms=round(now_s * 1000),
            lease=lease,
            bath_mc=self._bath_mc(),
            mains_live=live_at.read_text() == "1\n" if self._sees else None,
        )
        self.guard = step(self.guard, sight, self.limits)
        for number, line in enumerate(self.lines, 1):
            line.set(on=self.guard.heat and self.guard.alone in (0, number))
        self.served.follow(now_s)

    def _bath_mc(self) -> int | None:
        probe_at = self.folder / f"sys/bus/w1/devices/{ONE_WIRE_IDS['guard']}/temperature"
        return read_mc(ProbeAt(kind=ProbeKind.ONE_WIRE, path=str(probe_at)))

    @contextmanager
    def opened(self) -> Iterator[Guard]:
        """Meet the guard as a controller of its own, and take leave of it."""
        self._peer += 1
        self._number = 0
        try:
            yield Guard(self, self)
        finally:
            farewell = Lease(self._peer, self._number + 9, False, 0, True, farewell=True)
            self._step(self.clock.at_s, farewell)

    def drive(
        self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True, alone: int = 0
    ) -> None:
        """One lease."""
        self._number += 1
        self._step(
            now_s, Lease(self._peer, self._number, on, round(1000 * cap_c), good, alone=alone)
        )

    def read(self, now_s: float) -> Permit:
        """The guard's word."""
        del now_s
        what, action = words_of(self.guard.latched, "")
        bath_mc = self._bath_mc()
        return Permit(
            latched=self.guard.latched,
            age_s=0.0,
            bath_c=math.nan if bath_mc is None else bath_mc / 1000,
            what=what,
            action=action,
            live=(self.folder / MAINS_LIVE).read_text() == "1\n" if self._sees else None,
            heat=self.guard.heat and not self.guard.alone,
        )

    def latch(self, causes: Sequence[str], now_s: float) -> None:
        """Nothing: no run trips here."""
