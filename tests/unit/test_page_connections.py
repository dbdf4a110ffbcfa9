"""How many connections one home may hold, by however many of its addresses they come."""

import asyncio
from collections.abc import Iterable

import pytest
import uvicorn
from starlette.types import Receive, Scope, Send
from uvicorn.server import ServerState

from controller.page import server
from controller.page.server import Patient


class Line(asyncio.Transport):
    """A connection from an address, that nobody reads."""

    def __init__(self, address: str) -> None:
        """It is open."""
        super().__init__({"peername": (address, 50000), "sockname": ("::", 8000)})
        self.is_aborted = False

    def abort(self) -> None:
        """Hang up."""
        self.is_aborted = True

    def close(self) -> None:
        """It is over."""

    def is_closing(self) -> bool:
        """Whether it is hung up."""
        return self.is_aborted


async def nothing(_scope: Scope, _receive: Receive, _send: Send) -> None:
    """No application: nobody asks for anything."""


async def turned_away(addresses: Iterable[str]) -> int:
    """How many of these, who all come and stay, are hung up on; all leave in the end."""
    config = uvicorn.Config(nothing, http=Patient, ws="none", lifespan="off", log_config=None)
    config.load()
    came = []
    for address in addresses:
        visitor, line = Patient(config, ServerState(), {}), Line(address)
        visitor.connection_made(line)
        came.append((visitor, line))
    for visitor, _ in came:
        visitor.connection_lost(None)
    return sum(line.is_aborted for _, line in came)


@pytest.mark.parametrize(
    ("form", "away"),
    [
        ("192.168.1.7", 3),
        ("fd00:1:2:3::{0:x}", 3),  # RFC 4291: the last 64 bits are one network's own to choose
        ("fd00:1:2:{0:x}::1", 0),
        ("192.168.1.{0}", 0),
    ],
)
def test_a_home_that_holds_too_many_connections_is_hung_up_on(
    monkeypatch: pytest.MonkeyPatch, form: str, away: int
) -> None:
    monkeypatch.setattr(server, "MOST_FROM_ONE", 5)
    addresses = [form.format(number) for number in range(1, 9)]
    assert asyncio.run(turned_away(addresses)) == away
    assert not Patient._from  # noqa: SLF001 - nobody is counted who has left
