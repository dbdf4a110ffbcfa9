"""The other end of the guard's socket: the controller's heater, and the person who re-arms.

Responsible for sending without ever waiting and for what the guard last said; not for deciding.
"""

import math
import secrets
import socket
from collections import deque
from collections.abc import Sequence
from contextlib import suppress

from controller.errors import BainwardError, BusyError, HardwareError
from controller.guard.decision import Lease
from controller.guard.messages import MOST_BYTES, Ask, Message, Rearm, Status, pack, unpack
from controller.guard.resets import Confirm
from controller.guard.words import words_of
from controller.ports import Permit

ANSWER_S = 2.0  # how long a guard may take for its first answer; own engineering value
_PEER_BITS = 63
_MC_PER_C = 1000
_MOST_UNANSWERED = 64  # leases whose time of sending is kept


class GuardedHeater:
    """A heater that a guard in another process drives, and that guard's word.

    It is both `controller.ports.Heater` and `controller.ports.Permission`.
    """

    def __init__(self, places: Sequence[str]) -> None:
        """Connect at the first of the places where a guard answers, asking for no heat.

        Raises:
            HardwareError: none answers.
            BusyError: it serves another controller.
        """
        self._peer = 1 + secrets.randbits(_PEER_BITS)  # never 0, which means nobody
        self._number = 1
        self._lost = False
        self._sent: deque[tuple[int, float]] = deque(maxlen=_MOST_UNANSWERED)
        self._said_s: float | None = None  # by the loop's clock; None: before its first tick
        self._socket = _connected(places)
        self._status = self._greeted()
        self._socket.setblocking(False)

    def drive(
        self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True, alone: int = 0
    ) -> None:
        """Send one lease. A guard that can't take it is remembered, never waited for."""
        self._send(
            now_s,
            heat=on and math.isfinite(cap_c),
            cap_mc=round(cap_c * _MC_PER_C) if math.isfinite(cap_c) else 0,
            good=good,
            alone=alone,
        )

    def read(self, now_s: float) -> Permit:
        """What the guard last said; its age counts from the lease that it answered."""
        self._receive()
        if self._said_s is None:
            self._said_s = now_s
        status = self._status
        what, action = words_of(status.latched, status.tripped)
        return Permit(
            latched=status.latched,
            age_s=math.inf if self._lost else max(0.0, now_s - self._said_s),
            bath_c=math.nan if status.bath_mc is None else status.bath_mc / _MC_PER_C,
            what=what,
            action=action,
            live=status.live,
            heat=status.heat,
        )

    def latch(self, causes: Sequence[str], now_s: float) -> None:
        """Tell it of each trip that its last word does not name, until it does.

        In leases of their own: one datagram that is lost, as when the guard reads too slowly, is
        made good in the next tick.
        """
        for cause in causes:
            if cause not in self._status.causes:
                self._send(now_s, heat=False, cap_mc=0, good=True, tripped=cause)

    def farewell(self, now_s: float, tripped: str = "") -> None:
        """Say that the run has ended, and by which trip, if by one."""
        self._send(now_s, heat=False, cap_mc=0, good=True, farewell=True, tripped=tripped)

    def close(self) -> None:
        """Hang up; in the middle of a run the guard latches."""
        self._socket.close()

    def _send(
        self,
        now_s: float,
        *,
        heat: bool,
        cap_mc: int,
        good: bool,
        alone: int = 0,
        farewell: bool = False,
        tripped: str = "",
    ) -> None:
        self._number += 1
        lease = Lease(
            peer=self._peer,
            number=self._number,
            heat=heat,
            cap_mc=cap_mc,
            good=good,
            alone=alone,
            farewell=farewell,
            tripped=tripped,
        )
        try:
            self._socket.send(pack(lease))
        except BlockingIOError:
            return  # the guard doesn't read: its silence is seen by the age of its word
        except OSError:
            self._lost = True
            return
        self._sent.append((self._number, now_s))

    def _receive(self) -> None:
        """Take the newest of what has come."""
        while not self._lost:
            try:
                data = self._socket.recv(MOST_BYTES)
            except BlockingIOError:
                return
            except OSError:
                data = b""
            if not data:
                self._lost = True
                return
            message = unpack(data)
            if isinstance(message, Status):
                self._status = message
                self._date(message.number)

    def _date(self, number: int) -> None:
        while self._sent and self._sent[0][0] <= number:
            self._said_s = self._sent.popleft()[1]

    def _greeted(self) -> Status:
        hello = Lease(peer=self._peer, number=self._number, heat=False, cap_mc=0, good=True)
        try:
            return _answer(self._socket, hello)
        except BainwardError:
            self._socket.close()
            raise


class Caller:
    """Somebody at the machine who asks what is latched, and re-arms."""

    def __init__(self, places: Sequence[str]) -> None:
        """Connect; HardwareError when no guard answers."""
        self._socket = _connected(places)

    def ask(self) -> Status:
        """What the guard says now; HardwareError when it doesn't answer."""
        return _answer(self._socket, Ask())

    def rearm(self, shown: Status, confirmed: Confirm = Confirm.LOOKED) -> Status:
        """Clear what was shown, and nothing that latched since; what the guard says then."""
        count = len(shown.causes)
        return _answer(self._socket, Rearm(seen=shown.latched, count=count, confirmed=confirmed))

    def close(self) -> None:
        """Hang up."""
        self._socket.close()


def _connected(places: Sequence[str]) -> socket.socket:
    connection = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET | socket.SOCK_CLOEXEC)
    connection.settimeout(ANSWER_S)
    for place in places:
        with suppress(OSError):
            connection.connect(place)
            return connection
    connection.close()
    raise HardwareError(
        f"No guard answers at {' or '.join(places)}: start it with "
        "`bainward guard --machine FILE` in another terminal or as a service, as a user or group "
        "that you share."
    )


def _answer(connection: socket.socket, message: Message) -> Status:
    """Send one message and wait for the guard's word on it."""
    try:
        connection.send(pack(message))
        answer = unpack(connection.recv(MOST_BYTES))
    except TimeoutError:
        raise HardwareError(
            "The guard is there but gives no answer: restart it, and look at its log."
        ) from None
    except OSError:
        answer = None
    if isinstance(answer, Status):
        return answer
    raise BusyError(
        "The guard hung up: it serves another controller, or another user's; stop that one first."
    )
