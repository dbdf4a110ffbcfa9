"""One connection, against brokers that misbehave in every way that a few bytes can."""

import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from controller.clock import process_s
from controller.link import session as module
from controller.link.session import BROKEN, Heard, LinkLostError, Session
from controller.link.settings import LinkSettings
from tests.helpers.brokers import WELCOME, Scripted, free_port

Answer = Callable[[socket.socket], None]
FAR_S = 60.0  # never reached unless something is wrong


@contextmanager
def session_with(answer: Answer, **settings: str) -> Iterator[tuple[Session, Scripted]]:
    server = Scripted(answer)
    session = Session(
        LinkSettings(port=server.port, **settings),  # type: ignore[arg-type] # only text is given
        password="secret",
        will=("homie/5/x/$state", "lost"),
    )
    try:
        yield session, server
    finally:
        session.drop()
        server.close()


def welcome(connection: socket.socket) -> None:
    connection.sendall(WELCOME)


def ignore(_topic: str, _payload: bytes, _retained: bool) -> None:
    pass


def test_nobody_there_is_an_os_error() -> None:
    session = Session(LinkSettings(port=free_port()), password=None, will=("t", "lost"))
    with pytest.raises(OSError, match="refused"):
        session.open(ignore)
    session.drop()


def test_a_broker_that_takes_the_call_and_says_nothing_is_no_connection(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(module, "CONNACK_WAIT_S", 0.05)
    with (
        session_with(lambda _: None) as (session, _),
        pytest.raises(LinkLostError, match="said nothing"),
    ):
        session.open(ignore)


def test_a_refusal_is_told_in_the_brokers_words() -> None:
    def refuse(connection: socket.socket) -> None:
        connection.sendall(b"\x20\x02\x00\x05")  # CONNACK 5: not authorised

    with (
        session_with(refuse, username="cook") as (session, _),
        pytest.raises(LinkLostError, match="Not authorized"),
    ):
        session.open(ignore)


def step_until_lost(session: Session) -> None:
    until_s = process_s() + FAR_S
    while process_s() < until_s:
        session.step(0.05)


def open_and_step(session: Session, heard: Heard = ignore) -> None:
    session.open(heard)
    step_until_lost(session)


def test_a_broker_that_hangs_up_is_noticed() -> None:
    def hang_up(connection: socket.socket) -> None:
        connection.sendall(WELCOME)
        connection.shutdown(socket.SHUT_RDWR)

    with session_with(hang_up) as (session, _), pytest.raises(LinkLostError):
        open_and_step(session)


def test_after_the_loss_nothing_can_be_sent_or_asked_for() -> None:
    with session_with(welcome) as (session, _):
        session.open(ignore)
        session.drop()
        session.leave()
        with pytest.raises(BROKEN):
            session.publish("t", "x")
        with pytest.raises(BROKEN):
            session.subscribe(("t",), lambda _: None)


NONSENSE = {
    "a publish whose topic is longer than the packet": b"\x32\x04\x00\xffab",
    "a publish of no bytes": b"\x30\x00",
    "a publish with quality 3": b"\x36\x06\x00\x01a\x00\x01x",
    "a puback of one byte": b"\x40\x01\x00",
    "a suback without codes": b"\x90\x02\x00\x01",
    "a suback of one byte": b"\x90\x01\x00",
    "a pingresp with a load": b"\xd0\x01\x00",
    "a second connack of no bytes": b"\x20\x00",
    "a length that never ends": b"\x30\xff\xff\xff\xff\xff",
    "a kind that does not exist": b"\xf0\x00",
    "a connect": b"\x10\x00",
    "zeros": b"\x00" * 64,
    "text": b"HTTP/1.1 400 Bad Request\r\n\r\n",
}


@pytest.mark.parametrize("nonsense", NONSENSE.values(), ids=NONSENSE.keys())
def test_nonsense_from_a_broker_ends_the_connection_or_is_ignored(nonsense: bytes) -> None:
    """Whatever it is, it comes out as one of the errors that the supervisor catches."""

    def babble(connection: socket.socket) -> None:
        connection.sendall(WELCOME + nonsense)
        connection.shutdown(socket.SHUT_RDWR)

    with session_with(babble) as (session, _), pytest.raises(BROKEN):
        open_and_step(session)


def test_messages_come_through_with_bad_topics_as_empty_ones() -> None:
    heard: list[tuple[str, bytes, bool]] = []

    def talk(connection: socket.socket) -> None:
        # PUBLISH, quality 0: flags, length, topic with its length, payload (MQTT 3.1.1, 3.3)
        connection.sendall(WELCOME + b"\x31\x05\x00\x02ab!" + b"\x30\x05\x00\x02\xff\xfe?")
        connection.shutdown(socket.SHUT_RDWR)

    with session_with(talk) as (session, _), pytest.raises(LinkLostError):
        open_and_step(session, lambda *message: heard.append(message))
    assert heard == [("ab", b"!", True), ("", b"?", False)]


def test_a_broker_that_stops_acknowledging_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "ACK_WAIT_S", 0.05)
    with session_with(welcome) as (session, _):
        session.open(ignore)
        session.publish("t", "x")
        with pytest.raises(LinkLostError, match="stopped acknowledging"):
            step_until_lost(session)


def test_what_is_on_its_way_is_bounded() -> None:
    with session_with(welcome) as (session, _):
        session.open(ignore)
        for _ in range(module.QUEUE):
            session.publish("t", "x")
        assert session.room == 0
        with pytest.raises(LinkLostError):
            session.publish("t", "x")


def test_a_flush_ends_at_its_time_when_nothing_is_acknowledged() -> None:
    with session_with(welcome) as (session, _):
        session.open(ignore)
        session.publish("t", "x")
        assert not session.flush(process_s() + 0.02)


def test_a_flush_ends_with_the_last_acknowledgement() -> None:
    def acknowledge(connection: socket.socket) -> None:
        connection.sendall(WELCOME)
        connection.recv(4096)
        connection.sendall(b"\x40\x02\x00\x01")  # PUBACK of message 1

    with session_with(acknowledge) as (session, _):
        session.open(ignore)
        session.publish("t", "x")
        assert session.flush(process_s() + FAR_S)


def test_a_subscription_says_whether_it_was_granted() -> None:
    answers: list[bool] = []

    def refuse(connection: socket.socket) -> None:
        connection.sendall(WELCOME)
        connection.recv(4096)
        connection.sendall(b"\x90\x04\x00\x01\x01\x80")  # SUBACK: granted, refused

    with session_with(refuse) as (session, _):
        session.open(ignore)
        session.subscribe(("a", "b"), answers.append)
        assert session.flush(process_s() + FAR_S)
    assert answers == [False]


def test_a_subscription_is_answered_once_and_only_when_it_was_asked_for() -> None:
    answers: list[bool] = []
    refusal = b"\x90\x03\x00%c\x80"

    def refuse(connection: socket.socket) -> None:
        connection.sendall(WELCOME + refusal % 1)
        connection.recv(4096)
        connection.sendall(refusal % 7 + refusal % 2 + refusal % 1 + refusal % 1)
        connection.shutdown(socket.SHUT_RDWR)

    with session_with(refuse) as (session, _):
        session.open(ignore)
        session.subscribe(("a",), answers.append)
        session.publish("t", "x")  # has the id 2
        with pytest.raises(LinkLostError):
            step_until_lost(session)
    assert answers == [False]


def test_the_connect_carries_the_will_the_id_and_a_clean_session() -> None:
    with session_with(welcome, device_id="kitchen") as (session, server):
        session.open(ignore)
        sent = server.connects[0]
    # MQTT 3.1.1, section 3.1: protocol name, level 4, flags (will retain, will quality 1, will,
    # clean session), keepalive, client id, will topic, will message.
    assert sent[2:] == (
        b"\x00\x04MQTT\x04\x2e\x00\x0f\x00\x07kitchen\x00\x10homie/5/x/$state\x00\x04lost"
    )


def test_the_password_goes_with_the_user_name() -> None:
    with session_with(welcome, username="cook") as (session, server):
        session.open(ignore)
        assert server.connects[0].endswith(b"\x00\x04cook\x00\x06secret")


def test_small_messages_do_not_wait_for_one_another() -> None:
    with session_with(welcome) as (session, _):
        session.open(ignore)
        sock = session._client.socket()  # noqa: SLF001 - the option is all there is to see
        assert isinstance(sock, socket.socket)
        assert sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0


def test_a_reason_reads_as_part_of_a_sentence() -> None:
    assert module.reason_of(ConnectionRefusedError(111, "Connection refused")) == (
        "Connection refused"
    )
    assert module.reason_of(LinkLostError("The connection was lost.")) == "The connection was lost"
    assert module.reason_of(IndexError()) == "IndexError"
