"""The quantities that the commands of commissioning take.

Responsible for what is sane; not for what it is for.
"""

from controller.files.temperatures import parse_power_w, parse_span_k, parse_temperature_c
from controller.planning.quantities import ALTITUDE, PRESSURE, quoted, read

# What is sane: own engineering values, not published.
_RANGES = {
    "TAP_OR_BOWL": (parse_temperature_c, 0.0, 100.0, "31.2 C"),
    "ROOM": (parse_temperature_c, 0.0, 45.0, "21 C"),
    "SPAN": (parse_span_k, 0.005, 2.0, "0.1 K"),
    "POWER": (parse_power_w, 30.0, 4000.0, "487 W"),
}


def value(kind: str, text: str) -> float:
    """The value inside: °C, K, W, hPa, m.

    Raises:
        ValueError: it is no such quantity, or not a sane one.
    """
    if kind in {"PRESSURE", "ALTITUDE"}:
        return read(text, PRESSURE if kind == "PRESSURE" else ALTITUDE)
    parse, low, high, example = _RANGES[kind]
    found = parse(text)
    if not low <= found <= high:
        raise ValueError(f"{quoted(text)} can't be; write one like {example}")
    return found
