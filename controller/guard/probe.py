"""The guard's own thermometer: a kernel file, or a board's register, read in a thread of its own.

Responsible for a value that can be believed, or none, and its age; not for what follows from it.
"""

import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.guard.board import Board, thousandths
from controller.guard.settings import ProbeAt, ProbeKind

LOWEST_MC = -5_000  # no bath of ours is colder or hotter: own engineering values, not published
HIGHEST_MC = 84_900  # just under 85 °C, which a 1-wire thermometer says before it has measured
PAUSE_S = 0.2  # between two readings; a 1-wire conversion adds up to 0.75 s of its own
# A single failed reading is common on 1-wire and must not chop the heat; this long without a good
# one is none, so that heat ends within 3 s of the loss. A value counts from before its conversion,
# and three of those and two pauses lie between two good ones about a failed one. Own engineering
# value, not published.
GRACE_MS = 2_700
_MOST_SIGNS = 16


def read_mc(at: ProbeAt, board: Board | None = None) -> int | None:
    """One reading, thousandths of °C; None for every failure.

    The kernel's 1-wire driver fails with an empty file. Exactly 0 is none: an all-zero answer of
    1-wire passes its checksum, and other chips hold 0 from power-on until they have measured
    (datasheet SBOS288M, for one); no bath that may be heated is that cold.
    """
    if at.point is not None and board is not None:
        return _believable(thousandths(board, at, at.point))
    try:
        path = _place(at.path)
        if at.kind is ProbeKind.HWMON and _says_fault(path):
            return None
        with path.open("rb") as file:
            value_mc = int(file.read(_MOST_SIGNS))
    except (OSError, ValueError):
        return None
    return _believable(value_mc)


def _believable(value_mc: int | None) -> int | None:
    return value_mc if value_mc and LOWEST_MC <= value_mc <= HIGHEST_MC else None


def _place(path: str) -> Path:
    """The file. A `*` stands for a number that may be another after the next boot or plugging.

    Raises:
        OSError: none is there, or more than one.
    """
    place = Path(path)
    if "*" not in path:
        return place
    found = list(Path(place.anchor).glob(str(place.relative_to(place.anchor))))
    if len(found) != 1:
        raise FileNotFoundError(path)
    return found[0]


def _says_fault(path: Path) -> bool:
    """Whether the chip says that its sensor is open or shorted: hwmon's sysfs-interface.rst."""
    told = path.with_name(path.name.replace("_input", "_fault"))
    try:
        return told != path and told.read_bytes() != b"0\n"
    except FileNotFoundError:
        return False  # most chips say nothing of the kind


class Probe:
    """The thermometer and its thread; usable as a context manager."""

    def __init__(self, at: ProbeAt, now_ms: Callable[[], int], board: Board | None = None) -> None:
        """Nothing is read yet."""
        self._at, self._board = at, board
        self._now_ms = now_ms
        self._good: tuple[int, int] | None = None  # value and when, in one assignment
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._read_on, name="probe", daemon=True)

    def __enter__(self) -> Self:
        """Begin to read."""
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Read no more; a reading that hangs in the kernel is left to end with the process."""
        self._end.set()

    def look(self, now_ms: int) -> tuple[int | None, int]:
        """The last good value and its age in ms; None when there is none or it is too old."""
        if self._good is None:
            return None, 0
        value_mc, at_ms = self._good
        age_ms = max(0, now_ms - at_ms)
        return (value_mc if age_ms <= GRACE_MS else None), age_ms

    def read_once(self) -> None:
        """One reading; a value counts from before it was measured, never from after."""
        began_ms = self._now_ms()
        value_mc = read_mc(self._at, self._board)
        if value_mc is not None:
            self._good = (value_mc, began_ms)

    def _read_on(self) -> None:
        while not self._end.wait(PAUSE_S):
            self.read_once()
