"""What the guard says on standard error: one line for each event, or none rather than a wait.

Responsible for never holding up the guard and never filling a disk; not for what is worth saying.
"""

import select
import sys
from collections import Counter
from collections.abc import Callable
from contextlib import suppress

MOST_LINES = 5  # of one kind within a minute; own engineering value, not published
MINUTE_MS = 60_000


def say(sentence: str) -> None:
    """Write one line if it can be written now: a log that is stuck must not hold up the guard."""
    with suppress(OSError, ValueError):
        if select.select([], [sys.stderr], [], 0)[1]:
            sys.stderr.write(f"guard: {sentence}\n")
            sys.stderr.flush()


class Voice:
    """Says a few lines of each kind within a minute, and after it how many were left out.

    Whoever may enter the socket can provoke a line with every datagram.
    """

    def __init__(self, now_ms: Callable[[], int]) -> None:
        """Begin the first minute."""
        self._now_ms = now_ms
        self._began_ms = now_ms()
        self._asked: Counter[str] = Counter()  # this minute, by kind
        self._left_out = 0

    def say(self, kind: str, *facts: object) -> None:
        """Say `kind` with `facts` in the place of its braces, unless it was said too often."""
        self.turn()
        self._asked[kind] += 1
        if self._asked[kind] > MOST_LINES:
            self._left_out += 1
        else:
            say(kind.format(*facts))

    def turn(self) -> None:
        """Begin another minute if one is over, and say what the last one left out."""
        now_ms = self._now_ms()
        if now_ms - self._began_ms < MINUTE_MS:
            return
        if self._left_out:
            say(f"{self._left_out} more lines like the last ones were left out within a minute")
        self._began_ms, self._left_out = now_ms, 0
        self._asked.clear()
