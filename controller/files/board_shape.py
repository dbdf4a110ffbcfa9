"""The tables of a machine file that speak of a board with Modbus: where it is, what lies where.

Responsible for keys, single values and what they become; not for speaking to the board. The map of
a board is data of the machine file: no board is known by a name.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from controller.files.shapes import Table, Within
from controller.files.temperatures import (
    parse_duration_s,
    parse_power_w,
    parse_span_k,
    parse_speed_rpm,
    quoted,
)
from controller.guard.settings import BoardAt, PointAt

# A path, or a host's name or address and a port: the port is no 0, and has at most five digits.
_AT = re.compile(r"/[^\s]{1,100}|[A-Za-z0-9._-]{1,253}:[1-9][0-9]{0,4}")
_TABLES = ("coil", "discrete_input", "input_register", "holding_register")
_MS = 1000
_MC = 1000.0
_MOST_ADDRESS = 0xFFFF
_MOST_UNIT = 247  # the highest address of a serial line: Modbus over serial line V1.02, 2.2
_MOST_OFFSET = 100_000


def _at(raw: object) -> str:
    if not isinstance(raw, str) or not _AT.fullmatch(raw):
        raise ValueError(
            f"{quoted(raw)} is no place of a board; write a serial port like "
            '"/dev/ttyUSB0", or a host and a port like "192.0.2.7:502"'
        )
    return raw


Address = Annotated[int, Field(ge=0, le=_MOST_ADDRESS, examples=["0"])]
Step = Annotated[
    float,
    BeforeValidator(Within(parse_duration_s, "0.001 s", "60 s")),
    Field(examples=['"0.1 s"']),
]
Reply = Annotated[
    float,
    BeforeValidator(Within(parse_duration_s, "0.02 s", "0.5 s")),
    Field(examples=['"0.2 s"']),
]
Kelvins = Annotated[
    float, BeforeValidator(Within(parse_span_k, "0.001 K", "1 K")), Field(examples=['"0.01 K"'])
]
Turns = Annotated[
    float,
    BeforeValidator(Within(parse_speed_rpm, "0.001 rpm", "10 rpm")),
    Field(examples=['"0.1 rpm"']),
]
Watts = Annotated[
    float, BeforeValidator(Within(parse_power_w, "0.001 W", "10 W")), Field(examples=['"0.01 W"'])
]


class PointTable(Table):
    """Where one value lies: one of the four tables of Modbus, and an address counted from 0."""

    coil: Address | None = None
    discrete_input: Address | None = None
    input_register: Address | None = None
    holding_register: Address | None = None

    @model_validator(mode="after")
    def _lies_in_one_table(self) -> Self:
        if sum(getattr(self, table) is not None for table in _TABLES) != 1:
            raise ValueError(
                "wants exactly one of coil, discrete_input, input_register and holding_register, "
                "like input_register = 0"
            )
        return self

    def point(self) -> PointAt:
        """Where it lies."""
        table = next(one for one in _TABLES if getattr(self, one) is not None)
        return PointAt(table=table, address=getattr(self, table))


class HostLossTable(PointTable):
    """`host_loss`: the register that says how long the board keeps its outputs by itself."""

    step: Step = 1.0


class BoardTable(Table):
    """`[attach.board]` and `[guard.board]`: one board."""

    at: Annotated[str, BeforeValidator(_at), Field(examples=['"/dev/ttyUSB0"'])]
    unit: Annotated[int, Field(ge=0, le=_MOST_UNIT, examples=["1"])] = 1
    baud: Annotated[int, Field(ge=1200, le=1_000_000, examples=["19200"])] = 19200
    parity: Literal["even", "odd", "none"] = Field("even", examples=['"even"'])
    reply_within: Reply = 0.2
    host_loss: HostLossTable = Field(examples=['{ holding_register = 0, step = "0.1 s" }'])
    boots: PointTable | None = None

    def plain(self) -> BoardAt:
        """The board."""
        return BoardAt(
            at=self.at,
            unit=self.unit,
            baud=self.baud,
            parity=self.parity[0].upper(),
            reply_ms=round(self.reply_within * _MS),
            host_loss=self.host_loss.point(),
            host_loss_step_ms=round(self.host_loss.step * _MS),
            boots=None if self.boots is None else self.boots.point(),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredAt:
    """A value on a board: (raw + offset)·step."""

    point: PointAt
    step: float = 1.0  # K, rpm or W
    offset: int = 0
    signed: bool = True
    broken: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchedAt:
    """An output of a board."""

    coil: PointAt
    shown: PointAt | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusAttach:
    """An attachment to a machine on a board. What it does without is None."""

    board: BoardAt
    bath: MeasuredAt | None
    bowl: MeasuredAt | None
    stirrer: SwitchedAt | None
    cooling: SwitchedAt | None
    level: MeasuredAt | None
    shaft: MeasuredAt | None
    load: MeasuredAt | None
    lid: MeasuredAt | None = None
    stop: MeasuredAt | None = None


class MeasuredTable(PointTable):
    """A value that a board measures, as a whole number."""

    offset: Annotated[int, Field(ge=-_MOST_OFFSET, le=_MOST_OFFSET, examples=["0"])] = 0
    signed: bool = True
    broken: list[int] = Field(default=[], examples=["[-32768]"])

    def measured(self, step: float) -> MeasuredAt:
        """The value in units of `step`."""
        return MeasuredAt(
            point=self.point(),
            step=step,
            offset=self.offset,
            signed=self.signed,
            broken=tuple(self.broken),
        )


class DegreesTable(MeasuredTable):
    """A thermometer of the board."""

    step: Kelvins = Field(examples=['"0.01 K"'])


class TurnsTable(MeasuredTable):
    """The speed of the stirrer's shaft, as the board counts it."""

    step: Turns = Field(examples=['"0.1 rpm"'])


class WattsTable(MeasuredTable):
    """The stirrer's load, as the board measures it."""

    step: Watts = Field(examples=['"0.01 W"'])


class SwitchedTable(Table):
    """An output of the board, and where its true state is shown."""

    coil: Address = Field(examples=["2"])
    shown: PointTable | None = None

    def switched(self) -> SwitchedAt:
        """The output."""
        return SwitchedAt(
            coil=PointAt(table="coil", address=self.coil),
            shown=None if self.shown is None else self.shown.point(),
        )


class ModbusTable(Table):
    """`[attach]` with `kind = "modbus"`: a machine on a board. Its heater is the guard's."""

    kind: Literal["modbus"] = Field(examples=['"modbus"'])
    board: BoardTable = Field(examples=["[attach.board]"])
    bath: DegreesTable | None = Field(None, examples=["[attach.bath]"])
    bowl: DegreesTable | None = Field(None, examples=["[attach.bowl]"])
    stirrer: SwitchedTable | None = Field(None, examples=["[attach.stirrer]"])
    cooling: SwitchedTable | None = Field(None, examples=["[attach.cooling]"])
    level: PointTable | None = Field(None, examples=["[attach.level]"])
    shaft: TurnsTable | None = Field(None, examples=["[attach.shaft]"])
    load: WattsTable | None = Field(None, examples=["[attach.load]"])
    lid: PointTable | None = Field(None, examples=["[attach.lid]"])
    stop: PointTable | None = Field(None, examples=["[attach.stop]"])

    def plain(self, _folder: Path) -> ModbusAttach:
        """The attachment."""
        steps = {"bath": self.bath, "bowl": self.bowl, "shaft": self.shaft, "load": self.load}
        measured = {
            key: None if one is None else one.measured(one.step) for key, one in steps.items()
        }
        switches = {"level": self.level, "lid": self.lid, "stop": self.stop}
        seen = {
            key: None if one is None else MeasuredAt(point=one.point())
            for key, one in switches.items()
        }
        return ModbusAttach(
            board=self.board.plain(),
            stirrer=None if self.stirrer is None else self.stirrer.switched(),
            cooling=None if self.cooling is None else self.cooling.switched(),
            **seen,
            **measured,
        )


def step_mc(table: DegreesTable) -> float:
    """A thermometer's step in thousandths of °C, as the guard counts."""
    return table.step * _MC


def shared_board(ours: BoardTable, guards: BoardTable | None) -> str | None:
    """What is wrong when run and guard speak to one board, or on one line, which has one master."""
    if guards is None or ours.at != guards.at:
        return None
    if ours.at.startswith("/"):
        return (
            f"{quoted(ours.at)} is the guard's serial line, too, and such a line has one master; "
            "give the run a line and a board of its own"
        )
    if ours.unit == guards.unit:
        return (
            f"unit {ours.unit} at {quoted(ours.at)} is the guard's board, too, and the run's words "
            "would keep on what a dead guard has left on; give the guard a board of its own"
        )
    return None


def coil_twice(table: ModbusTable) -> str | None:
    """What is wrong when two outputs are the same coil."""
    if table.stirrer is None or table.cooling is None or table.stirrer.coil != table.cooling.coil:
        return None
    return f"coil {table.stirrer.coil} is both stirrer and cooling; give each its own"
