"""What the guard says on standard error: one line for each event, or none rather than a wait.

Responsible for never holding up the guard; not for what is worth saying.
"""

import select
import sys
from contextlib import suppress


def say(sentence: str) -> None:
    """Write one line if it can be written now: a log that is stuck must not hold up the guard."""
    with suppress(OSError, ValueError):
        if select.select([], [sys.stderr], [], 0)[1]:
            sys.stderr.write(f"guard: {sentence}\n")
            sys.stderr.flush()
