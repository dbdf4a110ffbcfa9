"""The two scales of temperature that people read.

Responsible for the conversion alone, of numbers and of sentences; everything inside is in °C, and
so is what a record keeps.
"""

import re

F_PER_K = 1.8  # by the definition of the Fahrenheit scale
F_AT_0_C = 32.0

_NUMBER = r"-?\d+(?:\.\d+)?"
_NUMBERS = rf"(?<![\w.])({_NUMBER}(?:(?:, | to | and | or |-|\u2013){_NUMBER})*)"  # "18 to 21"
# Whoever wrote a sentence may have said it in both scales.
_SAID = r"(?: \(((?:about )?-?\d[^()]*°F)\))?"
_IN_C = re.compile(rf"{_NUMBERS} (°?)C\b{_SAID}")
_IN_K = re.compile(rf"{_NUMBERS} K\b{_SAID}")
_EACH = re.compile(r"(?<![\d.])-?\d+(?:\.\d+)?")


def in_fahrenheit(temperature_c: float) -> float:
    """A temperature (not a span) in °F."""
    return temperature_c * F_PER_K + F_AT_0_C


def in_celsius(temperature_f: float) -> float:
    """A temperature (not a span) given in °F, in °C."""
    return (temperature_f - F_AT_0_C) / F_PER_K


def retold(sentence: str, *, fahrenheit: bool) -> str:
    """A sentence with its temperatures and spans in °F, where that is wished for; else as it is.

    Each number keeps its decimals, a span at least one; what stands in both scales keeps its °F.
    Taken for temperatures are numbers before "°C" or "C", for spans those before "K".
    """
    if not fahrenheit:
        return sentence
    return _IN_K.sub(_span, _IN_C.sub(_temperature, sentence))


def _temperature(found: re.Match[str]) -> str:
    numbers, degree, said = found.groups()
    if said:
        return str(said)
    return f"{_EACH.sub(_in_f, numbers)} {degree}F"


def _in_f(number: re.Match[str]) -> str:
    return f"{in_fahrenheit(float(number[0])):.{_decimals(number[0])}f}"


def _span(found: re.Match[str]) -> str:
    numbers, said = found.groups()
    return str(said) if said else f"{_EACH.sub(_span_in_f, numbers)} °F"


def _span_in_f(number: re.Match[str]) -> str:
    return f"{F_PER_K * float(number[0]):.{max(1, _decimals(number[0]))}f}"


def _decimals(number: str) -> int:
    return len(number.partition(".")[2])
