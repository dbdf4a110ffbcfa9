"""What somebody else's bytes may cost: a bounded share of memory, and rests in between."""

import base64
import contextlib
import gc
import hashlib
import re
import socket
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from paho.mqtt.client import Client

from controller.link import session as session_module
from controller.link import wire
from controller.link.commands import REQUEST_MAX_BYTES
from controller.link.session import BROKEN, LinkLostError, Session
from controller.link.settings import LinkSettings, Transport
from tests.helpers.brokers import WELCOME, Scripted

HUGE = 64 << 20  # bytes; MQTT allows four times that
# PUBLISH, quality 0, to the topic "ab" (MQTT 3.1.1, section 3.3)
SMALL = b"\x30\x05\x00\x02ab!"
HALF = b"\x34\x07\x00\x02ab\x00\x07!"  # the same at quality 2, of which the release never comes
LATER = b"\x30\x07\x00\x02ab..."


def length(number: int) -> bytes:
    """The remaining length of a packet (MQTT 3.1.1, section 2.2.3)."""
    digits = bytearray()
    while True:
        number, digit = divmod(number, 128)
        digits.append(digit | (0x80 if number else 0))
        if not number:
            return bytes(digits)


@contextmanager
def talking(talk: Callable[[socket.socket], None]) -> Iterator[tuple[Session, list[bytes]]]:
    """A session with a broker that says this and hangs up, and the payloads that arrive."""

    def whole(connection: socket.socket) -> None:
        connection.sendall(WELCOME)
        talk(connection)
        connection.sendall(LATER)
        connection.shutdown(socket.SHUT_RDWR)

    heard: list[bytes] = []
    server = Scripted(whole)
    session = Session(LinkSettings(port=server.port), password=None)
    try:
        session.open(lambda _topic, payload, _retained: heard.append(payload))
        yield session, heard
    finally:
        session.drop()
        server.close()


def heard_from(said: bytes) -> list[bytes]:
    """The payloads that arrive when a broker says this and hangs up."""
    with talking(lambda connection: connection.sendall(said)) as (session, heard):
        step_until_lost(session)
    return heard


def step_until_lost(session: Session, why: str = "lost", *, most: int = 1_000_000) -> int:
    """Step until the broker hangs up or is left, and how many steps that took."""
    for steps in range(most):
        try:
            session.step(1.0)
        except LinkLostError as error:
            if why not in str(error):
                raise
            return steps
    raise AssertionError


def test_a_huge_message_costs_little_memory_and_the_next_one_is_heard() -> None:
    chunk = b"x" * (1 << 20)

    def talk(connection: socket.socket) -> None:
        connection.sendall(b"\x30" + length(HUGE + 4) + b"\x00\x02ab")
        for _ in range(HUGE // len(chunk)):
            connection.sendall(chunk)

    with talking(talk) as (session, heard):
        tracemalloc.start()
        step_until_lost(session)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    assert len(heard) == 2
    # Too long for any command, so it is refused.
    assert REQUEST_MAX_BYTES < len(heard[0]) <= wire.LONGEST + wire.AHEAD
    assert heard[1] == b"..."
    assert peak < 2_000_000


def test_a_flood_comes_through_whole_and_in_bursts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wire, "BURST_S", 0.0)
    monkeypatch.setattr(session_module, "REST_S", 0.0)
    with talking(lambda connection: connection.sendall(SMALL * 1000)) as (session, heard):
        steps = step_until_lost(session)
    assert heard == [b"!"] * 1000 + [b"..."]
    assert steps > 500


def test_after_a_burst_it_rests_where_more_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wire, "BURST_S", 0.0)
    rests: list[float] = []
    with talking(lambda connection: connection.sendall(SMALL * 100)) as (session, _):
        monkeypatch.setattr(session._rest, "wait", rests.append)  # noqa: SLF001 - nothing else tells
        step_until_lost(session)
    assert len(rests) > 50
    assert set(rests) == {session_module.REST_S}


def test_many_messages_come_with_one_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    readings: list[int] = []
    read = Client._sock_recv  # noqa: SLF001 - counts what reaches the kernel

    def counted(self: Client, bufsize: int) -> bytes:
        readings.append(bufsize)
        return read(self, bufsize)

    monkeypatch.setattr(Client, "_sock_recv", counted)
    assert len(heard_from(SMALL * 1000)) == 1001
    assert len(readings) < 100


def test_a_broker_that_keeps_the_second_halves_of_messages_is_left() -> None:
    with talking(lambda connection: connection.sendall(HALF * 5000)) as (session, heard):
        step_until_lost(session, "in halves")
    assert heard == []


@pytest.mark.parametrize(
    "said", [b"\xc0\x00", b"\x32\x07\x00\x02ab\x00\x07!"], ids=["ping", "message"]
)
def test_a_broker_that_wants_answers_and_reads_none_is_left(
    said: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(wire, "UNREAD", 100)
    monkeypatch.setattr(session_module, "REST_S", 0.0)

    def talk(connection: socket.socket) -> None:
        while True:  # until the session hangs up, which ends the server's thread with an OSError
            connection.sendall(said * 1000)

    with talking(talk) as (session, _):
        sock = session._client.socket()  # noqa: SLF001 - the kernel's own room is large
        assert isinstance(sock, socket.socket)
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 1)
        # A hundred answers wait after a few steps.
        assert step_until_lost(session, "does not read them", most=1000) < 1000


def drip(connection: socket.socket) -> None:
    """Begin an answer to a websockets handshake and never come to its end."""
    with contextlib.suppress(OSError):
        while True:
            connection.sendall(b"x")


def over_websockets(port: int) -> Session:
    settings = LinkSettings(port=port, transport=Transport.WEBSOCKETS)
    return Session(settings, password=None)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_handshake_that_never_ends_is_hung_up_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session_module, "HANDSHAKES_S", 0.2)
    server = Scripted(drip)
    session = over_websockets(server.port)
    with pytest.raises(BROKEN):
        session.open(lambda *_: None)
    session.drop()
    server.close()
    del session
    gc.collect()  # paho leaves the socket of a failed handshake to the garbage collector


def test_a_websocket_frame_that_never_ends_is_not_gathered() -> None:
    def talk(connection: socket.socket) -> None:
        key = re.search(rb"Sec-WebSocket-Key: (\S+)", server.connects[0])
        assert key is not None
        # RFC 6455, section 4.2.2; the text is the protocol's own
        digest = hashlib.sha1(key[1] + b"258EAFA5-E914-47DA-95CA-C5AB0DC85B11").digest()  # noqa: S324
        accept = base64.b64encode(digest).decode()
        connection.sendall(
            "HTTP/1.1 101 Switching Protocols\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Accept: {accept}\r\n\r\n".encode()
        )
        # A binary frame of 2**40 bytes (RFC 6455, section 5.2), that begins with the welcome and
        # a message without an end.
        connection.sendall(b"\x82\x7f" + (1 << 40).to_bytes(8, "big") + WELCOME)
        connection.sendall(b"\x30" + length(HUGE) + b"\x00\x02ab")
        with contextlib.suppress(OSError):
            for _ in range(HUGE // (1 << 16)):
                connection.sendall(b"x" * (1 << 16))

    server = Scripted(talk)
    session = over_websockets(server.port)
    tracemalloc.start()
    session.open(lambda *_: None)
    step_until_lost(session)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    session.drop()
    server.close()
    assert peak < 8 * wire.FRAME
