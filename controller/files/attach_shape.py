"""The table `[attach]` of a machine file: the bench, or the kernel's interfaces of a real machine.

Responsible for keys, single values and what they become; not for opening what they name.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from controller.files.shapes import AnswerAfter, Sentence, Table, Word
from controller.files.temperatures import quoted
from controller.files.toml_file import beside

_MOST_SEED = 2**32 - 1
# Family 28 and six bytes: how the kernel names the 12 bit thermometers of a 1-wire bus, after
# drivers/w1/w1.c (the name is "%02x-%012llx") and drivers/w1/slaves/w1_therm.c of Linux.
_ONE_WIRE_ID = re.compile(r"28-[0-9a-f]{12}")
# Dashes, white space and "*" can't be in the name of a hwmon chip: Documentation/hwmon of Linux.
_HWMON_NAME = re.compile(r"[A-Za-z0-9_.]{1,32}")


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchAttach:
    """An attachment to the simulated bench."""

    machine: str  # the bench's own set of constants, not the controller's view of them
    seed: int
    answer_after_s: float  # how long the bench's cook takes to answer
    second_switch: bool = False  # another switch in series with the heater's relay


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermometerAt:
    """Where a thermometer is found."""

    kind: Literal["1-wire", "hwmon"]
    place: str  # 1-wire: its id; hwmon: the chip's name, or the whole path of a file


@dataclass(frozen=True, slots=True, kw_only=True)
class LinuxAttach:
    """An attachment to a real machine, through the kernel's interfaces."""

    bath: ThermometerAt | None  # None: the machine does without, and its file says so
    bowl: ThermometerAt | None
    stirrer_line: str | None
    cooling_line: str | None = None


def _one_wire_id(raw: object) -> str:
    if not isinstance(raw, str) or not _ONE_WIRE_ID.fullmatch(raw):
        raise ValueError(
            f"{quoted(raw)} is no id of a 1-wire thermometer; write a folder's name from "
            '/sys/bus/w1/devices, like "28-000005e2fdc3"'
        )
    return raw


def _hwmon_name(raw: object) -> str:
    if not isinstance(raw, str) or not _HWMON_NAME.fullmatch(raw):
        raise ValueError(
            f"{quoted(raw)} is no name of a hwmon chip; write what a file "
            '/sys/class/hwmon/hwmon0/name holds, like "tmp102"'
        )
    return raw


class BenchTable(Table):
    """`[attach]` with `kind = "bench"`: the simulator."""

    kind: Literal["bench"] = Field(examples=['"bench"'])
    machine: Word = Field(examples=['"reference"'])
    seed: Annotated[int, Field(ge=0, le=_MOST_SEED, examples=["1"])] = 1
    answer_after: AnswerAfter = 20.0
    second_switch: bool = Field(default=False, examples=["true"])

    def plain(self, _folder: Path) -> BenchAttach:
        """The attachment."""
        return BenchAttach(
            machine=self.machine,
            seed=self.seed,
            answer_after_s=self.answer_after,
            second_switch=self.second_switch,
        )


class OneWireTable(Table):
    """A thermometer on a 1-wire bus."""

    kind: Literal["1-wire"] = Field(examples=['"1-wire"'])
    id: Annotated[str, BeforeValidator(_one_wire_id)] = Field(examples=['"28-000005e2fdc3"'])

    def at(self, _folder: Path) -> ThermometerAt:
        """Where it is."""
        return ThermometerAt(kind=self.kind, place=self.id)


class HwmonTable(Table):
    """A thermometer with a driver of the kernel: by the chip's name, or by its file."""

    kind: Literal["hwmon"] = Field(examples=['"hwmon"'])
    name: Annotated[str, BeforeValidator(_hwmon_name)] | None = Field(None, examples=['"tmp102"'])
    path: Sentence | None = Field(None, examples=['"/sys/class/hwmon/hwmon0/temp1_input"'])

    def at(self, folder: Path) -> ThermometerAt:
        """Where it is; a relative path lies beside the machine file."""
        place = self.name if self.path is None else str(beside(folder, self.path))
        return ThermometerAt(kind=self.kind, place=place or "")


class StirrerTable(Table):
    """`[attach.stirrer]`: the line that switches the motor, on when high."""

    line: Sentence = Field(examples=['"GPIO27"'])


class CoolingLineTable(Table):
    """`[attach.cooling]`: the line that switches pump, valve or fan, on when high."""

    line: Sentence = Field(examples=['"GPIO22"'])


class LinuxTable(Table):
    """`[attach]` with `kind = "linux"`: a real machine. Its heater is the guard's."""

    kind: Literal["linux"] = Field(examples=['"linux"'])
    bath: OneWireTable | HwmonTable | None = Field(
        None, discriminator="kind", examples=["[attach.bath]"]
    )
    bowl: OneWireTable | HwmonTable | None = Field(
        None, discriminator="kind", examples=["[attach.bowl]"]
    )
    stirrer: StirrerTable | None = Field(None, examples=["[attach.stirrer]"])

    cooling: CoolingLineTable | None = Field(None, examples=["[attach.cooling]"])

    def plain(self, folder: Path) -> LinuxAttach:
        """The attachment; relative paths lie beside the machine file."""
        return LinuxAttach(
            bath=None if self.bath is None else self.bath.at(folder),
            bowl=None if self.bowl is None else self.bowl.at(folder),
            stirrer_line=None if self.stirrer is None else self.stirrer.line,
            cooling_line=None if self.cooling is None else self.cooling.line,
        )


AttachTable = Annotated[BenchTable | LinuxTable, Field(discriminator="kind")]


def thermometer_without_place(table: LinuxTable) -> str | None:
    """What is wrong with a hwmon thermometer that says nowhere, or twice, where it is."""
    for key, one in (("bath", table.bath), ("bowl", table.bowl)):
        if isinstance(one, HwmonTable) and (one.name is None) == (one.path is None):
            found = "neither name nor path" if one.name is None else "both name and path"
            return f'{key} has {found}; kind = "hwmon" wants one of them, like name = "tmp102"'
    return None


def thermometer_twice(table: LinuxTable) -> str | None:
    """What is wrong when bath and bowl are the same thermometer."""
    if table.bath is None or table.bath != table.bowl:
        return None
    return "bath and bowl are the same thermometer; give each its own"
