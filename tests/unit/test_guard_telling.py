"""What a run's end of the guard's socket says of trips: each by itself, until the guard has it."""

import socket
from contextlib import ExitStack

import pytest

from controller.guard.client import GuardedHeater
from controller.guard.decision import Cause, Lease
from controller.guard.messages import MOST_BYTES, Status, pack, unpack

TRIPS = ["tick-late", "relay-stuck-on"]


class Line:
    """A heater, and the guard's end of its socket in the test's own hands."""

    def __init__(self, stack: ExitStack, monkeypatch: pytest.MonkeyPatch) -> None:
        """Greeted."""
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self.guard = stack.enter_context(theirs)
        monkeypatch.setattr("controller.guard.client._connected", lambda _places: ours)
        self.say(Status(latched=Cause.NONE, heat=False, bath_mc=None, number=1))
        self.heater = GuardedHeater(("",))
        stack.callback(self.heater.close)
        self.guard.setblocking(False)
        self.heard()

    def say(self, status: Status) -> None:
        """Be the guard."""
        self.guard.send(pack(status))

    def heard(self) -> list[Lease]:
        """What came since."""
        leases: list[Lease] = []
        while True:
            try:
                message = unpack(self.guard.recv(MOST_BYTES))
            except BlockingIOError:
                return leases
            assert isinstance(message, Lease)
            leases.append(message)


def test_each_trip_is_told_by_itself_until_the_guard_has_said_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with ExitStack() as stack:
        line = Line(stack, monkeypatch)
        for now_s in (1.0, 2.0):  # a guard that is silent is told again
            line.heater.latch(TRIPS, now_s)
            told = line.heard()
            assert [lease.tripped for lease in told] == TRIPS
            assert not any(lease.heat or lease.farewell for lease in told)
        line.say(
            Status(
                latched=Cause.LEASE_LAPSED, heat=False, bath_mc=None, number=3, also=("tick-late",)
            )
        )
        line.heater.read(3.0)
        line.heater.latch(TRIPS, 3.0)
        assert [lease.tripped for lease in line.heard()] == ["relay-stuck-on"]
        line.heater.latch([], 4.0)
        assert line.heard() == []
