"""Simulated seconds that several processes share, and who moves them.

Responsible for a time that stands while a run works, and until what it did has gone through all who
take part, each in its turn; not for what a process does in it (paced_process). So a slow computer
makes a test slower, and nothing late.
"""

import math
import mmap
import selectors
import socket
import struct
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from enum import StrEnum
from pathlib import Path

BEGINS_S = 1000.0
STEP_S = 2.0  # at most at once: a tick of the machine that is driven so
IDLE_S = 0.005  # between two rounds while a run works or none has begun, of real time
LOOK_S = 0.05  # how often whoever waits for somebody's turn to end looks whether all is over
END_S = 60.0  # a time-out, never waited for in full
_SECONDS = struct.Struct("d")
_MOST_BYTES = 64
_GO = b"!"


class Seat(StrEnum):
    """Who takes part."""

    RUN = "run"  # waits for moments; whoever has waited once is at work between its waits
    GUARD = "guard"
    FILES = "files"  # a bench that is served as files
    MEASURES = "measures"  # the thread of a bus, or of the guard's own thermometer


# What a run says reaches the guard, by its lines the bench, by that whoever measures, and is told
# by the guard. Each has its turn once those before have ended theirs.
TURNS = (Seat.GUARD, Seat.FILES, Seat.MEASURES, Seat.GUARD)


def door_of(path: Path) -> Path:
    """Where the pacemaker of that file listens."""
    return path.with_name(f"{path.name}.door")


class Shared:
    """The seconds, in a file that each process maps."""

    def __init__(self, path: Path) -> None:
        """Map what `pacemaker` has made."""
        with path.open("r+b") as file:
            self._map = mmap.mmap(file.fileno(), _SECONDS.size)
        self._seconds = memoryview(self._map).cast("d")

    def now_s(self) -> float:
        """The seconds that all processes live in."""
        return self._seconds[0]

    def move(self, now_s: float) -> None:
        """Let it be another moment."""
        self._seconds[0] = now_s


class Place:
    """The seat of one thread of one process; it is empty again once that has ended, however."""

    def __init__(self, path: Path, seat: Seat) -> None:
        """Take it."""
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self._socket.connect(str(door_of(path)))
        self._socket.send(seat.encode())

    def fileno(self) -> int:
        """For `select`: something has come."""
        return self._socket.fileno()

    def go(self) -> bool:
        """Wait for one's turn, or for the moment that was asked for; False when all is over."""
        with suppress(ConnectionResetError):
            return self._socket.recv(_MOST_BYTES) == _GO
        return False

    def done(self) -> None:
        """One's turn has ended."""
        with suppress(OSError):
            self._socket.send(_GO)

    def ask(self, until_s: float) -> None:
        """Wait for a moment; NaN for none."""
        self._socket.send(_SECONDS.pack(until_s))

    def close(self) -> None:
        """Leave it."""
        self._socket.close()


class Pacemaker:
    """Gives turns, and moves the seconds."""

    def __init__(self, path: Path) -> None:
        """Nobody is there yet."""
        for old in (path, door_of(path)):
            old.unlink(missing_ok=True)
        path.write_bytes(_SECONDS.pack(BEGINS_S))
        self.shared = Shared(path)
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self._listener.bind(str(door_of(path)))
        self._listener.listen()
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._seats: dict[socket.socket, Seat] = {}
        self._until_s: dict[socket.socket, float] = {}  # by runs that wait
        self._busy: set[socket.socket] = set()  # whose turn it is
        self.over = threading.Event()

    def keep(self) -> None:
        """Until it is over."""
        while not self.over.is_set():
            self._hear(0.0 if self._all_wait() else IDLE_S)
            if not self._all_wait():
                for seat in dict.fromkeys(TURNS):  # they meet, measure and end meanwhile
                    self._give(seat)
                continue
            for seat in TURNS:
                self._give(seat)
            if self._all_wait():  # and nobody was woken
                self._move()
        for one in (*self._seats, self._listener):
            one.close()

    def _all_wait(self) -> bool:
        """Whether there is a run, and every one waits for a moment."""
        runs = [one for one, seat in self._seats.items() if seat is Seat.RUN]
        return bool(runs) and all(one in self._until_s for one in runs)

    def _move(self) -> None:
        """To the first moment that is waited for, by no more than a step."""
        now_s = min(*self._until_s.values(), self.shared.now_s() + STEP_S)
        self.shared.move(now_s)
        for one in [one for one, until_s in self._until_s.items() if until_s <= now_s]:
            del self._until_s[one]
            with suppress(OSError):
                one.send(_GO)

    def _give(self, seat: Seat) -> None:
        """Let all who have that seat have their turn, and wait for its end."""
        for one in [one for one, whose in self._seats.items() if whose is seat]:
            self._busy.add(one)
            with suppress(OSError):  # it has just left, which is heard next
                one.send(_GO)
        while self._busy and not self.over.is_set():
            self._hear(LOOK_S)

    def _hear(self, longest_s: float) -> None:
        """Take what comes, waiting no longer than that."""
        for key, _ in self._selector.select(longest_s):
            if key.fileobj is self._listener:
                one, _ = self._listener.accept()
                self._selector.register(one, selectors.EVENT_READ)
                self._seats[one] = Seat(one.recv(_MOST_BYTES).decode())
            else:
                assert isinstance(key.fileobj, socket.socket)
                self._take(key.fileobj)

    def _take(self, one: socket.socket) -> None:
        """A turn that has ended, a moment that is waited for, or a seat that is empty again."""
        self._busy.discard(one)
        try:
            said = one.recv(_MOST_BYTES)
        except ConnectionResetError:
            said = b""
        if len(said) == _SECONDS.size:
            (until_s,) = _SECONDS.unpack(said)
            self._until_s.pop(one, None)
            if not math.isnan(until_s):
                self._until_s[one] = until_s
        elif not said:
            self._selector.unregister(one)
            self._until_s.pop(one, None)
            del self._seats[one]
            one.close()


@contextmanager
def pacemaker(path: Path) -> Iterator[Pacemaker]:
    """The time of some processes, moved by a thread of the test."""
    made = Pacemaker(path)
    thread = threading.Thread(target=made.keep, name="pacemaker", daemon=True)
    thread.start()
    try:
        yield made
    finally:
        made.over.set()
        thread.join(END_S)


def pass_s(path: Path, seconds: float) -> None:
    """Nobody does anything for a while."""
    place = Place(path, Seat.RUN)
    place.ask(Shared(path).now_s() + seconds)
    assert place.go()
    place.close()
