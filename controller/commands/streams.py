"""Standard input, output and error as they really are: closed, full, unread or without our signs.

Responsible for no stream ever ending a run; not for what is written.
"""

import io
import os
import sys
from pathlib import Path
from typing import TextIO


def settle_streams() -> None:
    """Let no stream that is closed, or that can't show a degree sign, end a run."""
    if sys.stdout is None:
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - open to the end
    if sys.stderr is None:
        sys.stderr = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - open to the end
    if sys.stdin is None:
        sys.stdin = Path(os.devnull).open(encoding="utf-8")  # noqa: SIM115 - open to the end
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def quieten(stream: TextIO) -> None:
    """Let what is still buffered go nowhere, so that leaving does not fail once more."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
