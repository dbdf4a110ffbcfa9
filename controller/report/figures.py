"""Figures of many runs as a person reads them: a column's name ends in its unit.

Responsible for units, percentiles and the words of one value; not for tables or pictures.
"""

import math
import statistics
from collections.abc import Iterable
from dataclasses import dataclass

from controller.core.scales import F_PER_K, in_fahrenheit

S_PER_MIN = 60
MIN_PER_H = 60
LONG_S = 300.0  # own choice: from here on a picture counts in minutes
SAME = "same"  # stands where a difference would be nothing
NOTHING = "-"  # stands where there is no value

# Of a value's size, or in its own unit; own choice, far under what any figure is written with.
NARROWEST = 1e-9

# What is told of many values: one in twenty lies below p5, one in twenty above p95.
PERCENTILES = ("p5", "p50", "p95")
TWENTIETHS = 20


@dataclass(frozen=True, slots=True)
class Unit:
    """How the figures of a unit are written: what stands behind them, and how many decimals."""

    sign: str
    decimals: int | None = None  # None: as many as the size of the figure asks for


# The ends of columns' names, the longer before the shorter.
UNITS = {
    "_percent": Unit("%", 2),
    "_kwh": Unit("kWh", 3),
    "_rpm": Unit("rpm", 1),
    "_kg": Unit("kg", 3),
    "_s": Unit("s"),
    "_k": Unit("K", 2),
    "_c": Unit("°C", 1),
    "_w": Unit("W", 1),
    "_j": Unit("J", 0),
}
PLAIN = Unit("")
DECIMALS = ((1000.0, 0), (10.0, 1), (1.0, 2), (0.0, 4))  # from this size on, so many
TIME, SPAN, TEMPERATURE = "_s", "_k", "_c"


def suffix_of(column: str) -> str:
    """The end of a column's name that is its unit, or an empty text."""
    return next((suffix for suffix in UNITS if column.endswith(suffix)), "")


def title_of(column: str) -> str:
    """A column's name as words: "melt overshoot"."""
    return column.removesuffix(suffix_of(column)).replace("_", " ").replace("-", " ")


def percentiles(values: Iterable[float]) -> tuple[float, float, float]:
    """p5, p50 and p95 by linear interpolation between the values; NaN and infinity left out.

    Of no value at all they are NaN.
    """
    known = sorted(value for value in values if math.isfinite(value))
    if not known:
        return (math.nan, math.nan, math.nan)
    if len(known) == 1:
        return (known[0], known[0], known[0])
    cuts = statistics.quantiles(known, n=TWENTIETHS, method="inclusive")
    return (cuts[0], cuts[TWENTIETHS // 2 - 1], cuts[-1])


def figure_text(column: str, value: float, *, fahrenheit: bool = False) -> str:
    """One figure with its unit: "0.12 K", "1:07:42"; "-" for none."""
    if suffix_of(column) == TEMPERATURE and fahrenheit:
        return _written(in_fahrenheit(value), Unit("°F", 1))
    return _text(column, value, fahrenheit=fahrenheit, sign=False)


def difference_text(column: str, difference: float, *, fahrenheit: bool = False) -> str:
    """How much larger, with a sign: "+0.05 K", "-0:02:10"; "same" where nothing is to see."""
    if suffix_of(column) == TEMPERATURE:
        unit, number = ("°F", difference * F_PER_K) if fahrenheit else ("K", difference)
        text = _written(number, Unit(unit, 1), sign=True)
    else:
        text = _text(column, difference, fahrenheit=fahrenheit, sign=True)
    return text if text == NOTHING or _is_seen(text) else SAME


def ratio_text(column: str, before: float, after: float) -> str:
    """How many times as much, or "-": for temperatures, other signs, or nothing to begin with."""
    is_seen = _is_seen(figure_text(column, before))
    if suffix_of(column) == TEMPERATURE or not is_seen or not before * after > 0:
        return NOTHING
    return f"{after / before:.2f}"


def is_same(before: float, after: float) -> bool:
    """Whether two values are one, but for what is left of rounding; so are two of none."""
    if not math.isfinite(before) or not math.isfinite(after):
        return math.isfinite(before) == math.isfinite(after)
    return abs(after - before) <= NARROWEST * max(1.0, abs(before), abs(after))


def _is_seen(text: str) -> bool:
    """Whether the text of a number is not that of nothing."""
    return any(digit in text for digit in "123456789")


def drawn(column: str, value: float, *, most: float, fahrenheit: bool = False) -> float:
    """A figure on the scale that `drawn_unit` names; `most` is the largest that is drawn."""
    suffix = suffix_of(column)
    if fahrenheit and suffix == TEMPERATURE:
        return in_fahrenheit(value)
    if fahrenheit and suffix == SPAN:
        return value * F_PER_K
    return value / S_PER_MIN if drawn_unit(column, most=most) == "min" else value


def drawn_unit(column: str, *, most: float, fahrenheit: bool = False) -> str:
    """The unit of a picture's scale; empty for a plain number."""
    suffix = suffix_of(column)
    if fahrenheit and suffix in (TEMPERATURE, SPAN):
        return "°F"
    if suffix == TIME and most >= LONG_S:
        return "min"
    return UNITS.get(suffix, PLAIN).sign


def _text(column: str, value: float, *, fahrenheit: bool, sign: bool) -> str:
    suffix = suffix_of(column)
    if suffix == TIME:
        return _clock(value, sign=sign)
    if suffix == SPAN and fahrenheit:
        return _written(value * F_PER_K, Unit("°F", 2), sign=sign)
    return _written(value, UNITS.get(suffix, PLAIN), sign=sign)


def _clock(seconds: float, *, sign: bool) -> str:
    """As on a kitchen clock, to the nearest second: "1:07:42", "-0:02:10"."""
    if not math.isfinite(seconds):
        return NOTHING
    minutes, rest = divmod(round(abs(seconds)), S_PER_MIN)
    hours, minutes = divmod(minutes, MIN_PER_H)
    before = "-" if seconds < 0 else "+" if sign else ""
    return f"{before}{hours}:{minutes:02}:{rest:02}"


def _written(value: float, unit: Unit, *, sign: bool = False) -> str:
    if not math.isfinite(value):
        return NOTHING
    decimals = _decimals(value) if unit.decimals is None else unit.decimals
    # Adding nothing makes a rounded -0.00 a 0.00.
    number = f"{round(value, decimals) + 0.0:{'+' if sign else ''}.{decimals}f}"
    return f"{number} {unit.sign}".rstrip()


def _decimals(value: float) -> int:
    """Enough to tell figures of this size apart: none for counts."""
    if value == round(value):
        return 0
    size = abs(value)
    return next(decimals for least, decimals in DECIMALS if size >= least)
