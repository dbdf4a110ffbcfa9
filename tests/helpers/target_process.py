"""The process of `link_target` and what it prints, for those who attack or measure it.

Responsible for starting, listening and ending; not for any expectation.
"""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, Self

ROOT = Path(__file__).parents[2]
FAR_S = 60.0  # never reached unless something is wrong


def percentile(values: list[float], share: float) -> float:
    """The smallest value that so large a share of them doesn't pass."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


class Target:
    """A run with a link, as long as the `with` block lasts."""

    def __init__(self, port: int, folder: Path, *more: str) -> None:
        """Start it; `more` are options of `link_target`."""
        self.seconds: list[dict[str, Any]] = []
        self._changed = threading.Condition()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.helpers.link_target", str(port), str(folder), *more],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.PIPE,
            text=True,
        )
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        """It runs already."""
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: object, _trace: TracebackType | None
    ) -> None:
        """End it."""
        self._process.kill()
        self._process.wait()
        self._thread.join()
        assert self._process.stdout is not None
        self._process.stdout.close()

    def until(
        self, what: str, happened: Callable[[list[dict[str, Any]]], bool], within_s: float = FAR_S
    ) -> None:
        """Wait until `happened` is true of the seconds told so far; `what` names it if not."""
        with self._changed:
            came = self._changed.wait_for(lambda: happened(self.seconds), within_s)
        assert came, f"never came: {what}; last told: {self.seconds[-1:]}"

    def count(self) -> int:
        """How many seconds it has told of."""
        return len(self.seconds)

    def listen_for(self, seconds: int) -> list[dict[str, Any]]:
        """The next so many of its seconds."""
        begun = self.count()
        self.until(
            f"{seconds} more seconds", lambda told: len(told) >= begun + seconds, seconds + FAR_S
        )
        return self.seconds[begun:]

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            with self._changed:
                self.seconds.append(json.loads(line))
                self._changed.notify_all()


def queued_ms(seconds: list[dict[str, Any]]) -> list[float]:
    """How much of that each tick waited for a processor, which others had."""
    return [ms for second in seconds for ms in second["queued_ms"]]


def late_ms(seconds: list[dict[str, Any]]) -> list[float]:
    """How late each tick of these seconds was."""
    return [ms for second in seconds for ms in second["late_ms"]]
