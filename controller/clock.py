"""Clocks, and the only module of the project that reads one.

Responsible for monotonic seconds, sleeping and wall time; not for what happens at a tick.
"""

import ctypes
import threading
import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Monotonic seconds and a way to wait for a moment of them."""

    def now_s(self) -> float:
        """Seconds on this clock; only differences mean something."""
        ...

    def other_s(self) -> float:
        """Seconds on a second clock that should go as fast as the first."""
        ...

    def wait_until(self, when_s: float) -> None:
        """Return at `when_s` or later, or early when `wake` was called."""
        ...

    def wake(self) -> None:
        """End a wait from a signal handler or another thread."""
        ...


class RealClock:
    """The machine's monotonic clock."""

    def __init__(self) -> None:
        """Start awake."""
        self._woken = threading.Event()

    def now_s(self) -> float:
        """Monotonic seconds."""
        return time.monotonic()

    def other_s(self) -> float:
        """Seconds since boot, which go on while the machine is suspended."""
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    def wait_until(self, when_s: float) -> None:
        """Sleep until `when_s`; a wake ends it early."""
        left_s = when_s - time.monotonic()
        if left_s > 0:
            self._woken.wait(left_s)
        self._woken.clear()

    def wake(self) -> None:
        """End the present wait."""
        self._woken.set()


class VirtualClock:
    """Simulated seconds: waiting moves the clock, at once or at `speed` times real time.

    Only waiting moves it, so a slow host makes a run slower and never late.
    """

    def __init__(self, speed: float | None = None) -> None:
        """Begin at 0; `speed` None means as fast as the machine can."""
        self._now_s = 0.0
        self._speed = speed
        self._woken = threading.Event()
        self._due_s = time.monotonic()

    def now_s(self) -> float:
        """Simulated seconds since the clock was made."""
        return self._now_s

    def other_s(self) -> float:
        """The same seconds: simulated time has no second source."""
        return self._now_s

    def wait_until(self, when_s: float) -> None:
        """Move to `when_s`, pacing it if a speed was given."""
        step_s = max(0.0, when_s - self._now_s)
        self._now_s += step_s
        if self._speed is None:
            return
        self._due_s = max(self._due_s + step_s / self._speed, time.monotonic())
        self._woken.wait(self._due_s - time.monotonic())
        self._woken.clear()

    def wake(self) -> None:
        """End the present pause."""
        self._woken.set()


def wall_time() -> datetime:
    """Now, in UTC."""
    return datetime.now(UTC)


def process_s() -> float:
    """Monotonic seconds of the machine, whatever clock the run is on: for pacing I/O."""
    return time.monotonic()


def boot_s() -> float:
    """Seconds since the machine's boot, suspended time included."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised
TIMEX_BYTES = 512  # struct timex is some 208 bytes long; zeros ask for nothing to be changed


def is_wall_synchronised() -> bool:
    """Whether the kernel says that the wall clock is held to a time server (adjtimex(2))."""
    state = ctypes.CDLL(None).adjtimex(ctypes.create_string_buffer(TIMEX_BYTES))
    return 0 <= int(state) < TIME_ERROR
