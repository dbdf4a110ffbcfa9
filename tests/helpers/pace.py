"""Simulated seconds that several processes share, and who moves them.

Responsible for a time that stands until everybody who takes part has seen it; not for what a
process does in it (paced_process). So a slow computer makes a test slower, and nothing late.
"""

import math
import mmap
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from enum import IntEnum
from pathlib import Path

BEGINS_S = 1000.0
STEP_S = 2.0  # at most at once: a tick of the machine that is driven so
LOOK_S = 0.0005  # between two looks, of real time
BYTES = 8
# The round under way when the run began to wait may have missed what the run said last. The first
# whole one after that acts on it, the second measures what came of it, and tells.
ROUNDS = 3
END_S = 20.0  # a time-out, never waited for in full


class Slot(IntEnum):
    """Numbers of the shared memory. NaN means that nobody takes part there."""

    NOW = 0
    WANTED = 1  # until when the run waits; NaN while it works
    BUS = 2  # how many rounds each of these has gone through from beginning to end
    GUARD = 3
    PROBE = 4
    FILES = 5


GATES = (Slot.BUS, Slot.GUARD, Slot.PROBE, Slot.FILES)


class Pace:
    """The shared seconds, in a file that each process maps."""

    def __init__(self, path: Path) -> None:
        """Map what `pacemaker` has made."""
        with path.open("r+b") as file:
            self._map = mmap.mmap(file.fileno(), BYTES * len(Slot))
        self._slots = memoryview(self._map).cast("d")
        self._waits: tuple[float, float] | None = None  # since when, and until when
        self._seen: dict[Slot, float] = {}  # the rounds by then

    def read(self, slot: Slot) -> float:
        """One of the numbers."""
        return self._slots[slot]

    def write(self, slot: Slot, value: float) -> None:
        """Change one."""
        self._slots[slot] = value

    def now_s(self) -> float:
        """The seconds that all processes live in."""
        return self._slots[Slot.NOW]

    def step(self) -> bool:
        """Go on, if the run waits and everybody has seen all that it did; whether it did."""
        now_s, wanted_s = self.now_s(), self.read(Slot.WANTED)
        rounds = {slot: self.read(slot) for slot in GATES}
        waits = (now_s, wanted_s) if wanted_s > now_s else None
        if waits is None or waits != self._waits:
            self._waits, self._seen = waits, rounds
            return False
        # Who takes part only since then is NaN in what was seen, and waited for the next time.
        if any(rounds[slot] < seen + ROUNDS for slot, seen in self._seen.items()):
            return False
        self.write(Slot.NOW, min(wanted_s, now_s + STEP_S))
        return True

    def gone_through(self, slot: Slot) -> None:
        """Another round of one of the gates."""
        before = self.read(slot)
        self.write(slot, 1.0 if math.isnan(before) else before + 1.0)


@contextmanager
def pacemaker(path: Path) -> Iterator[Pace]:
    """The time of some processes, moved by a thread of the test."""
    path.write_bytes(bytes(BYTES * len(Slot)))
    pace, over = Pace(path), threading.Event()
    for slot in Slot:
        pace.write(slot, BEGINS_S if slot is Slot.NOW else math.nan)

    def keep() -> None:
        while not over.is_set():
            if not pace.step():
                over.wait(LOOK_S)

    thread = threading.Thread(target=keep, name="pacemaker", daemon=True)
    thread.start()
    try:
        yield pace
    finally:
        over.set()
        thread.join(END_S)
