"""How the computer and this process are: what a run looks at besides the machine.

Responsible for the shape; not for reading it (wiring) or judging it (self_rows).
"""

from msgspec import Struct


class Vitals(Struct, frozen=True, kw_only=True):
    """One look at ourselves. What can't be told is NaN, which no row takes for sound."""

    age_s: float  # of this look
    memory_grown_mb: float  # held by this process beyond what it held ten minutes after its start
    memory_left_mb: float  # of the computer, for whoever asks
    threads: int
    ended: tuple[str, ...]  # threads that ran at the start and run no more
    disk_left_mb: float  # where the record is written
    record_fault: str  # why the record breaks off; empty while it is written
    clock_jump_s: float  # of the wall clock against the seconds since boot, since the last look
    late_s: float  # by which a short wait came late
