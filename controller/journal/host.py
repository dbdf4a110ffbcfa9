"""What a record keeps of the computer that it was written on: its boot and its other clocks.

Responsible for reading them; not for what they mean after a cut (controller.core.recovery).
"""

from pathlib import Path

from controller.clock import boot_s, is_wall_synchronised, wall_time
from controller.journal.records import Stamp

BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


def boot_id(path: Path = BOOT_ID) -> str:
    """The kernel's name for this boot; empty where it gives none."""
    try:
        return path.read_text("ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def read_stamp() -> Stamp:
    """The wall clock, whether it is held to a time server, and the seconds since boot."""
    return Stamp(
        utc=wall_time().isoformat(timespec="milliseconds"),
        boot_s=boot_s(),
        synchronised=is_wall_synchronised(),
    )
