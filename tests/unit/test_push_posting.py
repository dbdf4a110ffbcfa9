"""One message by HTTP to a real server, in both protocols, and what a bad one can do."""

import http.client
import socket
import ssl
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.clock import wall_time
from controller.core.interlock_rows import Priority
from controller.push import posting
from controller.push.parcel import TAKEN, Answer, Outcome
from controller.push.posting import Poster
from controller.push.settings import Protocol, PushSettings
from controller.service.certificates import issue
from tests.helpers.brokers import Scripted, free_port
from tests.helpers.messages import waiting
from tests.helpers.push_service import PushService

ISSUED = issue(("localhost",), "kitchen", wall_time())

DROPS = 300
TOKEN = "tk_x"  # noqa: S105 - of these tests


@pytest.fixture
def service() -> Iterator[PushService]:
    with PushService() as made:
        yield made


def poster(
    url: str,
    protocol: Protocol = Protocol.NTFY,
    *,
    token: str | None = None,
    ca: str | None = None,
) -> Poster:
    tls = ssl.create_default_context(cadata=ca)
    return Poster(PushSettings(protocol=protocol, url=url), token=token, tls=tls)


def sent(url: str) -> Answer:
    return poster(url).send(waiting(), "Close it.")


def test_a_topic_gets_the_sentence_with_title_priority_and_id(service: PushService) -> None:
    one = waiting("Schließ den Deckel.")
    assert poster(service.url, token=TOKEN).send(one, one.message.text) is TAKEN
    (post,) = service.posts
    assert (post.path, post.body) == ("/kitchen", "Schließ den Deckel.")
    assert post.headers["Title"] == "Alarm - kitchen"
    assert post.headers["Priority"] == "5"
    assert post.headers["X-Sequence-ID"] == "0a1b2c3d-7"
    assert post.headers["Authorization"] == f"Bearer {TOKEN}"
    assert post.headers["Content-Type"] == "text/plain; charset=utf-8"


def test_an_endpoint_gets_the_bare_message_with_the_headers_of_rfc_8030(
    service: PushService,
) -> None:
    one = waiting(priority=Priority.LOW)
    assert poster(f"{service.url}/up?up=1", Protocol.UNIFIEDPUSH).send(one, "Hello.") is TAKEN
    (post,) = service.posts
    assert (post.path, post.body) == ("/kitchen/up?up=1", "Alarm - kitchen: Hello.")
    assert post.headers["TTL"].isdecimal()
    assert post.headers["Urgency"] == "normal"
    assert post.headers["Topic"] == one.id
    assert len(one.id) <= 32  # RFC 8030, section 5.4: at most 32 signs of base64url
    assert "Authorization" not in post.headers


OUTCOMES = {
    Outcome.TAKEN: (200, 201, 202),
    Outcome.WRONG: (301, 307, 401, 403, 404, 410),
    Outcome.NEVER: (400, 413, 422),
    Outcome.LATER: (408, 429, 500, 503),
}


def test_every_answer_leads_to_one_outcome(service: PushService) -> None:
    for outcome, statuses in OUTCOMES.items():
        for status in statuses:
            service.statuses = [(status, {})]
            answer = sent(service.url)
            assert answer.outcome is outcome, status
            assert str(status) in answer.why or outcome is Outcome.TAKEN


def test_a_redirection_is_not_followed_so_a_token_goes_nowhere_else(service: PushService) -> None:
    with PushService() as other:
        service.statuses = [(307, {"Location": other.url})]
        assert poster(service.url, token=TOKEN).send(waiting(), "a").outcome is Outcome.WRONG
        assert other.posts == []


@pytest.mark.parametrize(
    ("asked", "wait_s"), [("7", 7.0), ("999999", posting.MOST_WAIT_S), ("soon", 0.0), ("-1", 0.0)]
)
def test_a_busy_service_says_how_long_to_wait(
    service: PushService, asked: str, wait_s: float
) -> None:
    service.statuses = [(429, {"Retry-After": asked})]
    assert sent(service.url).wait_s == wait_s


def test_nobody_there_is_for_later() -> None:
    answer = sent(f"http://localhost:{free_port()}/a")
    assert answer == Answer(outcome=Outcome.LATER, why="no connection: Connection refused")


def test_a_name_that_nobody_has_is_for_later() -> None:
    assert sent("https://push.invalid/a").outcome is Outcome.LATER  # RFC 2606: never exists


def test_a_service_that_hangs_up_or_talks_nonsense_is_for_later() -> None:
    for said in (b"", b"hello\r\n\r\n", b"HTTP/1.1 abc\r\n\r\n", b"\0" * 70_000):

        def answer(connection: socket.socket, said: bytes = said) -> None:
            connection.sendall(said)
            connection.shutdown(socket.SHUT_WR)

        server = Scripted(answer)
        assert sent(f"http://127.0.0.1:{server.port}/a").outcome is Outcome.LATER
        server.close()


def test_a_service_that_never_ends_its_answer_is_hung_up_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Sign by sign it would keep within each time-out for ever."""
    monkeypatch.setattr(posting, "WHOLE_S", 0.2)
    dripped: list[int] = []

    def drip(connection: socket.socket) -> None:
        connection.sendall(b"HTTP/1.1 200 OK\r\nX-Long: ")
        pause = threading.Event()
        for count in range(DROPS):
            pause.wait(0.02)
            dripped.append(count)
            connection.sendall(b"a")

    server = Scripted(drip)
    answered = sent(f"http://127.0.0.1:{server.port}/a")
    server.close()
    assert answered == Answer(outcome=Outcome.LATER, why="it took too long to answer")
    assert len(dripped) < DROPS


@pytest.mark.parametrize("error", [ConnectionResetError(), http.client.IncompleteRead(b"")])
def test_what_breaks_because_it_was_hung_up_on_took_too_long(error: Exception) -> None:
    """However the other side takes it: what that makes of our connection is no reason."""

    def within(seconds: float) -> None:
        with posting._within(http.client.HTTPConnection("localhost"), seconds) as hung_up:  # noqa: SLF001
            hung_up.wait(1.0)
            raise error

    with pytest.raises(TimeoutError):
        within(0.01)
    with pytest.raises(type(error)):
        within(60.0)


def test_a_service_that_speaks_no_tls_is_told_in_words(service: PushService) -> None:
    answered = sent(service.url.replace("http:", "https:"))
    assert answered.outcome is Outcome.LATER
    assert answered.why in {
        "no encrypted connection: wrong version number",
        "no encrypted connection: record layer failure",  # the same since OpenSSL 3.2
    }


def server_context(folder: Path) -> ssl.SSLContext:
    certificate, key = folder / "crt", folder / "key"
    certificate.write_bytes(ISSUED.server.certificate)
    key.write_bytes(ISSUED.server.key)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)
    return context


def test_only_a_certificate_that_is_trusted_for_that_name_gets_anything(tmp_path: Path) -> None:
    ours = ISSUED.authority.decode()
    other = issue(("localhost",), "kitchen", wall_time()).authority.decode()
    with PushService(tls=server_context(tmp_path)) as service:
        assert poster(service.url, ca=ours).send(waiting(), "a") is TAKEN
        assert len(service.posts) == 1
        for ca, url in (
            (None, service.url),
            (other, service.url),
            (ours, service.url.replace("localhost", "127.0.0.1")),
        ):
            answer = poster(url, ca=ca).send(waiting(), "a")
            assert answer.outcome is Outcome.WRONG
            assert answer.why.startswith("its certificate is not trusted (")
        assert len(service.posts) == 1
