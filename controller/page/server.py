"""The web server: where it listens, and how long it puts up with a visitor.

Responsible for sockets, connections and the end; not for what is served (app).
"""

import asyncio
import signal
import socket
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import ClassVar

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

from controller.errors import AccessError, BusyError, MachineFileError
from controller.page.door import address_of

# Own engineering values, not published.
PATIENCE_S = 10.0  # for a request to be whole; half of it at least
# Connections from one home: twenty viewers who come at once, and a browser opens up to six to one
# server (HTTP/1.1; common practice, no source).
MOST_FROM_ONE = 128
MOST = 256  # connections altogether
LONGEST_HEAD_BYTES = 16_384
LEAVE_S = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the page is served."""

    host: str
    port: int
    certificate: Path | None = None
    key: Path | None = None

    @property
    def url(self) -> str:
        """What to type into a browser on this computer."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'https' if self.certificate else 'http'}://{host}:{self.port}/"


class Patient(H11Protocol):
    """Hangs up on who holds a connection without asking for anything, and on who holds too many."""

    _from: ClassVar[Counter[str]] = Counter()  # open connections, by address
    _waited = False
    _timer: asyncio.TimerHandle | None = None
    _address = ""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override] # as uvicorn has it
        """Somebody has come."""
        super().connection_made(transport)
        self._address = address_of({"client": self.client})
        self._from[self._address] += 1
        if self._from[self._address] > MOST_FROM_ONE:
            transport.abort()
        self._look_again()

    def connection_lost(self, exc: Exception | None) -> None:
        """Somebody has gone."""
        super().connection_lost(exc)
        self._from[self._address] -= 1
        if self._from[self._address] <= 0:
            del self._from[self._address]
        if self._timer is not None:
            self._timer.cancel()

    def data_received(self, data: bytes) -> None:
        """Take in no more at once than a head may still have, however it comes.

        h11 looks at its `max_incomplete_event_size` only where a head has not ended yet, so a
        longer one that comes in one piece would else be whole, and not too long.
        """
        while data and not self.transport.is_closing():
            held, _ = self.conn.trailing_data
            room = LONGEST_HEAD_BYTES - len(held)
            if room <= 0:  # more than that behind a request that waits for its answer
                self.transport.abort()
                return
            super().data_received(data[:room])
            data = data[room:]

    def _look_again(self) -> None:
        self._timer = self.loop.call_later(PATIENCE_S / 2.0, self._look)

    def _look(self) -> None:
        """Twice in a row without a request under way is too long."""
        is_idle = _is_over(self.cycle)
        if is_idle and self._waited:
            self.transport.abort()
            return
        self._waited = is_idle
        self._look_again()


def _is_over(cycle: RequestResponseCycle | None) -> bool:
    """Whether no request is under way; before the first there is no cycle."""
    return cycle is None or cycle.response_complete


def listening(place: Place) -> socket.socket:
    """The socket that the page listens at.

    Raises:
        BusyError: the port is taken.
        AccessError: it can't be had.
    """
    family = socket.AF_INET6 if ":" in place.host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((place.host, place.port))
        made.listen(MOST)
    except OSError as error:
        made.close()
        kind = AccessError if isinstance(error, PermissionError) else BusyError
        raise kind(
            f"The page can't listen at {place.host}:{place.port} ({error.strerror}); end the "
            "program that holds the port, or name another place with --listen HOST:PORT."
        ) from error
    return made


def prepared(place: Place, make: Callable[[Callable[[], bool]], ASGIApp]) -> uvicorn.Server:
    """A server that needs only a socket. `make` gets what says whether the end has come.

    Raises:
        MachineFileError: the certificate or its key can't be used.
    """
    config = uvicorn.Config(
        make(lambda: server.should_exit),
        http=Patient,
        ws="none",
        loop="asyncio",
        lifespan="on",
        log_config=None,
        log_level="error",  # what visitors get wrong must not fill a log
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=MOST,
        timeout_keep_alive=int(PATIENCE_S),
        timeout_graceful_shutdown=LEAVE_S,
        h11_max_incomplete_event_size=LONGEST_HEAD_BYTES - 1,
        ssl_certfile=place.certificate,
        ssl_keyfile=place.key,
    )
    server = uvicorn.Server(config)
    try:
        config.load()
    except (OSError, ValueError) as error:  # ssl.SSLError is an OSError
        raise MachineFileError(
            f"{place.certificate} can't be used for an encrypted page ({error}); name PEM files, "
            "--certificate with the server's certificate and --key with its key."
        ) from error
    return server


def serve(server: uvicorn.Server, sock: socket.socket) -> None:
    """Serve until a signal ends it."""
    with _ends_quietly():
        server.run(sockets=[sock])


@contextmanager
def _ends_quietly() -> Iterator[None]:
    """A server that was asked to end raises the signal once more; it has done its work by then."""

    def done(_number: int, _frame: FrameType | None) -> None:
        """Nothing is left to do."""

    numbers = (signal.SIGTERM, signal.SIGINT)
    before = {number: signal.signal(number, done) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
