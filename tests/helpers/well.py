"""A machine whose health is sound, in a tree of its own, so that one thing can be spoilt.

Responsible for the stage; not for any defect or expectation.
"""

import shutil
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cache, partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from controller.clock import VirtualClock, wall_time
from controller.commissioning.computer import computer_id
from controller.files.machine_file import load_machine_file
from controller.guard.decision import Cause
from controller.guard.messages import Status
from controller.health.checks import examine
from controller.health.finding import Finding, Place
from controller.health.service import GUESTS
from controller.ports import Sensor
from controller.service.making import service_of
from controller.service.units import PagePlan, units
from controller.wiring import Sources, thermometers_of
from tests.helpers.batch import write_batch
from tests.helpers.kernel_tree import BATH_ID, BOWL_ID, one_wire
from tests.helpers.proven import prove_all

USER = "daemon"  # is there on every system, and owns nothing here
CODES_PER_C = 16
ROOM_C = 20
MACHINE = """\
schema = 1
name = "kitchen"
[limits]
bath = "62 C"
bowl = "58 C"
[bath]
water = "3 kg"
vessel = "700 J/K"
heater = "500 W"
loss = "2.5 W/K"
[bowl]
batch = "1.5 kg"
[relay]
kind = "mechanical"
[fitted]
level_switch = false
shaft_pulses = false
load_signal = false
stirrer = false
[attach]
kind = "linux"
root = "{root}"
[attach.bath]
kind = "1-wire"
id = "{bath}"
[attach.bowl]
kind = "1-wire"
id = "{bowl}"
[guard.main]
kind = "gpio"
name = "HEAT"
[guard.probe]
kind = "1-wire"
path = "/sys/bus/w1/devices/28-0000000000b3/temperature"
"""
PUSH = """\
schema = 1
[mqtt]
host = "127.0.0.1"
[push]
protocol = "ntfy"
url = "https://push.example/kitchen"
token_file = "push-token"
"""
STATE = {
    "ActiveState": "active",
    "UnitFileState": "enabled",
    "NeedDaemonReload": "no",
    "NRestarts": "0",
}


@cache
def a_record() -> bytes:
    """A whole batch's record."""
    with TemporaryDirectory() as folder:
        write_batch(Path(folder) / "run.jsonl")
        return (Path(folder) / "run.jsonl").read_bytes()


@dataclass
class Well:
    """The stage. Spoil a field or a file of it, then look."""

    folder: Path
    now: datetime = field(default_factory=lambda: wall_time().replace(microsecond=0))
    status: Callable[[], Status] = lambda: Status(
        latched=Cause.NONE, heat=False, bath_mc=ROOM_C * 1000, number=0
    )
    systemd: dict[str, str] = field(default_factory=lambda: dict(STATE))
    guests: dict[str, str] = field(default_factory=lambda: dict(STATE))
    watchdog: str = "14s"
    is_synchronised: bool = True
    owners: Callable[[], Mapping[str, list[str]]] = dict
    computer: str = field(default_factory=computer_id)
    sensors: Mapping[str, Sensor] | None = None  # instead of the tree's
    disk_left_mb: float = 4000.0
    memory_left_mb: float = 300.0

    def __post_init__(self) -> None:
        """Build it, sound."""
        self.root = self.folder / "root"
        self.home = self.folder / "etc"
        self.records = self.folder / "records"
        for path in (self.root / "etc/systemd/system", self.root / "dev", self.home, self.records):
            path.mkdir(parents=True)
        for name in (BATH_ID, BOWL_ID):
            self.measure(name, ROOM_C)
        self.write()
        (self.root / "dev/gpiochip0").touch()
        (self.root / "dev/gpiochip0").chmod(0o666)
        self.program = self.folder / "bin" / "bainward"
        self.program.parent.mkdir()
        self.program.write_text("#!/bin/sh\n", encoding="utf-8")
        self.prove()
        self.install()
        (self.records / "run-1.jsonl").write_bytes(a_record())

    @property
    def path(self) -> Path:
        """The machine file."""
        return self.home / "kitchen.toml"

    @property
    def unit(self) -> Path:
        """The guard's unit on the disk."""
        return self.root / "etc/systemd/system/bainward-guard.service"

    def write(self, *changes: tuple[str, str], more: str = "") -> None:
        """The machine file, with these changes."""
        text = MACHINE.format(root=self.root, bath=BATH_ID, bowl=BOWL_ID)
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        self.path.write_text(text + more, encoding="utf-8")
        self.path.chmod(0o644)

    def measure(self, name: str, temp_c: float) -> Path:
        """What a thermometer says."""
        return one_wire(self.root, name, round(temp_c * CODES_PER_C))

    def prove(self, at: datetime | None = None) -> None:
        """Show everything, at a time."""
        prove_all(load_machine_file(self.path), at or self.now)

    def install(self, user: str | None = USER, **more: Any) -> None:  # noqa: ANN401 - fields of a service
        """The units as `bainward service` writes them."""
        service = service_of(self.path, load_machine_file(self.path), self.program, user)
        service = replace(service, **more)
        for name, text in units(service).items():
            (self.unit.parent / name).write_text(text, encoding="utf-8")

    def with_guests(self) -> None:
        """A page and pushes, with files and units of their own, sound."""
        for name in ("page.password", "push-token"):
            secret = self.home / name
            secret.write_text("secret\n", encoding="utf-8")
            secret.chmod(0o640)
            shutil.chown(secret, group=USER)
        self.push_file.write_text(PUSH, encoding="utf-8")
        self.push_file.chmod(0o644)
        plan = PagePlan(listen="127.0.0.1:8080", password=self.home / "page.password")
        self.install(push_file=self.push_file, page=plan)

    @property
    def push_file(self) -> Path:
        """What is pushed, and how."""
        return self.home / "phone.toml"

    def place(self) -> Place:
        """Where to look."""
        machine_file = load_machine_file(self.path)
        clock = VirtualClock()
        return Place(
            machine_file=machine_file,
            path=self.path,
            records=self.records,
            now=self.now,
            clock=clock,
            sources=Sources(
                held_mb=lambda: 50.0,
                left_mb=lambda: self.memory_left_mb,
                threads=lambda: (),
                disk_left_mb=lambda: self.disk_left_mb,
                wall_s=lambda: 0.0,
                boot_s=lambda: 0.0,
            ),
            is_synchronised=lambda: self.is_synchronised,
            thermometers=partial(thermometers_of, machine_file)
            if self.sensors is None
            else lambda: nullcontext(self.sensors or {}),
            ask_guard=self.status,
            systemctl=self._systemctl,
            program=self.program,
            owners=self.owners,
            computer=self.computer,
            root=self.root,
        )

    def found(self) -> dict[str, tuple[Finding, ...]]:
        """What each check that isn't content found."""
        return {check.what: many for check, many in examine(self.place()) if many}

    def _systemctl(self, words: tuple[str, ...]) -> str:
        if "RuntimeWatchdogUSec" in words[1]:
            return f"RuntimeWatchdogUSec={self.watchdog}\n" if self.watchdog else ""
        told = self.guests if words[-1] in GUESTS else self.systemd
        return "".join(f"{key}={value}\n" for key, value in told.items())
