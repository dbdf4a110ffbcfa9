"""What a look at the machine's health finds, and where it looks.

Responsible for the shapes; not for any check.
"""

import subprocess
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from controller.clock import Clock
from controller.files.machine_file import MachineFile
from controller.guard.messages import Status
from controller.ports import Sensor
from controller.wiring import Sources

SYSTEMD_WAIT_S = 10.0  # own engineering value, not published


class Weight(StrEnum):
    """How much a finding weighs."""

    FAULT = "FAULT"  # mend it before anything heats
    REMARK = "remark"  # better mended


class Finding(NamedTuple):
    """One thing that is not as it should be, in one sentence: what, where, what to do."""

    weight: Weight
    says: str


Findings = Iterator[Finding]


def fault(says: str) -> Finding:
    """Something to be mended before anything heats."""
    return Finding(Weight.FAULT, says)


def remark(says: str) -> Finding:
    """Something better mended."""
    return Finding(Weight.REMARK, says)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where to look; a test hands in a tree and words of its own."""

    machine_file: MachineFile
    path: Path  # of the machine file
    records: Path  # the folder of records
    now: datetime  # the time of day, UTC
    clock: Clock  # to wait for thermometers
    sources: Sources  # of the computer's own numbers
    is_synchronised: Callable[[], bool]
    thermometers: Callable[[], AbstractContextManager[Mapping[str, Sensor]]]
    ask_guard: Callable[[], Status]  # raises BainwardError when none answers
    systemctl: Callable[[tuple[str, ...]], str]  # empty where there is no systemd
    program: Path  # the installed command
    owners: Callable[[], Mapping[str, list[str]]]  # of import names: the packages that have them
    computer: str  # which one this is
    root: Path = Path("/")  # where the kernel's files, devices and units begin

    @property
    def is_real(self) -> bool:
        """Whether it is a machine with wires."""
        return bool(self.machine_file.guard)


def real_systemctl(words: tuple[str, ...]) -> str:
    """What systemctl prints; nothing where it can't be asked."""
    try:
        done = subprocess.run(  # noqa: S603 - our own words, no shell
            ["systemctl", "--no-pager", *words],  # noqa: S607 - wherever the system has it
            capture_output=True,
            text=True,
            check=False,
            timeout=SYSTEMD_WAIT_S,
        )
    except (OSError, subprocess.SubprocessError):
        return ""
    return done.stdout


def joined(what: str, action: str) -> str:
    """Sentences as one: what is, what to do, and what then."""
    return f"{what.rstrip('.')}: {action[:1].lower()}{action[1:]}".replace(". Then ", ", then ")
