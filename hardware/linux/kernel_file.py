"""Reading one small file of the kernel: its content, or why there is none.

Responsible for finding it, errors, emptiness and size; not for what the content means.
"""

import errno
import re
from pathlib import Path

from controller.ports import Fault, Reading, missing

# One page: the most that a file of sysfs holds (Documentation/filesystems/sysfs.rst of Linux).
MOST_BYTES = 4096
# Removed, unplugged, or silent on its bus. Any other error is the device's own word, such as EIO.
_GONE = {
    errno.ENOENT,
    errno.ENOTDIR,
    errno.ENODEV,
    errno.ENXIO,
    errno.EREMOTEIO,
    errno.ETIMEDOUT,
}
_THOUSANDTHS = re.compile(rb"-?[0-9]{1,6}\n?")
_PER_UNIT = 1000.0


def find(place: Path) -> Path | Fault:
    """The only file or folder at a path in which a * stands for a number that may change."""
    if "*" not in str(place):
        return place
    found = list(Path(place.anchor).glob(str(place.relative_to(place.anchor))))
    if len(found) > 1:
        return Fault.DEVICE  # which of them is ours?
    return found[0] if found else Fault.NO_ANSWER


def read_bytes(path: Path) -> bytes | Fault:
    """The whole file, or the fault. May block as long as the device does."""
    try:
        with path.open("rb", buffering=0) as file:
            content = file.read(MOST_BYTES + 1) or b""
    except OSError as error:
        return Fault.NO_ANSWER if error.errno in _GONE else Fault.DEVICE
    if not content:
        return Fault.NO_ANSWER  # how the kernel's 1-wire driver says that a reading failed
    return content if len(content) <= MOST_BYTES else Fault.DEVICE


def read_thousandths(
    path: Path, *, lowest: float, highest: float, may_be_zero: bool = False
) -> Reading:
    """A file of thousandths of °C or A, as a reading without an age.

    Exactly 0 °C is refused: registers hold it after power-on until the first conversion (datasheet
    SBOS288M, for one), and no bath or bowl of ours is that cold.
    """
    content = read_bytes(path)
    if isinstance(content, Fault):
        return missing(content)
    if not _THOUSANDTHS.fullmatch(content):
        return missing(Fault.DEVICE)
    value = int(content) / _PER_UNIT
    if value == 0.0 and not may_be_zero:
        return missing(Fault.ALL_ZERO)
    return Reading(value) if lowest <= value <= highest else missing(Fault.DEVICE)
