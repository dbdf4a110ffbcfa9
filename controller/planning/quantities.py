"""Quantities as a cook gives them, in whatever unit, and the likely slip where one is absurd.

Responsible for single values; not for what they mean together (wish). More forgiving than our
files: decimal commas, ounces, feet; but mass and temperature never go without a unit.
"""

import math
import re
from collections.abc import Mapping

from msgspec import Struct

_QUANTITY = re.compile(r"([+-]?\d[\d.,]*(?:[eE][+-]?\d+)?)\s*(\D.{0,11}?)?\s*", re.DOTALL)
_AMBIGUOUS = re.compile(r"[+-]?\d{1,3}(,\d{3})+")  # 1,500: a thousand and a half, or one and a half
_PLAIN = re.compile(
    r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?"
)  # however large: that is judged, not its form
_LONGEST_QUOTE = 40
_SLACK = 1e-9

# Unit: (zero, scale); the value inside is (number - zero) * scale. By definition, all of them.
_TEMPERATURES = {"C": (0.0, 1.0), "F": (32.0, 5.0 / 9.0)}
_MASSES = {"g": (0.0, 1e-3), "kg": (0.0, 1.0), "oz": (0.0, 0.028349523125), "lb": (0.0, 0.45359237)}
_LENGTHS = {"mm": (0.0, 1e-3), "cm": (0.0, 1e-2), "m": (0.0, 1.0), "in": (0.0, 0.0254)}
_HEIGHTS = {"m": (0.0, 1.0), "km": (0.0, 1e3), "ft": (0.0, 0.3048)}
_PRESSURES = {
    "hPa": (0.0, 1.0),
    "mbar": (0.0, 1.0),
    "kPa": (0.0, 10.0),
    "Pa": (0.0, 0.01),
    "inHg": (0.0, 33.8639),
    "mmHg": (0.0, 1.33322),
}
_SHARES = {"%": (0.0, 0.01)}
_TIMES = {"min": (0.0, 60.0), "h": (0.0, 3600.0), "s": (0.0, 1.0)}
_POUNDS = frozenset({"oz", "lb"})  # nobody mixes them up with grams
_COUNTS = {"": (0.0, 1.0)}


class Quantity(Struct, frozen=True, kw_only=True):
    """A kind of value: its units and what is sane, both ends in the first unit."""

    units: Mapping[str, tuple[float, float]]
    low: float
    high: float
    example: str
    bare: str | None = None  # the unit of a number without one, where nothing else can be meant
    advice: str = ""  # for a value that no other unit explains

    def inside(self, number: float, unit: str) -> float:
        """The value as we compute with it."""
        zero, scale = self.units[unit]
        return (number - zero) * scale

    def is_sane(self, value: float) -> bool:
        """Whether it lies within the two ends."""
        first = next(iter(self.units))
        low, high = self.inside(self.low, first), self.inside(self.high, first)
        return low - _SLACK <= value <= high + _SLACK


# What is sane: own engineering values, not published.
CENTRE = Quantity(units=_MASSES, low=0.5, high=250.0, example="8 g")
BATCH = Quantity(units={"kg": _MASSES["kg"], **_MASSES}, low=0.1, high=20.0, example="1.5 kg")
LEFT = Quantity(units=_MASSES, low=0.0, high=5000.0, example="200 g")
ROOM = Quantity(units=_TEMPERATURES, low=5.0, high=40.0, example="21 C")
TAP = Quantity(units=_TEMPERATURES, low=1.0, high=35.0, example="15 C")
SEED = Quantity(units=_TEMPERATURES, low=2.0, high=32.0, example="20 C")
FRIDGE = Quantity(units=_TEMPERATURES, low=-30.0, high=20.0, example="6 C")
HUMIDITY = Quantity(units=_SHARES, low=5.0, high=100.0, example="55 %", bare="%")
ALTITUDE = Quantity(units=_HEIGHTS, low=-430.0, high=5500.0, example="850 m")
PRESSURE = Quantity(units=_PRESSURES, low=500.0, high=1085.0, example="915 hPa")
FAT = Quantity(
    units=_SHARES,
    low=20.0,
    high=55.0,
    example="38 %",
    bare="%",
    advice="the cocoa on the label is not the fat, which stands in its table of nutrients",
)
COATING = Quantity(
    units=_SHARES,
    low=3.0,
    high=85.0,
    example="35 %",
    bare="%",
    advice="it is the chocolate's part of the finished piece",
)
WORK = Quantity(units=_TIMES, low=1.0, high=720.0, example="40 min")
SIZE = Quantity(units=_LENGTHS, low=10.0, high=600.0, example="120 mm")
WALL = Quantity(units=_LENGTHS, low=0.8, high=15.0, example="3 mm")
COUNT = Quantity(units=_COUNTS, low=1.0, high=2000.0, example="48", bare="")


def quoted(text: str) -> str:
    """What somebody wrote, short and printable."""
    shown = "".join(sign if sign.isprintable() else "?" for sign in text[:_LONGEST_QUOTE])
    return f'"{shown}…"' if len(text) > _LONGEST_QUOTE else f'"{shown}"'


def read(text: str, quantity: Quantity) -> float:
    """The value inside: kg, °C, m, hPa, s, shares 0 to 1.

    Raises:
        ValueError: it is no such quantity, or not a sane one; the sentence names the likely slip.
    """
    number, unit = _split(text, quantity)
    if unit not in quantity.units:
        if not unit:
            raise ValueError(f"{quoted(text)} has no unit; write {_with_units(number, quantity)}")
        known = ", ".join(quantity.units) or "none"
        raise ValueError(f"{quoted(text)} is in an unknown unit; known are {known}")
    value = quantity.inside(number, unit)
    if quantity.is_sane(value):
        return value
    raise ValueError(_absurd(text, number, unit, quantity))


def whole(text: str, quantity: Quantity = COUNT) -> int:
    """A number of things. ValueError as above."""
    value = read(text, quantity)
    if value != math.floor(value):
        raise ValueError(f"{quoted(text)} is not a whole number; write one like {COUNT.example}")
    return int(value)


def _split(text: str, quantity: Quantity) -> tuple[float, str]:
    found = _QUANTITY.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{quoted(text)} is no quantity; write one like {quantity.example}")
    digits, unit = found.group(1), (found.group(2) or "").strip().removeprefix("°").strip()
    if _AMBIGUOUS.fullmatch(digits):
        plain = digits.replace(",", "")
        raise ValueError(
            f"{quoted(text)} can be read in two ways; write {plain} or {digits.replace(',', '.')}"
        )
    digits = digits.replace(",", ".")
    if not _PLAIN.fullmatch(digits):
        raise ValueError(f"{quoted(text)} is no number; write one like {quantity.example}")
    if not unit and quantity.bare is not None:
        unit = quantity.bare
    by_small = {known.lower(): known for known in quantity.units}
    return float(digits), unit if unit in quantity.units else by_small.get(unit.lower(), unit)


def _with_units(number: float, quantity: Quantity) -> str:
    """The same number with each unit that makes sense of it."""
    fitting = [
        unit for unit in quantity.units if quantity.is_sane(quantity.inside(number, unit))
    ] or list(quantity.units)[:2]
    return " or ".join(f'"{number:g} {unit}"' for unit in fitting)


def _absurd(text: str, number: float, unit: str, quantity: Quantity) -> str:
    """Why it can't be, and what was meant most likely."""
    first = next(iter(quantity.units))
    between = f"{quantity.low:g} to {quantity.high:g} {first}".rstrip()
    wrong = f"{quoted(text)} can't be: it should be from {between}"
    if number < 0.0 and quantity.low >= 0.0 and quantity.is_sane(quantity.inside(-number, unit)):
        return f"{wrong}; did you mean {-number:g} {unit}?".replace(" ?", "?")
    meant = [
        f"{number:g} {other}"
        for other in quantity.units
        if other != unit
        and (other in _POUNDS) is (unit in _POUNDS)
        and quantity.is_sane(quantity.inside(number, other))
    ]
    if unit == "%" and 0.0 < number < 1.0:
        meant = [f"{100.0 * number:g} %"]  # a share written as a fraction
    if meant:
        return f"{wrong}; did you mean {meant[0]}?"
    return f"{wrong}; {quantity.advice or f'write one like {quantity.example}'}"
