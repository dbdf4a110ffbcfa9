"""What a guard is started with, in plain values that pass from one process to another.

Responsible for the shapes, the usual place of the socket and passing settings on as one text; not
for checking a machine file (controller/files does).
"""

import json
import os
from dataclasses import asdict, dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from controller.guard.decision import Limits

SYSTEM_RUN_DIR = Path("/run/bainward")
SYSTEM_STATE_HOME = Path("/var/lib")  # what the service's unit sets XDG_STATE_HOME to


class LineKind(StrEnum):
    """What a line is driven through."""

    FILE = "file"  # a file that holds 0 or 1
    GPIO = "gpio"  # a line of the GPIO character device, by its name
    MODBUS = "modbus"  # a bit of the board in [guard.board]


class ProbeKind(StrEnum):
    """Which of the kernel's files the guard's thermometer is."""

    HWMON = "hwmon"  # temp1_input
    ONE_WIRE = "1-wire"  # temperature
    MODBUS = "modbus"  # a register of the board in [guard.board]


@dataclass(frozen=True, slots=True, kw_only=True)
class PointAt:
    """Where a value lies on a board, by the four tables of Modbus."""

    table: str  # coil, discrete_input, input_register or holding_register
    address: int

    def __str__(self) -> str:
        """As people say it."""
        return f"{self.table.replace('_', ' ')} {self.address}"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardAt:
    """A board that speaks Modbus: where it is, and what it says of itself."""

    at: str  # a serial port's path, or HOST:PORT
    unit: int
    baud: int
    parity: str  # "N", "E" or "O"
    reply_ms: int
    host_loss: PointAt  # how long it keeps its outputs without its host
    host_loss_step_ms: int
    boots: PointAt | None = None  # a counter that another start of the board changes


@dataclass(frozen=True, slots=True, kw_only=True)
class LineAt:
    """One output or input of the guard."""

    kind: LineKind
    place: str  # the file's path, the line's name, or what the board's bit is called
    active_low: bool = False
    point: PointAt | None = None  # of a board alone


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeAt:
    """The guard's own thermometer in the bath."""

    kind: ProbeKind
    path: str  # or what the board's register is called
    point: PointAt | None = None  # of a board alone
    step_mc: float = 0.0  # of that register, thousandths of °C: (raw + offset)·step
    offset: int = 0
    signed: bool = True
    broken: tuple[int, ...] = ()  # what stands there for a broken thermometer


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardSettings:
    """All that a guard needs to know. What is not fitted is None."""

    machine: str
    sockets: tuple[str, ...]  # where to listen: the first that can be; a client tries them in turn
    latch: str
    main: LineAt
    probe: ProbeAt
    limits: Limits
    second: LineAt | None = None
    mains_live: LineAt | None = None
    heartbeat: LineAt | None = None
    board: BoardAt | None = None


def socket_places(machine: str) -> tuple[str, ...]:
    """Where the guard of that machine listens when its file doesn't say: the user's, the system's.

    After the XDG base directory convention, which wants an absolute path.
    """
    runtime = os.environ.get("XDG_RUNTIME_DIR", "")
    own = (Path(runtime) / "bainward",) if runtime.startswith("/") else ()
    return tuple(str(folder / f"{machine}.guard") for folder in (*own, SYSTEM_RUN_DIR))


def latch_place(machine: str) -> str:
    """Where the guard of that machine remembers trips when its file doesn't say."""
    base = os.environ.get("XDG_STATE_HOME", "")
    root = Path(base) if base.startswith("/") else Path.home() / ".local" / "state"
    return _latch_below(root, machine)


def service_latch(settings: GuardSettings) -> str | None:
    """Where the service's guard of this machine remembers trips, if this one does elsewhere.

    None for a latch that the machine file names, which serves both.
    """
    usual = _latch_below(SYSTEM_STATE_HOME, settings.machine)
    is_named = settings.latch != latch_place(settings.machine)
    return None if is_named or settings.latch == usual else usual


def _latch_below(root: Path, machine: str) -> str:
    return str(root / "bainward" / f"{machine}.latch")


def to_text(settings: GuardSettings) -> str:
    """The settings as one line."""
    return json.dumps(asdict(settings), sort_keys=True)


def from_text(text: str) -> GuardSettings:
    """The settings that `to_text` wrote; KeyError, TypeError or ValueError for anything else."""
    raw = json.loads(text)
    lines = ("main", "second", "mains_live", "heartbeat")
    raw.update({name: _line(raw[name]) for name in lines})
    raw["sockets"] = tuple(raw["sockets"])
    probe = raw["probe"]
    probe.update(
        kind=ProbeKind(probe["kind"]),
        point=_point(probe["point"]),
        broken=tuple(probe["broken"]),
    )
    raw["probe"] = ProbeAt(**probe)
    raw["limits"] = Limits(**raw["limits"])
    raw["board"] = _board(raw["board"])
    return GuardSettings(**raw)


def _line(raw: dict[str, Any] | None) -> LineAt | None:
    if raw is None:
        return None
    raw.update(kind=LineKind(raw["kind"]), point=_point(raw["point"]))
    return LineAt(**raw)


def _point(raw: dict[str, Any] | None) -> PointAt | None:
    return None if raw is None else PointAt(**raw)


def _board(raw: dict[str, Any] | None) -> BoardAt | None:
    if raw is None:
        return None
    raw.update(host_loss=PointAt(**raw["host_loss"]), boots=_point(raw["boots"]))
    return BoardAt(**raw)
