"""Quantities as people write them: "45 C", "0.5 K", "10 min", and back to text.

Responsible for units and their conversion; not for which values make sense.
"""

import math
import re
import sys
from collections.abc import Mapping

_FAHRENHEIT_ZERO = 32.0  # 0 °C is 32 °F, by definition
_K_PER_F = 5.0 / 9.0  # one Fahrenheit degree as a span, by definition
_S_PER_MIN = 60.0
_S_PER_H = 3600.0
_G_PER_KG = 1000.0

# Each unit as (zero, scale): the value inside is (number - zero) * scale.
_TEMPERATURES = {
    "C": (0.0, 1.0),
    "°C": (0.0, 1.0),
    "F": (_FAHRENHEIT_ZERO, _K_PER_F),
    "°F": (_FAHRENHEIT_ZERO, _K_PER_F),
}
_SPANS = {"K": (0.0, 1.0), "F": (0.0, _K_PER_F), "°F": (0.0, _K_PER_F)}
_RATES = {f"{unit}/min": factors for unit, factors in _SPANS.items()}
_DURATIONS = {"s": (0.0, 1.0), "min": (0.0, _S_PER_MIN), "h": (0.0, _S_PER_H)}
_MASSES = {"kg": (0.0, 1.0), "g": (0.0, 1.0 / _G_PER_KG)}
_POWERS = {"W": (0.0, 1.0)}
_CAPACITIES = {"J/K": (0.0, 1.0)}
_CONDUCTANCES = {"W/K": (0.0, 1.0)}
_SPEEDS = {"rpm": (0.0, 1.0)}
_RESISTANCES = {
    unit: (0.0, scale) for unit, scale in (("ohm", 1.0), ("Ω", 1.0), ("kohm", 1e3), ("kΩ", 1e3))
}
_VOLTAGES = {"V": (0.0, 1.0), "mV": (0.0, 1e-3)}
_CURRENTS = {"A": (0.0, 1.0), "mA": (0.0, 1e-3)}
_SHARES = {"%": (0.0, 0.01)}

_NUMBER = r"[+-]?[0-9]{1,9}(?:\.[0-9]{1,9})?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(\S.{{0,11}})?", re.DOTALL)
_LONGEST_QUOTE = 40


def _as_written(raw: object) -> str:
    """A value of a file as short text; Python can't print more than 4300 digits."""
    if isinstance(raw, bool):
        return str(raw).lower()
    if isinstance(raw, int) and abs(raw) > sys.maxsize:
        return "a huge number"
    if isinstance(raw, list | dict):
        return "a list" if isinstance(raw, list) else "a table"
    return str(raw)


def quoted(raw: object) -> str:
    """What somebody wrote, short and printable, so that it can stand in a sentence."""
    text = _as_written(raw)
    shown = "".join(sign if sign.isprintable() else "?" for sign in text[:_LONGEST_QUOTE])
    return f'"{shown}…"' if len(text) > _LONGEST_QUOTE else f'"{shown}"'


def _no_unit(raw: object, units: Mapping[str, tuple[float, float]]) -> ValueError:
    plain = [unit for unit in units if "°" not in unit]
    advice = " or ".join(f'"{str(raw).strip()} {unit}"' for unit in plain)
    return ValueError(f"{quoted(raw)} has no unit; write {advice}")


def _parse(raw: object, units: Mapping[str, tuple[float, float]], example: str) -> float:
    """The number in the unit used inside; ValueError with what to write otherwise."""
    is_text_or_number = isinstance(raw, str | int | float) and not isinstance(raw, bool)
    match = _QUANTITY.fullmatch(_as_written(raw).strip()) if is_text_or_number else None
    if match is None:
        raise ValueError(f"{quoted(raw)} is no number with a unit; write it like {example}")
    number, unit = match.groups()
    if unit is None:
        raise _no_unit(raw, units)
    if unit not in units:
        raise ValueError(f"{quoted(raw)} has an unknown unit; write it like {example}")
    zero, scale = units[unit]
    return (float(number) - zero) * scale


def parse_temperature_c(text: object) -> float:
    """A temperature such as "45 C" or "113 F", in °C.

    Raises:
        ValueError: it is a bare number or no temperature; the message says what to write.
    """
    return _parse(text, _TEMPERATURES, '"45 C" or "113 F"')


def parse_span_k(text: object) -> float:
    """A span such as "0.5 K", in K; "2 F" is 1.111 K, for a span has no zero point.

    Raises:
        ValueError: it is a bare number, no span, or in C (which could be read as a temperature).
    """
    if isinstance(text, str) and text.rstrip().endswith("C"):
        number = text.rstrip().removesuffix("C").rstrip("° ")
        raise ValueError(f'{quoted(text)} is a span and C is for temperatures; write "{number} K"')
    return _parse(text, _SPANS, '"0.5 K"')


def parse_rate_k_per_min(text: object) -> float:
    """A rate such as "1 K/min" or "2 F/min", in K/min. ValueError as above."""
    return _parse(text, _RATES, '"1 K/min"')


def parse_duration_s(text: object) -> float:
    """A duration such as "90 s", "10 min" or "2 h", in s. ValueError as above."""
    return _parse(text, _DURATIONS, '"90 s", "10 min" or "2 h"')


def parse_mass_kg(text: object) -> float:
    """A mass such as "1.5 kg" or "250 g", in kg. ValueError as above."""
    return _parse(text, _MASSES, '"1.5 kg" or "250 g"')


def parse_power_w(text: object) -> float:
    """A power such as "500 W", in W. ValueError as above."""
    return _parse(text, _POWERS, '"500 W"')


def parse_capacity_j_per_k(text: object) -> float:
    """A heat capacity such as "700 J/K", in J/K. ValueError as above."""
    return _parse(text, _CAPACITIES, '"700 J/K"')


def parse_conductance_w_per_k(text: object) -> float:
    """A conductance such as "2.5 W/K", in W/K. ValueError as above."""
    return _parse(text, _CONDUCTANCES, '"2.5 W/K"')


def parse_speed_rpm(text: object) -> float:
    """A speed such as "30 rpm", in rpm. ValueError as above."""
    return _parse(text, _SPEEDS, '"30 rpm"')


def parse_resistance_ohm(text: object) -> float:
    """A resistance such as "100 ohm" or "10 kohm", in ohm. ValueError as above."""
    return _parse(text, _RESISTANCES, '"100 ohm" or "10 kohm"')


def parse_voltage_v(text: object) -> float:
    """A voltage such as "3.3 V", in V. ValueError as above."""
    return _parse(text, _VOLTAGES, '"3.3 V"')


def parse_current_a(text: object) -> float:
    """A current such as "0.2 A" or "200 mA", in A. ValueError as above."""
    return _parse(text, _CURRENTS, '"0.2 A" or "200 mA"')


def parse_share(text: object) -> float:
    """A share such as "90 %", as 0 to 1. ValueError as above."""
    return _parse(text, _SHARES, '"90 %"')


def celsius_text(value_c: float, *, fahrenheit: bool) -> str:
    """A temperature in °C as people read it, "45.0 °C" or "113.0 °F"; NaN is "no reading"."""
    if not math.isfinite(value_c):
        return "no reading"
    if fahrenheit:
        return f"{round(value_c / _K_PER_F + _FAHRENHEIT_ZERO, 1) + 0.0:.1f} °F"
    return f"{round(value_c, 1) + 0.0:.1f} °C"  # + 0.0 turns "-0.0" into "0.0"


def span_text(value_k: float, *, fahrenheit: bool) -> str:
    """A span in K as people read it, "0.5 K" or "0.9 °F"; NaN is "unknown"."""
    if not math.isfinite(value_k):
        return "unknown"
    value, unit = (value_k / _K_PER_F, "°F") if fahrenheit else (value_k, "K")
    number = f"{round(value, 2) + 0.0:.2f}"
    return f"{number.removesuffix('0')} {unit}"


def duration_text(value_s: float) -> str:
    """A duration as people read it: "45 s", "10 min", "1 h 30 min"."""
    whole_s = round(value_s)
    minutes, seconds = divmod(whole_s, round(_S_PER_MIN))
    hours, minutes = divmod(minutes, round(_S_PER_H / _S_PER_MIN))
    parts = [(hours, "h"), (minutes, "min"), (seconds, "s")]
    return " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 s"
