"""The tables of inputs in a machine file: switches, a stop button, pulses, currents.

Responsible for keys, single values and what they become; not for opening what they name.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, model_validator

from controller.files.shapes import Sentence, Table, Within
from controller.files.temperatures import parse_current_a, parse_duration_s, parse_voltage_v
from controller.files.thermometer_shape import HwmonName, HwmonTable, ThermometerAt
from controller.files.toml_file import beside

_MOST_PULSES = 100

Debounce = Annotated[
    float,
    BeforeValidator(Within(parse_duration_s, "0 s", "1 s")),
    Field(examples=['"0.05 s"']),
]
# Motors that a hand can stop, on isolated low voltage: own engineering values, not published.
MotorSupply = Annotated[
    float, BeforeValidator(Within(parse_voltage_v, "3 V", "50 V")), Field(examples=['"12 V"'])
]
MotorCurrent = Annotated[
    float, BeforeValidator(Within(parse_current_a, "0 A", "10 A")), Field(examples=['"0.2 A"'])
]


@dataclass(frozen=True, slots=True, kw_only=True)
class InputAt:
    """An input line."""

    line: str
    active_low: bool
    debounce_s: float
    pulses: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class FileAt:
    """A switch in a file that holds 1 or 0."""

    path: str
    active_low: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadAt:
    """A stirrer's motor, and the chip that measures its current."""

    chip: ThermometerAt
    supply_v: float
    idle_a: float


class LevelTable(Table):
    """`[attach.level]`: the line of a switch that is active while water covers the element."""

    line: Sentence = Field(examples=['"GPIO5"'])
    active_low: bool = Field(default=False, examples=["false"])
    debounce: Debounce = 0.05  # own engineering values, not published: a float in moving water,

    def at(self) -> InputAt:
        """The input."""
        return InputAt(line=self.line, active_low=self.active_low, debounce_s=self.debounce)


class ShaftTable(Table):
    """`[attach.shaft]`: the line of a sensor that gives pulses as the stirrer's shaft turns."""

    line: Sentence = Field(examples=['"GPIO6"'])
    active_low: bool = Field(default=False, examples=["false"])
    debounce: Debounce = 0.002  # and a magnet that passes
    pulses: Annotated[int, Field(ge=1, le=_MOST_PULSES, examples=["2"])] = 1

    def at(self) -> InputAt:
        """The input."""
        return InputAt(
            line=self.line,
            active_low=self.active_low,
            debounce_s=self.debounce,
            pulses=self.pulses,
        )


class LidTable(Table):
    """`[attach.lid]`: a switch that is active while the lid is on, by its line or in a file."""

    line: Sentence | None = Field(None, examples=['"GPIO12"'])
    path: Sentence | None = Field(None, examples=['"lines/lid"'])
    active_low: bool = Field(default=False, examples=["false"])
    debounce: Debounce = 0.05

    @model_validator(mode="after")
    def _is_one_of_both(self) -> Self:
        if (self.line is None) == (self.path is None):
            raise ValueError(
                'wants either line = "GPIO12" or path = "lines/lid", a file that holds 1 or 0'
            )
        return self

    def at(self, folder: Path) -> InputAt | FileAt:
        """The input; a relative path lies beside the machine file."""
        if self.line is None:
            path = "" if self.path is None else str(beside(folder, self.path))
            return FileAt(path=path, active_low=self.active_low)
        return InputAt(line=self.line, active_low=self.active_low, debounce_s=self.debounce)


class StopTable(LidTable):
    """`[attach.stop]`: a stop button, active while nobody presses it: a broken wire is a stop."""

    debounce: Debounce = 0.02  # own engineering value, not published: contacts bounce for less


class CurrentTable(HwmonTable):
    """`[attach.heater_current]`: a chip that measures the element's current."""

    name: HwmonName | None = Field(None, examples=['"ina226"'])
    path: Sentence | None = Field(None, examples=['"/sys/class/hwmon/hwmon2/curr1_input"'])


class LoadTable(CurrentTable):
    """`[attach.load]`: a chip that measures the current of the stirrer's motor."""

    supply: MotorSupply = Field(examples=['"12 V"'])
    idle: MotorCurrent = 0.0

    def at_motor(self, folder: Path) -> LoadAt:
        """The motor and its chip."""
        return LoadAt(chip=self.at(folder), supply_v=self.supply, idle_a=self.idle)
