"""Looking at the computer and at ourselves: memory, threads, disk, the time of day.

Responsible for reading them, in a thread so that no disk can hold up a tick; not for what is sound
(core/self_rows).
"""

import math
import os
import shutil
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from controller.clock import RealClock, boot_s, wall_time
from controller.core.interlock_rows import Cause
from controller.core.reasons import why
from controller.core.records import replace
from controller.core.self_rows import refusals
from controller.core.vitals import Vitals
from controller.errors import AccessError, BusyError

# Own engineering values, not published.
EVERY_S = 10.0
SETTLED_S = 600.0  # memory grows as a run begins; afterwards it should not
WAIT_S = 0.05
LOOKS_TO_START = 2
NEEDED = ("journal", "link", "bus ")  # how the threads are called that a run can't do without
_BYTES_PER_MB = 1e6
_BYTES_PER_KB = 1024
STATM = Path("/proc/self/statm")  # proc(5): pages, the second number those in memory
MEMINFO = Path("/proc/meminfo")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """Where each number comes from; a test hands in its own."""

    held_mb: Callable[[], float]  # by this process
    left_mb: Callable[[], float]  # of the computer's memory
    threads: Callable[[], tuple[str, ...]]  # names of those that run
    disk_left_mb: Callable[[], float]
    wall_s: Callable[[], float]  # the time of day
    boot_s: Callable[[], float]  # seconds since boot, which nobody sets


class SelfWatch:
    """Looks every ten seconds, and hands over the newest look."""

    def __init__(self, sources: Sources, record_fault: Callable[[], str] = lambda: "") -> None:
        """Nothing has been looked at; `record_fault` says why the record breaks off, or nothing."""
        self._from = sources
        self._record_fault = record_fault
        self._began_s = self._looked_s = sources.boot_s()
        self._apart_s = sources.wall_s() - self._began_s
        self._settled_mb = math.inf
        self._needed: frozenset[str] | None = None
        self._newest: tuple[Vitals, float] | None = None  # one assignment, so never half of it
        self._over = threading.Event()

    def look(self) -> Vitals:
        """Take a look now."""
        now_s, held_mb = self._from.boot_s(), self._from.held_mb()
        apart_s = self._from.wall_s() - now_s
        jump_s, self._apart_s = apart_s - self._apart_s, apart_s
        if now_s - self._began_s < SETTLED_S or math.isinf(self._settled_mb):
            self._settled_mb = held_mb
        names = self._from.threads()
        if self._needed is None:
            self._needed = frozenset(name for name in names if name.startswith(NEEDED))
        vitals = Vitals(
            age_s=0.0,
            memory_grown_mb=held_mb - self._settled_mb,
            memory_left_mb=self._from.left_mb(),
            threads=len(names),
            ended=tuple(sorted(self._needed - set(names))),
            disk_left_mb=self._from.disk_left_mb(),
            record_fault=self._record_fault(),
            clock_jump_s=jump_s,
            late_s=0.0,
        )
        self._newest = (vitals, now_s)
        return vitals

    def read(self) -> Vitals | None:
        """The newest look with its age, without waiting; None before the first."""
        if self._newest is None:
            return None
        vitals, looked_s = self._newest
        return replace(vitals, age_s=self._from.boot_s() - looked_s)

    def start(self) -> None:
        """Look now, and from now on every ten seconds."""
        self.look()
        threading.Thread(target=self._keep_looking, name="self-watch", daemon=True).start()

    def stop(self) -> None:
        """Look no more."""
        self._over.set()

    def _keep_looking(self) -> None:
        while not self._over.wait(EVERY_S):
            self.look()


def refuse_unless_sound(sources: Sources, late_s: Callable[[], float]) -> None:
    """Let no run start on a computer that can't carry it.

    Args:
        sources: where the numbers come from.
        late_s: waits shortly and says how late that ended, s.

    Raises:
        AccessError: the disk has too little room for a record.
        BusyError: memory is short, or the computer is too busy.
    """
    for _ in range(LOOKS_TO_START):  # what is gone a moment later forbids nothing
        vitals = replace(SelfWatch(sources).look(), late_s=late_s())
        found = refusals(vitals)
        if not found:
            return
    row = found[0]
    error = AccessError if row.cause is Cause.DISK_FULL else BusyError
    raise error(
        f"No run can start now ({row.cause}): {row.says(vitals)} {why(row.cause)} {row.action}"
    )


def real_sources(folder: Path) -> Sources:
    """This process on this computer, with records in `folder`."""
    return Sources(
        held_mb=held_mb,
        left_mb=left_mb,
        threads=lambda: tuple(thread.name for thread in threading.enumerate()),
        disk_left_mb=lambda: disk_left_mb(folder),
        wall_s=lambda: wall_time().timestamp(),
        boot_s=boot_s,
    )


def lateness_s() -> float:
    """How late a short wait ends now, s."""
    clock = RealClock()
    due_s = clock.now_s() + WAIT_S
    clock.wait_until(due_s)
    return clock.now_s() - due_s


def held_mb(path: Path = STATM) -> float:
    """Memory that this process holds, MB; NaN where the kernel doesn't say."""
    with suppress(OSError, ValueError, IndexError):
        return int(path.read_text("ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE") / _BYTES_PER_MB
    return math.nan


def left_mb(path: Path = MEMINFO) -> float:
    """Memory that the computer could give, MB; NaN where the kernel doesn't say."""
    with suppress(OSError, ValueError, IndexError):
        for line in path.read_text("ascii").splitlines():
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) * _BYTES_PER_KB / _BYTES_PER_MB
    return math.nan


def disk_left_mb(folder: Path) -> float:
    """Space on the disk of a folder, MB; NaN where it can't be told."""
    with suppress(OSError):
        return shutil.disk_usage(folder).free / _BYTES_PER_MB
    return math.nan
