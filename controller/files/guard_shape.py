"""The table `[guard]` of a machine file: the heater's lines, the guard's thermometer, its limits.

Responsible for keys, single values and tightening; not for opening what it names.
"""

import re
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from controller.files.board_shape import Address, BoardTable, DegreesTable, step_mc
from controller.files.shapes import Sentence, Table, Within
from controller.files.temperatures import parse_duration_s, quoted
from controller.files.toml_file import beside
from controller.guard.decision import Limits
from controller.guard.settings import (
    GuardSettings,
    LineAt,
    LineKind,
    PointAt,
    ProbeAt,
    ProbeKind,
    latch_place,
    socket_places,
)

MS = 1000
_USUAL = Limits(cap_mc=0)


# A file may tighten these for a livelier guard, and never loosen them.
Lease = Annotated[
    float,
    BeforeValidator(Within(parse_duration_s, "0.2 s", f"{_USUAL.lease_ms / MS:g} s")),
    Field(examples=['"2 s"']),
]
ShortLapse = Annotated[
    float,
    BeforeValidator(Within(parse_duration_s, "0.5 s", f"{_USUAL.short_lapse_ms / MS:g} s")),
    Field(examples=['"10 s"']),
]
Over = Annotated[
    float,
    BeforeValidator(Within(parse_duration_s, "0.2 s", f"{_USUAL.over_ms / MS:g} s")),
    Field(examples=['"2 s"']),
]
ProbeLost = Annotated[
    float,
    BeforeValidator(Within(parse_duration_s, "1 s", f"{_USUAL.sample_lost_ms / MS:g} s")),
    Field(examples=['"30 s"']),
]


_NUMBERED = re.compile(r"/hwmon[0-9]+/")
_I2C_CHIP = "/sys/bus/i2c/devices/1-0048/hwmon/hwmon*/temp1_input"


def _unnumbered(path: str) -> str:
    if _NUMBERED.search(path):
        raise ValueError(
            f"{quoted(path)} has a number that may mean another chip after the next boot; write a "
            f'path that names the chip and a * for the number, like "{_I2C_CHIP}"'
        )
    return path


class OutputTable(Table):
    """`[guard.main]`, `[guard.second]`, `[guard.heartbeat]`: a line that the guard drives."""

    kind: LineKind = Field(strict=False, examples=['"gpio"'])
    path: Sentence | None = Field(None, examples=['"line"'])
    name: Sentence | None = Field(None, examples=['"GPIO17"'])
    coil: Address | None = Field(None, examples=["0"])  # of the board in [guard.board]

    def place(self) -> PointAt | None:
        """Where it is on the board."""
        return None if self.coil is None else PointAt(table="coil", address=self.coil)

    def at(self, folder: Path) -> LineAt:
        """Where it is; a relative path lies beside the machine file."""
        point = self.place()
        if self.kind is LineKind.MODBUS and point is not None:
            return LineAt(kind=self.kind, place=str(point), point=point)
        if self.kind is LineKind.FILE:
            return LineAt(kind=self.kind, place=str(beside(folder, self.path or "")))
        return LineAt(kind=self.kind, place=self.name or "")


class InputTable(OutputTable):
    """`[guard.mains_live]`: a line that the guard reads. Only an input may be active when low."""

    active_low: bool = Field(default=False, examples=["false"])
    discrete_input: Address | None = Field(None, examples=["0"])

    def place(self) -> PointAt | None:
        """Where it is on the board: a discrete input, or a coil that shows the true state."""
        if self.discrete_input is None:
            return super().place()
        return PointAt(table="discrete_input", address=self.discrete_input)

    def at(self, folder: Path) -> LineAt:
        """Where it is and which level means live."""
        line = super().at(folder)
        return replace(line, active_low=self.active_low)


class GuardFileProbeTable(Table):
    """`[guard.probe]`: the guard's own thermometer, in a file of the kernel's."""

    kind: Literal["hwmon", "1-wire"] = Field(examples=['"hwmon"'])
    path: Annotated[Sentence, AfterValidator(_unnumbered)] = Field(examples=[f'"{_I2C_CHIP}"'])

    def at(self, folder: Path) -> ProbeAt:
        """Where it is; a relative path lies beside the machine file."""
        return ProbeAt(kind=ProbeKind(self.kind), path=str(beside(folder, self.path)))


class GuardBoardProbeTable(DegreesTable):
    """`[guard.probe]`: the guard's own thermometer, on the board in [guard.board]."""

    kind: Literal["modbus"] = Field(examples=['"modbus"'])

    def at(self, _folder: Path) -> ProbeAt:
        """Where it is."""
        point = self.point()
        return ProbeAt(
            kind=ProbeKind.MODBUS,
            path=str(point),
            point=point,
            step_mc=step_mc(self),
            offset=self.offset,
            signed=self.signed,
            broken=tuple(self.broken),
        )


class GuardTable(Table):
    """`[guard]`: the process that alone drives the heater."""

    socket: Sentence | None = Field(None, examples=['"/run/bainward/kitchen.guard"'])
    latch: Sentence | None = Field(None, examples=['"kitchen.latch"'])
    main: OutputTable = Field(examples=["[guard.main]"])
    second: OutputTable | None = None
    mains_live: InputTable | None = None
    heartbeat: OutputTable | None = None
    probe: GuardFileProbeTable | GuardBoardProbeTable = Field(
        discriminator="kind", examples=["[guard.probe]"]
    )
    board: BoardTable | None = Field(None, examples=["[guard.board]"])
    lease: Lease = _USUAL.lease_ms / MS
    short_lapse: ShortLapse = _USUAL.short_lapse_ms / MS
    over: Over = _USUAL.over_ms / MS
    probe_lost: ProbeLost = _USUAL.sample_lost_ms / MS

    def settings(self, machine: str, bath_max_c: float, folder: Path) -> GuardSettings:
        """What the guard is started with; relative paths lie beside the machine file."""
        sockets = socket_places(machine)
        if self.socket is not None:
            sockets = (str(beside(folder, self.socket)),)
        latch = latch_place(machine) if self.latch is None else str(beside(folder, self.latch))
        return GuardSettings(
            machine=machine,
            sockets=sockets,
            latch=latch,
            main=self.main.at(folder),
            second=None if self.second is None else self.second.at(folder),
            mains_live=None if self.mains_live is None else self.mains_live.at(folder),
            heartbeat=None if self.heartbeat is None else self.heartbeat.at(folder),
            probe=self.probe.at(folder),
            board=None if self.board is None else self.board.plain(),
            limits=self._limits(bath_max_c),
        )

    def _limits(self, bath_max_c: float) -> Limits:
        return Limits(
            cap_mc=round(bath_max_c * MS),  # thousandths, as with seconds
            lease_ms=round(self.lease * MS),
            short_lapse_ms=round(self.short_lapse * MS),
            over_ms=round(self.over * MS),
            sample_lost_ms=round(self.probe_lost * MS),
        )

    def lines(self) -> dict[str, OutputTable]:
        """The lines that are fitted, by their keys."""
        every = {
            "main": self.main,
            "second": self.second,
            "mains_live": self.mains_live,
            "heartbeat": self.heartbeat,
        }
        return {key: line for key, line in every.items() if line is not None}


# By its kind, the key that says where a line is, and an example of it.
_PLACES = {
    LineKind.FILE: ("path", '"heater-line"'),
    LineKind.GPIO: ("name", '"GPIO17"'),
    LineKind.MODBUS: ("coil", "0"),
}


def line_without_place(guard: GuardTable) -> str | None:
    """What is wrong with a line that doesn't say where it is, or says it twice."""
    for key, line in guard.lines().items():
        wanted, example = _PLACES[line.kind]
        keys = ("path", "name", "coil", "discrete_input")
        said = [one for one in keys if getattr(line, one, None) is not None]
        if line.kind is LineKind.MODBUS and said == ["discrete_input"]:
            continue
        if wanted not in said:
            return f'{key} has no {wanted}; kind = "{line.kind}" wants {wanted} = {example}'
        others = [one for one in said if one != wanted]
        if others:
            return f'{key} has a {others[0]} too; kind = "{line.kind}" wants only {wanted}'
    return None


def board_missing(guard: GuardTable) -> str | None:
    """What is wrong when something hangs on a board that isn't there, or nothing on one that is."""
    kinds = {key: str(line.kind) for key, line in guard.lines().items()}
    hanging = [
        key for key, kind in {**kinds, "probe": guard.probe.kind}.items() if kind == "modbus"
    ]
    if hanging and guard.board is None:
        return f'{hanging[0]} is on a board; write [guard.board] with at = "/dev/ttyUSB0"'
    if guard.board is not None and not hanging:
        return 'board is there, but nothing hangs on it; write kind = "modbus", or take it out'
    return None


def line_twice(guard: GuardTable) -> str | None:
    """What is wrong when two lines are the same one."""
    seen: dict[tuple[str | None, ...], str] = {}
    for key, line in guard.lines().items():
        point = line.place()
        place = (line.path, line.name, None if point is None else str(point))
        if place in seen:
            return f"{seen[place]} and {key} are the same line; give each its own"
        seen[place] = key
    return None
