"""Thermometers and current sensors that have a hwmon driver in the kernel, as on an I²C bus.

Responsible for finding one by its chip's name and for its readings; not for when to measure.
Facts of the files: Documentation/hwmon/sysfs-interface.rst of Linux.
"""

from pathlib import Path
from typing import NamedTuple

from controller.ports import Fault, Reading, missing, replace
from hardware.linux.kernel_file import read_bytes, read_thousandths

CHIPS = Path("sys/class/hwmon")  # under the root


class Quantity(NamedTuple):
    """What a chip measures: its file of thousandths, and what it may hold.

    The ranges are wider than anything fit for a kitchen (own engineering values, not published):
    the core judges what is believable.
    """

    file: str
    lowest: float
    highest: float
    may_be_zero: bool


WARMTH = Quantity("temp1_input", -55.0, 150.0, may_be_zero=False)  # °C
CURRENT = Quantity("curr1_input", -100.0, 100.0, may_be_zero=True)  # A


def chips_named(root: Path, name: str) -> list[Path]:
    """The folders of the chips of that name, which may change their numbers when plugged again."""
    return [
        path.parent
        for path in sorted((root / CHIPS).glob("*/name"))
        if read_bytes(path) in (name.encode(), name.encode() + b"\n")
    ]


def measure_named(root: Path, name: str, what: Quantity = WARMTH) -> Reading:
    """One reading of the only chip of that name, in °C or A, without an age."""
    found = chips_named(root, name)
    if len(found) > 1:
        return missing(Fault.DEVICE)  # one of them was plugged in meanwhile; which is ours?
    return measure(found[0] / what.file, what) if found else missing(Fault.NO_ANSWER)


def measure(path: Path, what: Quantity = WARMTH) -> Reading:
    """One reading of that file, in °C or A, without an age. May block as long as the device does.

    A current has no direction that matters: some chips are wired the other way round.
    """
    if read_bytes(path.with_name(path.name.replace("_input", "_fault"))) == b"1\n":
        return missing(Fault.DEVICE)  # the chip says that its sensor is open or shorted
    reading = read_thousandths(
        path, lowest=what.lowest, highest=what.highest, may_be_zero=what.may_be_zero
    )
    return replace(reading, value=abs(reading.value)) if what is CURRENT else reading
