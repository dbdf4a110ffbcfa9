"""A place for the guard before all other work of the computer, where that is allowed.

Responsible for asking the kernel and saying what it refused; not for needing any of it.
"""

import ctypes
import os
from contextlib import suppress
from pathlib import Path

# mlockall(2): what is there now. With MCL_FUTURE a later allocation over the limit would fail.
_MCL_CURRENT = 1
_FIFO_PRIORITY = 10  # low among real-time ones, above all others; own engineering value
_NEVER_KILLED = "-1000"  # proc(5), oom_score_adj


def take_precedence() -> tuple[str, ...]:
    """Lock memory, take a real-time class, step aside from the killer of memory hogs.

    Returns what was not allowed, in words.
    """
    wishes = {
        "its memory may be swapped out": _lock_memory,
        "it has no real-time class": _real_time,
        "it may be killed when memory runs out": _never_killed,
    }
    return tuple(what for what, wish in wishes.items() if not wish())


def _lock_memory() -> bool:
    return bool(ctypes.CDLL(None).mlockall(_MCL_CURRENT) == 0)


def _real_time() -> bool:
    with suppress(OSError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(_FIFO_PRIORITY))
        return True
    return False


def _never_killed() -> bool:
    with suppress(OSError):
        Path("/proc/self/oom_score_adj").write_text(_NEVER_KILLED, encoding="ascii")
        return True
    return False
