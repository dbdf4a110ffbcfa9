"""What profile and machine files share: the strict base table and the kinds of value.

Responsible for ranges of single values; not for rules that look at more than one.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from controller.core.machine import BATH_CEILING_C, BOWL_CEILING_C
from controller.files.temperatures import (
    parse_capacity_j_per_k,
    parse_conductance_w_per_k,
    parse_duration_s,
    parse_mass_kg,
    parse_power_w,
    parse_rate_k_per_min,
    parse_share,
    parse_span_k,
    parse_speed_rpm,
    parse_temperature_c,
    parse_voltage_v,
    quoted,
)

_SLACK = 1e-9  # a limit written in °F is not an exact number in °C
_LOOKS_FAHRENHEIT_C = 75.0  # hotter than any bath here, and as °F cooler than any working bowl
_LONGEST_WORD = 32
_LONGEST_TEXT = 600


class Table(BaseModel):
    """A table of a file: nothing unknown, nothing converted in silence, nothing changed later."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class FileTable(Table):
    """The top table of a file, with the version of its shape."""

    schema_version: Literal[1] = Field(alias="schema", examples=["1"])


@dataclass(frozen=True, slots=True)
class Within:
    """Reads one quantity and refuses it outside its limits, which are written as in a file."""

    parse: Callable[[object], float]
    low: str
    high: str

    def _holds(self, value: float) -> bool:
        return self.parse(self.low) - _SLACK <= value <= self.parse(self.high) + _SLACK

    def _fahrenheit_hint(self, raw: object) -> str:
        """Somebody who writes "113 C" meant "113 F"."""
        if self.parse is not parse_temperature_c or self.parse(raw) < _LOOKS_FAHRENHEIT_C:
            return ""
        other = str(raw).strip().removesuffix("C") + "F"
        return f' (did you mean "{other}"?)' if self._holds(self.parse(other)) else ""

    def __call__(self, raw: object) -> float:
        """The value in our unit; ValueError with what to write."""
        value = self.parse(raw)
        if not self._holds(value):
            raise ValueError(
                f'{quoted(raw)} is out of range; write "{self.low}" to "{self.high}"'
                f"{self._fahrenheit_hint(raw)}"
            )
        return value


def _word(raw: object) -> str:
    plain = isinstance(raw, str) and raw.isascii() and raw.replace("-", "").isalnum()
    if not plain or str(raw) != str(raw).lower() or len(str(raw)) > _LONGEST_WORD:
        raise ValueError(f"{quoted(raw)} is not a plain word; write a-z, 0-9 and hyphens")
    return str(raw)


def _sentence(raw: object) -> str:
    if not isinstance(raw, str) or not raw.strip() or len(raw) > _LONGEST_TEXT:
        raise ValueError(f"{quoted(raw)} is no text; write 1 to {_LONGEST_TEXT} signs in quotes")
    text = " ".join(raw.split())
    if not text.isprintable():
        raise ValueError(f"{quoted(raw)} holds signs that can't be shown; leave them out")
    return text


# The limits below that have no source beside them are our own engineering values, wide enough
# for a kitchen machine (0.3 to 3 kg, 1.5 to 5 L, 300 to 1000 W) and narrow enough to catch slips.
Word = Annotated[str, BeforeValidator(_word), Field(examples=['"dark"'])]
Sentence = Annotated[str, BeforeValidator(_sentence), Field(examples=['"some words"'])]
BowlTemperature = Annotated[
    float,
    BeforeValidator(Within(parse_temperature_c, "0 C", f"{BOWL_CEILING_C:g} C")),
    Field(examples=['"45 C"']),
]
BathTemperature = Annotated[
    float,
    BeforeValidator(Within(parse_temperature_c, "0 C", f"{BATH_CEILING_C:g} C")),
    Field(examples=['"56 C"']),
]
RoomTemperature = Annotated[
    float,
    BeforeValidator(Within(parse_temperature_c, "0 C", "40 C")),
    Field(examples=['"20 C"']),
]
ColdWater = Annotated[
    float,
    BeforeValidator(Within(parse_temperature_c, "0 C", "30 C")),
    Field(examples=['"15 C"']),
]
Tolerance = Annotated[
    float, BeforeValidator(Within(parse_span_k, "0.1 K", "3 K")), Field(examples=['"0.4 K"'])
]
# A probe further off than 2 K wants replacing, not correcting (own engineering value).
Offset = Annotated[
    float, BeforeValidator(Within(parse_span_k, "-2 K", "2 K")), Field(examples=['"0.2 K"'])
]
Rate = Annotated[
    float,
    BeforeValidator(Within(parse_rate_k_per_min, "0.05 K/min", "10 K/min")),
    Field(examples=['"1 K/min"']),
]
Settle = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "0 s", "30 min")), Field(examples=['"60 s"'])
]
Dwell = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "0 s", "8 h")), Field(examples=['"10 min"'])
]
Late = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "1 min", "12 h")), Field(examples=['"90 min"'])
]
Unanswered = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "10 s", "8 h")), Field(examples=['"10 min"'])
]
Takes = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "10 s", "1 h")), Field(examples=['"5 min"'])
]
# Heat is withheld at once; the trip must follow within 30 s (own engineering value).
LostProbe = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "5 s", "30 s")), Field(examples=['"30 s"'])
]
Share = Annotated[
    float, BeforeValidator(Within(parse_share, "0.1 %", "100 %")), Field(examples=['"90 %"'])
]
Speed = Annotated[
    float,
    BeforeValidator(Within(parse_speed_rpm, "0 rpm", "200 rpm")),
    Field(examples=['"30 rpm"']),
]
Period = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "0.25 s", "2 s")), Field(examples=['"1 s"'])
]
Carried = Annotated[
    float,
    BeforeValidator(Within(parse_conductance_w_per_k, "1 W/K", "500 W/K")),
    Field(examples=['"70 W/K"']),
]
RelayTime = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "0.5 s", "60 s")), Field(examples=['"2 s"'])
]
AnswerAfter = Annotated[
    float, BeforeValidator(Within(parse_duration_s, "0 s", "1 h")), Field(examples=['"20 s"'])
]
Water = Annotated[
    float, BeforeValidator(Within(parse_mass_kg, "0.3 kg", "50 kg")), Field(examples=['"3 kg"'])
]
Batch = Annotated[
    float, BeforeValidator(Within(parse_mass_kg, "50 g", "20 kg")), Field(examples=['"1.5 kg"'])
]
Vessel = Annotated[
    float,
    BeforeValidator(Within(parse_capacity_j_per_k, "20 J/K", "20000 J/K")),
    Field(examples=['"700 J/K"']),
]
Power = Annotated[
    float, BeforeValidator(Within(parse_power_w, "20 W", "3500 W")), Field(examples=['"500 W"'])
]
# From boats and outdoor kitchens (12 V) to the mains of any country.
Mains = Annotated[
    float, BeforeValidator(Within(parse_voltage_v, "10 V", "260 V")), Field(examples=['"230 V"'])
]
Loss = Annotated[
    float,
    BeforeValidator(Within(parse_conductance_w_per_k, "0.1 W/K", "50 W/K")),
    Field(examples=['"2.5 W/K"']),
]
