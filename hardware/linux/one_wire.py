"""Thermometers of 12 bit on a 1-wire bus, through the files of the kernel's driver w1_therm.

Responsible for telling a temperature from all that only looks like one; not for when to measure.
Facts of the files: Documentation/w1/slaves/w1_therm.rst and drivers/w1/slaves/w1_therm.c of Linux.
"""

import re
from pathlib import Path

from controller.ports import Fault, Reading, missing
from hardware.linux.kernel_file import read_bytes, read_thousandths

DEVICES = Path("sys/bus/w1/devices")  # under the root
# The datasheet of the 12 bit 1-wire thermometer (19-7487): 0.0625 °C a step, -55 to +125 °C, and
# +85 °C in its memory after power-on, before it has measured.
STEP_C = 0.0625
LOWEST_C = -55.0
HIGHEST_C = 125.0
POWER_ON_C = 85.0
LEAST_BITS, MOST_BITS = 9, 12  # w1_therm.rst: `resolution`
# Its table of the configuration register, byte 4: 0 R1 R0 1 1 1 1 1. With 9, 10 and 11 bits the
# lowest 3, 2 and 1 bits of the temperature are undefined.
_CONFIGURED = 4
_RESOLUTION_AT, _RESOLUTION_MASK = 5, 0b11
_CRC_POLYNOMIAL = 0x8C  # x⁸ + x⁵ + x⁴ + 1, lowest bit first: the same datasheet
_NOBODY = 0xFF  # what a bus reads that nobody pulls low
_SLAVE = re.compile(rb"((?:[0-9a-f]{2} ){9}): crc=[0-9a-f]{2} (YES|NO)\n[^\n]* t=-?[0-9]+\n?")


def crc8(content: bytes) -> int:
    """The checksum of the 1-wire bus, begun at 0."""
    crc = 0
    for byte in content:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (_CRC_POLYNOMIAL if crc & 1 else 0)
    return crc


def temperature(scratchpad: bytes) -> Reading:
    """What the nine bytes of a thermometer's memory say, in °C, without an age."""
    if not any(scratchpad):
        return missing(Fault.ALL_ZERO)  # a bus held low; it would pass the checksum as 0 °C
    if all(byte == _NOBODY for byte in scratchpad):
        return missing(Fault.NO_ANSWER)
    if crc8(scratchpad[:-1]) != scratchpad[-1]:
        return missing(Fault.CHECKSUM)
    undefined = _RESOLUTION_MASK - (scratchpad[_CONFIGURED] >> _RESOLUTION_AT & _RESOLUTION_MASK)
    code = int.from_bytes(scratchpad[:2], "little", signed=True) >> undefined << undefined
    return _believable(code * STEP_C)


def measure(folder: Path) -> Reading:
    """Measure once; takes up to 0.75 s, and longer when the bus is blocked.

    Reading either file makes the thermometer measure. `w1_slave` shows the bytes as they came;
    `temperature` stands in where there is no such file.
    """
    slave = folder / "w1_slave"
    if slave.exists():
        content = read_bytes(slave)
        return missing(content) if isinstance(content, Fault) else _from_slave(content)
    reading = read_thousandths(folder / "temperature", lowest=LOWEST_C, highest=HIGHEST_C)
    return reading if reading.fault is not Fault.NONE else _believable(reading.value)


def bits_of(folder: Path) -> int | None:
    """How finely it measures, 9 to 12 bits, by its driver; None where that doesn't say."""
    bits = _setting(folder / "resolution")
    return bits if bits in range(LEAST_BITS, MOST_BITS + 1) else None


def has_own_power(folder: Path) -> bool | None:
    """Whether a wire of its own powers it, by its driver; None where that doesn't say."""
    return {0: False, 1: True}.get(_setting(folder / "ext_power"))


def _setting(path: Path) -> int:
    """The number in a file of the driver; like its own errors less than 0 for all that is none."""
    content = read_bytes(path)
    is_number = not isinstance(content, Fault) and content.strip().isdigit()
    return int(content) if is_number else -1


def _from_slave(content: bytes) -> Reading:
    """From the first line: the second repeats old bytes after a bad checksum."""
    found = _SLAVE.fullmatch(content)
    if found is None:
        return missing(Fault.DEVICE)
    reading = temperature(bytes.fromhex(found.group(1).decode()))
    if found.group(2) == b"NO" and reading.fault is Fault.NONE:
        return missing(Fault.CHECKSUM)
    return reading


def _believable(value_c: float) -> Reading:
    if value_c == POWER_ON_C:
        return missing(Fault.POWER_ON_VALUE)
    return Reading(value_c) if LOWEST_C <= value_c <= HIGHEST_C else missing(Fault.DEVICE)
