"""The table `[attach]` of a machine file: the bench, the kernel's interfaces, or a Modbus board.

Responsible for keys, single values and what they become; not for opening what they name.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from controller.files.board_shape import ModbusTable
from controller.files.input_shape import (
    CurrentTable,
    FileAt,
    InputAt,
    LevelTable,
    LidTable,
    LoadAt,
    LoadTable,
    ShaftTable,
    StopTable,
)
from controller.files.shapes import AnswerAfter, Sentence, Table, Within, Word
from controller.files.temperatures import parse_duration_s, parse_speed_rpm
from controller.files.thermometer_shape import (
    ThermometerAt,
    ThermometerTable,
    without_place,
)
from controller.files.toml_file import beside

_MOST_SEED = 2**32 - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchAttach:
    """An attachment to the simulated bench."""

    machine: str  # the bench's own set of constants, not the controller's view of them
    seed: int
    answer_after_s: float  # how long the bench's cook takes to answer
    second_switch: bool = False  # another switch in series with the heater's relay
    buzzer: bool = False
    lamp: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PwmAt:
    """A stirrer's PWM output."""

    path: str
    period_s: float
    full_rpm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LinuxAttach:
    """An attachment to a real machine, through the kernel's interfaces."""

    bath: ThermometerAt | None  # None: the machine does without, and its file says so
    bowl: ThermometerAt | None
    stirrer_line: str | None
    cooling_line: str | None = None
    buzzer_line: str | None = None
    lamp_line: str | None = None
    heater_current: ThermometerAt | None = None
    stirrer_pwm: PwmAt | None = None
    level: InputAt | None = None
    shaft: InputAt | None = None
    lid: InputAt | FileAt | None = None
    stop: InputAt | FileAt | None = None
    load: LoadAt | None = None
    root: Path = Path("/")  # where the kernel's files begin


FullSpeed = Annotated[
    float,
    BeforeValidator(Within(parse_speed_rpm, "1 rpm", "500 rpm")),
    Field(examples=['"60 rpm"']),
]
PwmPeriod = Annotated[
    float,
    BeforeValidator(Within(parse_duration_s, "0.00002 s", "0.1 s")),
    Field(examples=['"0.001 s"']),
]


class BenchTable(Table):
    """`[attach]` with `kind = "bench"`: the simulator."""

    kind: Literal["bench"] = Field(examples=['"bench"'])
    machine: Word = Field(examples=['"reference"'])
    seed: Annotated[int, Field(ge=0, le=_MOST_SEED, examples=["1"])] = 1
    answer_after: AnswerAfter = 20.0
    second_switch: bool = Field(default=False, examples=["true"])
    buzzer: bool = Field(default=False, examples=["true"])
    lamp: bool = Field(default=False, examples=["true"])

    def plain(self, _folder: Path) -> BenchAttach:
        """The attachment."""
        return BenchAttach(
            machine=self.machine,
            seed=self.seed,
            answer_after_s=self.answer_after,
            second_switch=self.second_switch,
            buzzer=self.buzzer,
            lamp=self.lamp,
        )


class StirrerTable(Table):
    """`[attach.stirrer]`: the line that switches the motor, or the PWM output of its speed."""

    line: Sentence | None = Field(None, examples=['"GPIO27"'])
    pwm: Sentence | None = Field(None, examples=['"/sys/class/pwm/pwmchip0/pwm0"'])
    full: FullSpeed | None = Field(None, examples=['"60 rpm"'])
    period: PwmPeriod = 0.001  # common practice for small motors, no source

    @model_validator(mode="after")
    def _is_one_of_both(self) -> Self:
        if (self.line is None) == (self.pwm is None):
            raise ValueError('wants either line = "GPIO27" or pwm = "/sys/class/pwm/pwmchip0/pwm0"')
        if (self.pwm is None) != (self.full is None):
            raise ValueError(
                'wants pwm and full together: full = "60 rpm" is the speed at full duty, and a '
                "line has only one"
            )
        return self

    def at(self, folder: Path) -> "PwmAt | None":
        """The PWM output, if it is one; a relative path lies beside the machine file."""
        if self.pwm is None or self.full is None:
            return None
        path = str(beside(folder, self.pwm))
        return PwmAt(path=path, period_s=self.period, full_rpm=self.full)


class CoolingLineTable(Table):
    """`[attach.cooling]`: the line that switches pump, valve or fan, on when high."""

    line: Sentence = Field(examples=['"GPIO22"'])


class BuzzerTable(Table):
    """`[attach.buzzer]`: the line that sounds a buzzer, on when high."""

    line: Sentence = Field(examples=['"GPIO24"'])


class LampTable(Table):
    """`[attach.lamp]`: the line that lights a lamp, on when high."""

    line: Sentence = Field(examples=['"GPIO25"'])


class LinuxTable(Table):
    """`[attach]` with `kind = "linux"`: a real machine. Its heater is the guard's."""

    kind: Literal["linux"] = Field(examples=['"linux"'])
    root: Sentence | None = Field(None, examples=['"bench-files"'])
    bath: ThermometerTable | None = Field(None, discriminator="kind", examples=["[attach.bath]"])
    bowl: ThermometerTable | None = Field(None, discriminator="kind", examples=["[attach.bowl]"])
    stirrer: StirrerTable | None = Field(None, examples=["[attach.stirrer]"])

    cooling: CoolingLineTable | None = Field(None, examples=["[attach.cooling]"])
    buzzer: BuzzerTable | None = Field(None, examples=["[attach.buzzer]"])
    lamp: LampTable | None = Field(None, examples=["[attach.lamp]"])
    level: LevelTable | None = Field(None, examples=["[attach.level]"])
    shaft: ShaftTable | None = Field(None, examples=["[attach.shaft]"])
    lid: LidTable | None = Field(None, examples=["[attach.lid]"])
    stop: StopTable | None = Field(None, examples=["[attach.stop]"])
    load: LoadTable | None = Field(None, examples=["[attach.load]"])
    heater_current: CurrentTable | None = Field(None, examples=["[attach.heater_current]"])

    def plain(self, folder: Path) -> LinuxAttach:
        """The attachment; relative paths lie beside the machine file."""
        return LinuxAttach(
            bath=None if self.bath is None else self.bath.at(folder),
            bowl=None if self.bowl is None else self.bowl.at(folder),
            stirrer_line=None if self.stirrer is None else self.stirrer.line,
            stirrer_pwm=None if self.stirrer is None else self.stirrer.at(folder),
            root=Path("/") if self.root is None else beside(folder, self.root),
            cooling_line=None if self.cooling is None else self.cooling.line,
            buzzer_line=None if self.buzzer is None else self.buzzer.line,
            lamp_line=None if self.lamp is None else self.lamp.line,
            level=None if self.level is None else self.level.at(),
            shaft=None if self.shaft is None else self.shaft.at(),
            lid=None if self.lid is None else self.lid.at(folder),
            stop=None if self.stop is None else self.stop.at(folder),
            load=None if self.load is None else self.load.at_motor(folder),
            heater_current=None if self.heater_current is None else self.heater_current.at(folder),
        )


AttachTable = Annotated[BenchTable | LinuxTable | ModbusTable, Field(discriminator="kind")]


def thermometer_twice(table: LinuxTable) -> str | None:
    """What is wrong when bath and bowl are the same thermometer."""
    if table.bath is None or table.bath != table.bowl:
        return None
    return "bath and bowl are the same thermometer; give each its own"


def thermometer_without_place(table: LinuxTable) -> str | None:
    """What is wrong with a thermometer that says nowhere, or twice, where it is."""
    chips = {"heater_current": table.heater_current, "load": table.load}
    every = {"bath": table.bath, "bowl": table.bowl, **chips}
    for key, one in every.items():
        wrong = None if one is None else without_place(one)
        if wrong is not None:
            return f"{key} {wrong}"
    return None
