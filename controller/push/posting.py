"""Hands one message to a push service by HTTP, in the ntfy or the UnifiedPush way.

Responsible for one request, checked certificates and bounded time; not for trying again (errand).
No redirection is followed: a token goes nowhere but to the address that a person wrote down.
Sources: ntfy's documentation of publishing (headers Title, Priority, Tags, X-Sequence-ID; from its
version 2.16 a repeated sequence id replaces the notification that is there); RFC 8030, sections 5.2
to 5.4 (TTL, Urgency, Topic), which UnifiedPush's servers take; RFC 6750 (bearer token).
"""

import http.client
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from urllib.parse import urlsplit

from controller.core.interlock_rows import Priority
from controller.push.message import Waiting
from controller.push.parcel import TAKEN, Answer, Outcome
from controller.push.settings import Kind, Protocol, PushSettings

# Own engineering values, not published.
STEP_S = 10.0  # for the connection, and for each pause of the other side
WHOLE_S = 30.0  # for all of it: a service may send a byte a minute
KEPT_S = 24 * 3600  # how long a service may keep a message for a phone that is away
READ_BYTES = 2048  # of what is answered; nobody needs more
MOST_WAIT_S = 600.0  # of what a service may ask us to wait

_NTFY_PRIORITY = {Priority.HIGH: "5", Priority.MEDIUM: "4", Priority.LOW: "3"}
_NTFY_TAG = {Kind.ALARM: "warning", Kind.QUESTION: "question", Kind.STATE: "information_source"}
_URGENCY = {Priority.HIGH: "high", Priority.MEDIUM: "high", Priority.LOW: "normal"}

_OK, _MOVED, _CLIENT, _SERVER = 200, 300, 400, 500
_BUSY = frozenset({408, 425, 429})
_UNFIT = frozenset({400, 411, 413, 415, 422})


class Poster:
    """One service, asked anew for each message."""

    def __init__(self, settings: PushSettings, *, token: str | None, tls: ssl.SSLContext) -> None:
        """Nothing is sent yet; `tls` says whom to trust."""
        self._settings = settings
        self._token = token
        self._tls = tls
        self._url = urlsplit(settings.url)

    def send(self, one: Waiting, text: str) -> Answer:
        """Send `text`, the message's own words or later ones; whatever a network can do is told."""
        try:
            return self._sent(self._headers(one), self._body(one, text))
        except ssl.SSLCertVerificationError as error:
            why = f"its certificate is not trusted ({error.verify_message})"
            return Answer(outcome=Outcome.WRONG, why=why)
        except (OSError, http.client.HTTPException, ValueError) as error:
            return Answer(outcome=Outcome.LATER, why=_reason(error))

    def _sent(self, headers: dict[str, str], body: bytes) -> Answer:
        connection = self._connection()
        with _within(connection, WHOLE_S) as hung_up:
            path = self._url.path or "/"
            target = f"{path}?{self._url.query}" if self._url.query else path
            connection.request("POST", target, body=body, headers=headers)
            response = connection.getresponse()
            response.read(READ_BYTES)
            if hung_up.is_set():  # half an answer is none
                raise TimeoutError
            return _answer(response.status, response.getheader("Retry-After", ""))

    def _connection(self) -> http.client.HTTPConnection:
        host, port = self._url.hostname or "", self._url.port
        if self._url.scheme == "https":
            return http.client.HTTPSConnection(host, port, timeout=STEP_S, context=self._tls)
        return http.client.HTTPConnection(host, port, timeout=STEP_S)

    def _headers(self, one: Waiting) -> dict[str, str]:
        message = one.message
        headers = {"Content-Type": "text/plain; charset=utf-8", "Connection": "close"}
        if self._token is not None:
            headers["Authorization"] = f"Bearer {self._token}"
        if self._settings.protocol is Protocol.NTFY:
            return headers | {
                "Title": message.title,
                "Priority": _NTFY_PRIORITY[message.priority],
                "Tags": _NTFY_TAG[message.kind],
                "X-Sequence-ID": one.id,
            }
        return headers | {
            "TTL": str(KEPT_S),
            "Urgency": _URGENCY[message.priority],
            "Topic": one.id,
        }

    def _body(self, one: Waiting, text: str) -> bytes:
        if self._settings.protocol is Protocol.NTFY:
            return text.encode()
        return f"{one.message.title}: {text}".encode()


@contextmanager
def _within(connection: http.client.HTTPConnection, seconds: float) -> Iterator[threading.Event]:
    """Hang up when it takes longer altogether, and say so: each byte begins a time-out anew."""
    hung_up = threading.Event()
    timer = threading.Timer(seconds, _hang_up, (connection, hung_up))
    timer.daemon = True
    timer.start()
    try:
        yield hung_up
    except (OSError, http.client.HTTPException) as error:
        if hung_up.is_set():  # by us: how the other side takes that is no reason of its own
            raise TimeoutError from error
        raise
    finally:
        timer.cancel()
        connection.close()


def _hang_up(connection: http.client.HTTPConnection, hung_up: threading.Event) -> None:
    hung_up.set()
    sock: socket.socket | None = connection.sock
    if sock is not None:
        with suppress(OSError):  # it has been closed already
            sock.shutdown(socket.SHUT_RDWR)


def _answer(status: int, retry_after: str) -> Answer:
    if _OK <= status < _MOVED:
        return TAKEN
    why = f"it answers {status} {http.client.responses.get(status, '')}".strip()
    if status in _BUSY or status >= _SERVER:
        asked = float(retry_after) if retry_after.isdecimal() else 0.0
        return Answer(outcome=Outcome.LATER, why=why, wait_s=min(asked, MOST_WAIT_S))
    if status in _UNFIT:
        return Answer(outcome=Outcome.NEVER, why=why)
    return Answer(outcome=Outcome.WRONG, why=why)


def _reason(error: Exception) -> str:
    if isinstance(error, TimeoutError):
        return "it took too long to answer"
    if isinstance(error, ssl.SSLError):
        return (
            f"no encrypted connection: {(error.reason or 'broken off').replace('_', ' ').lower()}"
        )
    said = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return f"no connection: {said}"
