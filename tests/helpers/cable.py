"""A cable between a link and a broker that can be cut, squeezed and mended.

Responsible for carrying bytes, or not; not for any expectation. A silent cable swallows everything
and closes nothing, as a network does whose far end has lost its power.
"""

import selectors
import socket
import threading
from enum import Enum
from types import TracebackType
from typing import Self

LOOPBACK = "127.0.0.1"
CHUNK = 65536
PAUSE_S = 0.005
TRICKLE = 200  # bytes in each pause: 40 kB/s


class How(Enum):
    """How the cable carries."""

    WHOLE = 1
    SILENT = 2  # for the connections that are there; new ones find it mended
    TRICKLES = 3


class Cable:
    """A port that leads to another one. Usable as a context manager."""

    def __init__(self, far_port: int) -> None:
        """Listen at once."""
        self._far_port = far_port
        self._server = socket.create_server((LOOPBACK, 0))
        self.port: int = self._server.getsockname()[1]
        self.connections = 0
        self._pairs: dict[socket.socket, socket.socket] = {}
        self._deaf: set[socket.socket] = set()
        self._trickles = False
        self._ending = False
        self._lock = threading.Lock()
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._server, selectors.EVENT_READ)
        self._thread = threading.Thread(target=self._carry, daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        """It carries already."""
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: object, _trace: TracebackType | None
    ) -> None:
        """Take it away."""
        self._ending = True
        self._thread.join()
        self.drop()
        self._selector.close()
        self._server.close()

    def now(self, how: How) -> None:
        """Carry like this from now on."""
        with self._lock:
            self._trickles = how is How.TRICKLES
            if how is How.SILENT:
                self._deaf |= self._pairs.keys()

    def drop(self) -> None:
        """Hang up on both ends of every connection."""
        with self._lock:
            for end in list(self._pairs):
                self._close(end)

    def _carry(self) -> None:
        pause = threading.Event()
        while not self._ending:
            ready = self._selector.select(PAUSE_S)
            with self._lock:
                for key, _ in ready:
                    sock = key.fileobj
                    assert isinstance(sock, socket.socket)
                    if sock is self._server:
                        self._join()
                    elif sock in self._pairs:
                        self._move(sock)
            if self._trickles:
                pause.wait(PAUSE_S)

    def _join(self) -> None:
        near, _ = self._server.accept()
        self.connections += 1
        try:
            far = socket.create_connection((LOOPBACK, self._far_port), timeout=1.0)
        except OSError:
            near.close()
            return
        self._pairs |= {near: far, far: near}
        for end in (near, far):
            self._selector.register(end, selectors.EVENT_READ)

    def _move(self, end: socket.socket) -> None:
        try:
            carried = end.recv(TRICKLE if self._trickles else CHUNK)
            if not carried:
                self._close(end)
            elif end not in self._deaf:
                self._pairs[end].sendall(carried)
        except OSError:
            self._close(end)

    def _close(self, end: socket.socket) -> None:
        other = self._pairs.pop(end, None)
        if other is None:
            return
        self._pairs.pop(other, None)
        for sock in (end, other):
            self._selector.unregister(sock)
            sock.close()
