"""The table `[guard]` of a machine file: the heater's lines, the guard's thermometer, its limits.

Responsible for keys, single values and tightening; not for opening what it names.
"""

import re
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from controller.files.shapes import Sentence, Table, Within
from controller.files.temperatures import parse_duration_s, quoted
from controller.files.toml_file import beside
from controller.guard.decision import Limits
from controller.guard.settings import (
    GuardSettings,
    LineAt,
    LineKind,
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

    def at(self, folder: Path) -> LineAt:
        """Where it is; a relative path lies beside the machine file."""
        if self.kind is LineKind.FILE:
            return LineAt(kind=self.kind, place=str(beside(folder, self.path or "")))
        return LineAt(kind=self.kind, place=self.name or "")


class InputTable(OutputTable):
    """`[guard.mains_live]`: a line that the guard reads. Only an input may be active when low."""

    active_low: bool = Field(default=False, examples=["false"])

    def at(self, folder: Path) -> LineAt:
        """Where it is and which level means live."""
        line = super().at(folder)
        return LineAt(kind=line.kind, place=line.place, active_low=self.active_low)


class GuardProbeTable(Table):
    """`[guard.probe]`: the guard's own thermometer."""

    kind: ProbeKind = Field(strict=False, examples=['"hwmon"'])
    path: Annotated[Sentence, AfterValidator(_unnumbered)] = Field(examples=[f'"{_I2C_CHIP}"'])


class GuardTable(Table):
    """`[guard]`: the process that alone drives the heater."""

    socket: Sentence | None = Field(None, examples=['"/run/bainward/kitchen.guard"'])
    latch: Sentence | None = Field(None, examples=['"kitchen.latch"'])
    main: OutputTable = Field(examples=["[guard.main]"])
    second: OutputTable | None = None
    mains_live: InputTable | None = None
    heartbeat: OutputTable | None = None
    probe: GuardProbeTable = Field(examples=["[guard.probe]"])
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
            probe=ProbeAt(kind=self.probe.kind, path=str(beside(folder, self.probe.path))),
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


def line_without_place(guard: GuardTable) -> str | None:
    """What is wrong with a line that doesn't say where it is, or says it twice."""
    for key, line in guard.lines().items():
        wanted, other = ("path", "name") if line.kind is LineKind.FILE else ("name", "path")
        if getattr(line, wanted) is None:
            example = '"heater-line"' if wanted == "path" else '"GPIO17"'
            return f'{key} has no {wanted}; kind = "{line.kind}" wants {wanted} = {example}'
        if getattr(line, other) is not None:
            return f'{key} has a {other} too; kind = "{line.kind}" wants only {wanted}'
    return None


def line_twice(guard: GuardTable) -> str | None:
    """What is wrong when two lines are the same one."""
    seen: dict[tuple[str | None, str | None], str] = {}
    for key, line in guard.lines().items():
        place = (line.path, line.name)
        if place in seen:
            return f"{seen[place]} and {key} are the same line; give each its own"
        seen[place] = key
    return None
