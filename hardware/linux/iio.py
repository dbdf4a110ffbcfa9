"""Thermometers behind a converter that has an IIO driver in the kernel.

Responsible for finding the converter and for its readings; not for when to measure. Facts of the
files: Documentation/ABI/testing/sysfs-bus-iio of Linux; temperatures are in thousandths of °C and
voltages in thousandths of a volt, once offset and scale are applied.
"""

import re
from pathlib import Path

from controller.ports import Fault, Reading, missing
from hardware.linux import platinum, thermistor
from hardware.linux.kernel_file import find, read_bytes
from hardware.linux.platinum import Platinum
from hardware.linux.thermistor import Thermistor

DEVICES = Path("sys/bus/iio/devices")  # under the root
# Wider than any thermometer fit for a kitchen, as with hwmon: own engineering values.
LOWEST_C = -55.0
HIGHEST_C = 150.0
# The ratio converter's 15 bits: resistance over reference, full scale when the element or its
# cable is open (datasheet 19-6478, tables 5 and 10).
_FULL_SCALE = 1 << 15
_OPEN = _FULL_SCALE - 1
_NUMBER = re.compile(rb"-?[0-9]{1,10}(?:\.[0-9]{1,9})?\n?")
_PER_UNIT = 1000.0


def devices_named(root: Path, name: str) -> list[Path]:
    """The folders of the devices of that name; several converters may share one."""
    return [
        path.parent
        for path in sorted((root / DEVICES).glob("iio:device*/name"))
        if read_bytes(path) in (name.encode(), name.encode() + b"\n")
    ]


def folder_of(root: Path, place: str) -> Path | Fault:
    """The folder of the only device at a path, its number written as *, or of a name."""
    if place.startswith("/"):
        return find(root / place.lstrip("/"))
    found = devices_named(root, place)
    if len(found) > 1:
        return Fault.DEVICE  # one of them was plugged in meanwhile; which is ours?
    return found[0] if found else Fault.NO_ANSWER


def measure(root: Path, place: str) -> Reading:
    """A temperature that the driver itself works out: thermocouple converters and others, in °C."""
    folder = folder_of(root, place)
    if isinstance(folder, Fault):
        return missing(folder)
    whole = folder / "in_temp_input"
    value = _number(whole) if whole.exists() else _scaled(folder, "in_temp")
    return missing(value) if isinstance(value, Fault) else _believable(value / _PER_UNIT)


def measure_platinum(root: Path, place: str, made: Platinum) -> Reading:
    """A platinum thermometer behind a ratio converter, in °C.

    The driver's own scale is a straight line, 0.3 K off at 50 °C, and it gives a number for an
    overdriven input, too: so the code itself is taken, and the fault register after each one.
    """
    folder = folder_of(root, place)
    if isinstance(folder, Fault):
        return missing(folder)
    code = _number(folder / "in_temp_raw")
    if isinstance(code, Fault):
        return missing(code)
    if read_bytes(folder / "fault_ovuv") != b"0\n":
        return missing(Fault.DEVICE)
    if code in (0.0, _OPEN):
        return missing(Fault.NO_ANSWER if code else Fault.ALL_ZERO)
    ohm = code / _FULL_SCALE * made.reference_ohm
    return _believable(platinum.temperature_at(ohm / made.zero_ohm))


def measure_thermistor(root: Path, place: str, channel: int, made: Thermistor) -> Reading:
    """A thermistor in a divider at a channel of a voltage converter, in °C."""
    folder = folder_of(root, place)
    if isinstance(folder, Fault):
        return missing(folder)
    measured_mv = _scaled(folder, f"in_voltage{channel}", "in_voltage")
    if isinstance(measured_mv, Fault):
        return missing(measured_mv)
    value_c = thermistor.temperature_c(made, thermistor.resistance_ohm(made, measured_mv))
    return missing(Fault.NO_ANSWER) if value_c < LOWEST_C else _believable(value_c)


def _scaled(folder: Path, *stems: str) -> float | Fault:
    """(raw + offset)·scale; scale and offset may be those of all channels of a kind."""
    raw = _number(folder / f"{stems[0]}_raw")
    if isinstance(raw, Fault):
        return raw
    if raw == 0.0:
        return Fault.ALL_ZERO  # what a dead data line reads, too; no bath of ours is that cold
    factors = []
    for suffix, otherwise in (("offset", 0.0), ("scale", None)):
        found = [path for stem in stems if (path := folder / f"{stem}_{suffix}").exists()]
        value = _number(found[0]) if found else otherwise
        if value is None or isinstance(value, Fault):
            return Fault.DEVICE if value is None else value
        factors.append(value)
    offset, scale = factors
    return (raw + offset) * scale


def _number(path: Path) -> float | Fault:
    content = read_bytes(path)
    if isinstance(content, Fault):
        return content
    return float(content) if _NUMBER.fullmatch(content) else Fault.DEVICE


def _believable(value_c: float) -> Reading:
    if value_c == 0.0:
        return missing(Fault.ALL_ZERO)
    return Reading(value_c) if LOWEST_C <= value_c <= HIGHEST_C else missing(Fault.DEVICE)
