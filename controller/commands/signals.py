"""SIGTERM and SIGINT as a wish to stop, from before the first device is touched.

Responsible for passing a signal on; not for stopping anything (daemon).
"""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from controller.daemon import Daemon


@contextmanager
def signals_watched() -> Iterator["Watcher"]:
    """SIGTERM and SIGINT halt the daemon: heat off, stirrer off, record closed."""
    watcher = Watcher()
    before = {
        number: signal.signal(number, watcher.on_signal)
        for number in (signal.SIGTERM, signal.SIGINT)
    }
    try:
        yield watcher
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class Watcher:
    """Passes a signal on to the daemon that runs."""

    def __init__(self) -> None:
        """Nobody to tell yet."""
        self._daemon: Daemon | None = None
        self._early = False
        self._signal = ""

    def __call__(self, daemon: Daemon) -> None:
        """Take note of the daemon; a signal that came too early counts now."""
        self._daemon = daemon
        if self._early:
            daemon.halt()

    @property
    def is_early(self) -> bool:
        """Whether a signal came before anything ran."""
        return self._early

    def signal(self) -> str:
        """Name of the last signal that came; empty if none did."""
        return self._signal

    def on_signal(self, number: int, _frame: FrameType | None) -> None:
        """Handle a signal."""
        self._signal = signal.Signals(number).name
        if self._daemon is None:
            self._early = True
        else:
            self._daemon.halt()
