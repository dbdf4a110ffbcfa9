"""The tables of thermometers in a machine file: which of the kernel's files, and what is behind.

Responsible for keys, single values and what they become; not for opening what they name.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from controller.files.shapes import Sentence, Table, Within
from controller.files.temperatures import parse_resistance_ohm, parse_voltage_v, quoted
from controller.files.toml_file import beside

# Family 28 and six bytes: how the kernel names the 12 bit thermometers of a 1-wire bus, after
# drivers/w1/w1.c (the name is "%02x-%012llx") and drivers/w1/slaves/w1_therm.c of Linux.
_ONE_WIRE_ID = re.compile(r"28-[0-9a-f]{12}")
# Dashes, white space and "*" can't be in the name of a hwmon chip: Documentation/hwmon of Linux.
_HWMON_NAME = re.compile(r"[A-Za-z0-9_.]{1,32}")
_IIO_NAME = re.compile(r"[A-Za-z0-9_.-]{1,32}")
_NUMBERED = re.compile(r"/iio:device[0-9]+(/|$)")
_IIO_PATH = "/sys/bus/spi/devices/spi0.0/iio:device*"
_MOST_CHANNEL = 15
_MV_PER_V = 1000.0
# At 100 °C platinum has 1.385 times what it has at 0 °C (IEC 60751), and a bath may boil.
_LEAST_OVER_ZERO = 1.4
# Around the thermistors that are sold (1 to 100 kohm at 25 °C): own engineering values.
_STEINHART_HART = ((1e-4, 5e-3), (1e-5, 1e-3), (0.0, 1e-6))

Resistance = Annotated[
    float,
    BeforeValidator(Within(parse_resistance_ohm, "10 ohm", "1000 kohm")),
    Field(examples=['"100 ohm"']),
]
# Platinum elements that are sold have 50 to 10 000 ohm at 0 °C: own engineering value.
AtZero = Annotated[
    float,
    BeforeValidator(Within(parse_resistance_ohm, "50 ohm", "10 kohm")),
    Field(examples=['"100 ohm"']),
]
Voltage = Annotated[
    float, BeforeValidator(Within(parse_voltage_v, "1 V", "24 V")), Field(examples=['"3.3 V"'])
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatinumMade:
    """What a platinum thermometer is made of."""

    zero_ohm: float  # its resistance at 0 °C
    reference_ohm: float  # the resistor that it is compared with


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermistorMade:
    """What a thermistor is made of, and the divider that it sits in."""

    channel: int
    series_ohm: float
    supply_mv: float
    is_to_ground: bool
    a: float  # of Steinhart and Hart, with K and ohm
    b: float
    c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermometerAt:
    """Where a thermometer is found."""

    kind: Literal["1-wire", "hwmon", "iio", "platinum", "thermistor"]
    # 1-wire: its id; hwmon: the chip's name, or the whole path of a file; the others: the
    # converter's name, or the path of its folder with a * for the number.
    place: str
    made: PlatinumMade | ThermistorMade | None = None


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


def _iio_name(raw: object) -> str:
    if not isinstance(raw, str) or not _IIO_NAME.fullmatch(raw):
        raise ValueError(
            f"{quoted(raw)} is no name of an IIO device; write what a file "
            '/sys/bus/iio/devices/iio:device0/name holds, like "max31865"'
        )
    return raw


def _unnumbered(path: str) -> str:
    if _NUMBERED.search(path):
        raise ValueError(
            f"{quoted(path)} has a number that may mean another device after the next boot; write "
            f'a path that names its bus and a * for the number, like "{_IIO_PATH}"'
        )
    return path


def _constants(raw: object) -> tuple[float, ...]:
    """Three numbers in their ranges, written as a, b, c."""
    is_list = isinstance(raw, list) and len(raw) == len(_STEINHART_HART)
    pairs = list(zip(raw if isinstance(raw, list) else [], _STEINHART_HART, strict=False))
    if not is_list or not all(
        isinstance(one, float) and low <= one <= high for one, (low, high) in pairs
    ):
        raise ValueError(
            "wants the three numbers a, b and c of 1/T = a + b·ln R + c·(ln R)³ with K and ohm, "
            "like [1.03e-3, 2.39e-4, 1.57e-7]"
        )
    return tuple(one for one, _ in pairs)


class OneWireTable(Table):
    """A thermometer on a 1-wire bus."""

    kind: Literal["1-wire"] = Field(examples=['"1-wire"'])
    id: Annotated[str, BeforeValidator(_one_wire_id)] = Field(examples=['"28-000005e2fdc3"'])

    def at(self, _folder: Path) -> ThermometerAt:
        """Where it is."""
        return ThermometerAt(kind=self.kind, place=self.id)


HwmonName = Annotated[str, BeforeValidator(_hwmon_name)]


class HwmonTable(Table):
    """A thermometer with a driver of the kernel: by the chip's name, or by its file."""

    kind: Literal["hwmon"] = Field(examples=['"hwmon"'])
    name: HwmonName | None = Field(None, examples=['"tmp102"'])
    path: Sentence | None = Field(None, examples=['"/sys/class/hwmon/hwmon0/temp1_input"'])

    def at(self, folder: Path) -> ThermometerAt:
        """Where it is; a relative path lies beside the machine file."""
        place = self.name if self.path is None else str(beside(folder, self.path))
        return ThermometerAt(kind=self.kind, place=place or "")


class ConverterTable(Table):
    """What all converters with an IIO driver share: a name, or the path of a folder."""

    name: Annotated[str, BeforeValidator(_iio_name)] | None = Field(None, examples=['"max31856"'])
    path: Annotated[Sentence, AfterValidator(_unnumbered)] | None = Field(
        None, examples=[f'"{_IIO_PATH}"']
    )

    def place(self, folder: Path) -> str:
        """Where it is; a relative path lies beside the machine file."""
        return (self.name if self.path is None else str(beside(folder, self.path))) or ""


class IioTable(ConverterTable):
    """A thermometer whose driver works the temperature out itself, like a thermocouple's."""

    kind: Literal["iio"] = Field(examples=['"iio"'])

    def at(self, folder: Path) -> ThermometerAt:
        """Where it is."""
        return ThermometerAt(kind=self.kind, place=self.place(folder))


class PlatinumTable(ConverterTable):
    """A platinum thermometer behind a ratio converter."""

    kind: Literal["platinum"] = Field(examples=['"platinum"'])
    zero: AtZero = 100.0
    reference: Resistance = Field(examples=['"400 ohm"'])

    @model_validator(mode="after")
    def _can_be_compared(self) -> Self:
        """The converter shows the element as a share of its resistor, and never more than all."""
        if self.reference < _LEAST_OVER_ZERO * self.zero:
            least = f'"{_LEAST_OVER_ZERO * self.zero:g} ohm"'
            raise ValueError(
                f"wants a reference of at least {least}, or the converter can't show hot water; "
                "write what its resistor has, and what the element has at 0 °C as zero"
            )
        return self

    def at(self, folder: Path) -> ThermometerAt:
        """Where it is and what it is made of."""
        made = PlatinumMade(zero_ohm=self.zero, reference_ohm=self.reference)
        return ThermometerAt(kind=self.kind, place=self.place(folder), made=made)


class ThermistorTable(ConverterTable):
    """A thermistor in a voltage divider, at a channel of a voltage converter."""

    kind: Literal["thermistor"] = Field(examples=['"thermistor"'])
    channel: Annotated[int, Field(ge=0, le=_MOST_CHANNEL, examples=["0"])] = 0
    series: Resistance = Field(examples=['"10 kohm"'])
    supply: Voltage = Field(examples=['"3.3 V"'])
    between: Literal["input-and-ground", "supply-and-input"] = Field(
        "input-and-ground", examples=['"input-and-ground"']
    )
    steinhart_hart: Annotated[
        tuple[float, float, float],
        BeforeValidator(_constants),
        Field(examples=["[1.03e-3, 2.39e-4, 1.57e-7]"]),
    ]

    def at(self, folder: Path) -> ThermometerAt:
        """Where it is and what it is made of."""
        a, b, c = self.steinhart_hart
        made = ThermistorMade(
            channel=self.channel,
            series_ohm=self.series,
            supply_mv=self.supply * _MV_PER_V,
            is_to_ground=self.between == "input-and-ground",
            a=a,
            b=b,
            c=c,
        )
        return ThermometerAt(kind=self.kind, place=self.place(folder), made=made)


ThermometerTable = OneWireTable | HwmonTable | IioTable | PlatinumTable | ThermistorTable


def without_place(table: ThermometerTable) -> str | None:
    """What is wrong with a thermometer that says nowhere, or twice, where it is."""
    if isinstance(table, OneWireTable) or (table.name is None) != (table.path is None):
        return None
    found = "neither name nor path" if table.name is None else "both name and path"
    field = type(table).model_fields["name"]
    name = "max31865"
    if isinstance(table, HwmonTable) and field.examples:
        name = str(field.examples[0]).strip('"')
    return f'has {found}; kind = "{table.kind}" wants one of them, like name = "{name}"'
