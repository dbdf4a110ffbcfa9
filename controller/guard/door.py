"""The guard's socket: who may come in, who of them is the controller, what they say.

Responsible for connections and datagrams; not for what a lease may do. Nothing here ever waits
longer than the pause between two cycles.
"""

import os
import selectors
import socket
import struct
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.errors import AccessError, BusyError
from controller.guard.decision import Lease
from controller.guard.messages import MOST_BYTES, Ask, Message, Rearm, Status, pack, unpack
from controller.guard.voice import Voice

PAUSE_S = 0.02  # of one cycle when nobody speaks; own engineering value, not published
MOST_GUESTS = 8  # beside the controller; the one that came first goes when more come
MOST_HEARD = 64  # datagrams of one connection in one cycle, so that a flood can't hold up a cycle
_SOCKET_MODE = 0o660
_FOLDER_MODE = 0o750
_CREDENTIALS = struct.Struct("3i")  # pid, uid, gid: unix(7), SO_PEERCRED
_SO_PEERGROUPS = 59  # the kernel's include/uapi/asm-generic/socket.h; Python has no name for it
_MOST_GROUPS = 64
_GROUP = struct.Struct("I")


@dataclass(frozen=True, slots=True)
class Caller:
    """Who is at the other end, by the kernel."""

    uid: int
    groups: frozenset[int]


@dataclass(slots=True)
class Heard:
    """What came in during one cycle, in its order."""

    leases: list[Lease] = field(default_factory=list)
    hung_up: bool = False  # after those leases
    rearm: Rearm | None = None
    waiting: list[socket.socket] = field(default_factory=list)  # who wants a status in answer
    more: bool = False  # something may have been left for the next cycle


def may_enter(caller: Caller, *, uid: int, gid: int) -> bool:
    """Whether they may speak to a guard of that user and group."""
    return caller.uid in (0, uid) or gid in caller.groups


def caller_of(connection: socket.socket) -> Caller:
    """Who is at the other end of a connection."""
    raw = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _CREDENTIALS.size)
    _, uid, gid = _CREDENTIALS.unpack(raw)
    groups = b""
    with suppress(OSError):  # more groups than fit, or an old kernel: the first one must do
        groups = connection.getsockopt(
            socket.SOL_SOCKET, _SO_PEERGROUPS, _MOST_GROUPS * _GROUP.size
        )
    others = (group for (group,) in _GROUP.iter_unpack(groups))
    return Caller(uid, frozenset((gid, *others)))


class Door:
    """The listening socket and everybody who came in; usable as a context manager."""

    def __init__(self, places: tuple[str, ...], voice: Voice) -> None:
        """Listen at the first place that can be used; `voice` tells of comings and goings.

        Raises:
            AccessError: none can.
            BusyError: another guard listens there.
        """
        self._listener, self.place = _listen(places)
        self._say = voice.say
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._controller: socket.socket | None = None
        self._guests: list[socket.socket] = []

    def __enter__(self) -> Self:
        """It listens already."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Shut the door on everybody."""
        with suppress(OSError):
            Path(self.place).unlink()
        for connection in (self._controller, *self._guests):
            if connection is not None:
                connection.close()
        self._selector.close()
        self._listener.close()

    def listen(self) -> Heard:
        """Wait for the pause of a cycle or less, then take what there is."""
        self._selector.select(PAUSE_S)
        heard = Heard()
        heard.more = self._admit()
        if self._controller is not None:
            self._hear(self._controller, heard)
        if heard.hung_up:
            heard.more = True  # guests wait, so that no lease of theirs comes before the hang-up
            return heard
        for guest in tuple(self._guests):
            self._hear(guest, heard)
        return heard

    def tell(self, status: Status, waiting: list[socket.socket]) -> None:
        """Send it to the controller and to those who wait; whoever can't take it misses it."""
        data = pack(status)
        connections = (self._controller, *waiting)
        for connection in connections:
            if connection is not None:
                with suppress(OSError):
                    connection.send(data)

    def _admit(self) -> bool:
        """Let in the next who waits; whether there was one, and so may be others."""
        try:
            connection, _ = self._listener.accept()
        except OSError:
            return False  # nobody, or gone again
        caller = caller_of(connection)
        if not may_enter(caller, uid=os.geteuid(), gid=os.getegid()):
            self._say("user {} was refused: it shares no user or group with the guard", caller.uid)
            connection.close()
            return True
        connection.setblocking(False)
        self._selector.register(connection, selectors.EVENT_READ)
        self._guests.append(connection)
        if len(self._guests) > MOST_GUESTS:
            self._leave(self._guests[0])
        return True

    def _hear(self, connection: socket.socket, heard: Heard) -> None:
        """Take what this connection said; stop when it has been let go."""
        for _ in range(MOST_HEARD):
            try:
                data = connection.recv(MOST_BYTES)
            except BlockingIOError:
                return
            except ConnectionResetError:
                # Who left without reading our answers may have said a last word: the kernel tells
                # of the reset once, and before what is still to be read.
                continue
            except OSError:
                data = b""
            if not data:
                self._end(connection, heard)
                return
            message = unpack(data)
            if not self._take(connection, message, heard):
                return
        heard.more = True

    def _take(self, connection: socket.socket, message: Message | None, heard: Heard) -> bool:
        """Sort one message in; False when the connection was let go for it."""
        match message:
            case Lease():
                return self._lease(connection, message, heard)
            case Rearm():
                heard.rearm = message
                heard.waiting.append(connection)
            case Ask():
                heard.waiting.append(connection)
            case _:
                self._say("a datagram that is no message was passed over")
        return True

    def _lease(self, connection: socket.socket, lease: Lease, heard: Heard) -> bool:
        if self._controller is None:
            self._guests.remove(connection)
            self._controller = connection
            self._say("a controller came")
        elif connection is not self._controller:
            self._say("a second controller was refused while the first is connected")
            self._leave(connection)
            return False
        heard.leases.append(lease)
        return True

    def _end(self, connection: socket.socket, heard: Heard) -> None:
        """The other end is gone."""
        if connection is self._controller:
            heard.hung_up = True
            self._controller = None
            self._say("the controller hung up")
        else:
            self._guests.remove(connection)
        self._selector.unregister(connection)
        connection.close()

    def _leave(self, guest: socket.socket) -> None:
        self._guests.remove(guest)
        self._selector.unregister(guest)
        guest.close()


def _listen(places: tuple[str, ...]) -> tuple[socket.socket, str]:
    """A socket at the first place that can be used, and which that is."""
    why = ""
    for place in places:
        try:
            return _bound(Path(place)), place
        except OSError as error:
            why = why or f"{place}: {error.strerror or error}"
    raise AccessError(
        f"The guard can't listen ({why}): "
        "make the folder writable, or name another socket in [guard]."
    )


def _bound(path: Path) -> socket.socket:
    path.parent.mkdir(mode=_FOLDER_MODE, parents=True, exist_ok=True)
    _clear(path)
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET | socket.SOCK_CLOEXEC)
    before = os.umask(~_SOCKET_MODE & 0o777)  # never open to others, not for a moment
    try:
        listener.bind(str(path))
        listener.listen(MOST_GUESTS)
    except OSError:
        listener.close()
        raise
    finally:
        os.umask(before)
    listener.setblocking(False)
    return listener


def _clear(path: Path) -> None:
    """Remove the socket of a guard that is no more.

    Raises:
        BusyError: a guard still answers there.
    """
    with socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET | socket.SOCK_CLOEXEC) as trial:
        trial.setblocking(False)
        try:
            trial.connect(str(path))
        except FileNotFoundError:
            return
        except ConnectionRefusedError:
            if path.is_socket():  # any other file is somebody's own, and stays
                path.unlink()
            return
    raise BusyError(
        f"Another guard already listens at {path}: stop that one first, "
        "or name another socket in [guard]."
    )
