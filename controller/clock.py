"""Clocks, and the only module of the project that reads one.

Responsible for monotonic seconds, sleeping and wall time; not for what happens at a tick.
"""

import ctypes
import os
import select
import time
from contextlib import suppress
from datetime import UTC, datetime
from typing import Protocol


class PowerCut(BaseException):
    """Ends a wait in a simulated machine whose power is gone: no moment comes after it."""


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


class Bell:
    """Ends a wait from a signal handler: no lock is taken, so a handler can't wait for itself."""

    def __init__(self) -> None:
        """Silent."""
        self._handle = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)

    def __del__(self) -> None:
        """Give the descriptor back."""
        os.close(self._handle)

    def ring(self) -> None:
        """End the present wait, or the next one."""
        os.eventfd_write(self._handle, 1)

    def wait(self, seconds: float) -> None:
        """Return after `seconds`, or at once when it rang."""
        select.select((self._handle,), (), (), max(0.0, seconds))

    def hush(self) -> None:
        """Forget that it rang."""
        with suppress(BlockingIOError):
            os.eventfd_read(self._handle)


class RealClock:
    """The machine's monotonic clock."""

    def __init__(self) -> None:
        """Start awake."""
        self._bell = Bell()

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
            self._bell.wait(left_s)
        self._bell.hush()

    def wake(self) -> None:
        """End the present wait."""
        self._bell.ring()


class VirtualClock:
    """Simulated seconds: waiting moves the clock, at once or at `speed` times real time.

    Only waiting moves it, so a slow host makes a run slower and never late.
    """

    def __init__(self, speed: float | None = None) -> None:
        """Begin at 0; `speed` None means as fast as the machine can."""
        self._now_s = 0.0
        self._speed = speed
        self._bell = Bell()
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
        self._bell.wait(self._due_s - time.monotonic())
        self._bell.hush()

    def wake(self) -> None:
        """End the present pause."""
        self._bell.ring()


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
