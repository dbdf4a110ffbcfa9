"""Thermometers that have a hwmon driver in the kernel, such as those on an I²C bus.

Responsible for finding one by its chip's name and for its readings; not for when to measure.
Facts of the files: Documentation/hwmon/sysfs-interface.rst of Linux.
"""

from pathlib import Path

from controller.ports import Fault, Reading, missing
from hardware.linux.kernel_file import read_bytes, read_thousandths

CHIPS = Path("sys/class/hwmon")  # under the root
INPUT = "temp1_input"  # thousandths of °C
# Wider than any thermometer fit for a kitchen: own engineering values, not published. The core
# judges what is believable for a bath.
LOWEST_C = -55.0
HIGHEST_C = 150.0


def chips_named(root: Path, name: str) -> list[Path]:
    """The folders of the chips of that name, which may change their numbers when plugged again."""
    return [
        path.parent
        for path in sorted((root / CHIPS).glob("*/name"))
        if read_bytes(path) in (name.encode(), name.encode() + b"\n")
    ]


def measure_named(root: Path, name: str) -> Reading:
    """One reading of the only chip of that name, in °C, without an age."""
    found = chips_named(root, name)
    if len(found) > 1:
        return missing(Fault.DEVICE)  # one of them was plugged in meanwhile; which is ours?
    return measure(found[0] / INPUT) if found else missing(Fault.NO_ANSWER)


def measure(path: Path) -> Reading:
    """One reading of that file, in °C, without an age. May block as long as the device does."""
    if read_bytes(path.with_name(path.name.replace("_input", "_fault"))) == b"1\n":
        return missing(Fault.DEVICE)  # the chip says that its sensor is open or shorted
    return read_thousandths(path, lowest_c=LOWEST_C, highest_c=HIGHEST_C)
