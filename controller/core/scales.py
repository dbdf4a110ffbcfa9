"""The two scales of temperature that people read.

Responsible for the conversion alone; everything inside is in °C.
"""

F_PER_K = 1.8  # by the definition of the Fahrenheit scale
F_AT_0_C = 32.0


def in_fahrenheit(temperature_c: float) -> float:
    """A temperature (not a span) in °F."""
    return temperature_c * F_PER_K + F_AT_0_C


def in_celsius(temperature_f: float) -> float:
    """A temperature (not a span) given in °F, in °C."""
    return (temperature_f - F_AT_0_C) / F_PER_K
