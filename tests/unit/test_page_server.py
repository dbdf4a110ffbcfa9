"""Visitors who mean no good, at the real web server: they get nowhere, and others are served."""

import asyncio
import http.client
import json
import os
import signal
import socket
import ssl
import threading
from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path

import pytest
from starlette.types import Receive, Scope, Send

from controller.clock import process_s
from controller.commands.main import main
from controller.errors import BusyError, Exit
from controller.link.settings import LinkSettings, Remote
from controller.page import server
from controller.page.app import Shown, application
from controller.page.errands import Errands
from controller.page.server import (
    LONGEST_HEAD_BYTES,
    MOST_FROM_ONE,
    Place,
    listening,
    prepared,
    serve,
)
from controller.view.board import Standing, View
from controller.view.facts import Facts
from tests.helpers.brokers import free_port

WAIT_S = 60.0  # never reached unless something is wrong
VIEW = View(facts=Facts(), standing=Standing.NO_BROKER, age_s=None, samples=())


def visited(visit: Callable[[int], None], **tls: Path) -> None:
    """Serve the page in this thread, as the command does, while another thread visits it."""
    sock = listening(Place(host="127.0.0.1", port=0))
    port: int = sock.getsockname()[1]
    failed: list[BaseException] = []

    def visiting() -> None:
        try:
            visit(port)
        except BaseException as error:  # noqa: BLE001 - handed to the test's own thread
            failed.append(error)
        os.kill(os.getpid(), signal.SIGTERM)

    thread = threading.Thread(target=visiting)
    shown = Shown(view=lambda: VIEW, remote=Remote.OFF, is_encrypted=bool(tls))
    web = prepared(
        Place(host="127.0.0.1", port=port, **tls),
        lambda is_over: application(
            shown, Errands(LinkSettings()), names=("localhost",), is_over=is_over
        ),
    )
    thread.start()
    serve(web, sock)
    thread.join(WAIT_S)
    if failed:
        raise failed[0]


class Heard(asyncio.Transport):
    """A connection to nobody that keeps what was said."""

    said = b""
    _is_closing = False

    def write(self, data: bytes | bytearray | memoryview) -> None:
        """Keep it."""
        self.said += bytes(data)

    def close(self) -> None:
        """Hang up."""
        self._is_closing = True

    def pause_reading(self) -> None:
        """Nothing is read here."""

    def resume_reading(self) -> None:
        """Nothing is read here."""

    def abort(self) -> None:
        """Hang up at once."""
        self._is_closing = True

    def is_closing(self) -> bool:
        """Whether it hung up."""
        return self._is_closing


async def _nothing(_scope: Scope, _receive: Receive, _send: Send) -> None:
    """An application that answers nobody."""


def is_served(port: int) -> bool:
    caller = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
    caller.request("GET", "/facts")
    answer = caller.getresponse()
    facts = json.loads(answer.read())
    caller.close()
    return answer.status == 200 and facts["word"] == "No broker"


def line(port: int, stack: ExitStack) -> socket.socket:
    made = stack.enter_context(socket.create_connection(("127.0.0.1", port), timeout=WAIT_S))
    made.settimeout(WAIT_S)
    return made


def hung_up(caller: socket.socket) -> bool:
    """Whether the server ends it; what it says before doesn't count."""
    try:
        while caller.recv(65_536):
            pass
    except ConnectionError:
        return True
    except TimeoutError:
        return False
    return True


def pour(caller: socket.socket) -> None:
    """Send far more than anybody buffers."""
    for _ in range(2000):
        caller.sendall(b" " * 65_536)


def head(*lines: str) -> bytes:
    return "\r\n".join((*lines, "Host: 127.0.0.1", "", "")).encode()


def test_the_page_is_served_and_ends_when_told_to() -> None:
    def visit(port: int) -> None:
        assert is_served(port)
        with ExitStack() as stack:  # one who looks on does not hold up the end
            viewer = line(port, stack)
            viewer.sendall(head("GET /live HTTP/1.1"))
            assert b"data: {" in viewer.recv(65_536) + viewer.recv(65_536)

    visited(visit)


def test_who_never_finishes_a_request_is_hung_up_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "PATIENCE_S", 0.4)

    def visit(port: int) -> None:
        with ExitStack() as stack:
            silent, slow, second = (line(port, stack) for _ in range(3))
            slow.sendall(b"GET / HTTP/1.1\r\nHost: 127.")
            second.sendall(head("GET /facts HTTP/1.1") + b"GET /fa")
            assert hung_up(silent)
            assert hung_up(slow)
            assert hung_up(second)
        assert is_served(port)

    visited(visit)


def test_a_viewer_is_not_hung_up_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "PATIENCE_S", 0.2)

    def visit(port: int) -> None:
        with ExitStack() as stack:
            viewer = line(port, stack)
            viewer.sendall(head("GET /live HTTP/1.1"))
            heard = b""
            while heard.count(b"data: {") < 3:
                part = viewer.recv(65_536)
                assert part
                heard += part

    visited(visit)


def test_one_who_opens_many_connections_leaves_room_for_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(server, "PATIENCE_S", 600.0)  # so that only their number counts

    def visit(port: int) -> None:
        with ExitStack() as stack:
            callers = [line(port, stack) for _ in range(MOST_FROM_ONE)]
            assert len(callers) == MOST_FROM_ONE
            assert hung_up(line(port, stack))
        until_s = process_s() + WAIT_S
        while process_s() < until_s:
            try:
                assert is_served(port)
            except ConnectionError:  # those who went are still being counted out
                continue
            return
        raise AssertionError("nobody is served after they have gone")

    visited(visit)


@pytest.mark.parametrize(
    "sent",
    [
        head("GET / HTTP/1.1", f"X: {'a' * 1_000_000}"),
        b"\x16\x03\x01\x02\x00\x01" * 100,
        b"\x00" * 70_000,
        head("POST /sign-in HTTP/1.1", "Content-Length: 9", "Content-Length: 10"),
        head("POST /sign-in HTTP/1.1", "Content-Length: 9", "Transfer-Encoding: chunked"),
        head("GET http://127.0.0.1:1/ HTTP/9.9"),
        head("CONNECT elsewhere.example:25 HTTP/1.1"),
    ],
    ids=["head", "tls", "noughts", "two-lengths", "smuggled", "version", "proxy"],
)
def test_what_is_no_sound_request_is_refused(
    sent: bytes, capfd: pytest.CaptureFixture[str]
) -> None:
    def visit(port: int) -> None:
        with ExitStack() as stack:
            caller = line(port, stack)
            caller.sendall(sent)
            said = caller.recv(65_536)
            assert said == b"" or b" 4" in said.partition(b"\r\n")[0], said
        assert is_served(port)

    visited(visit)
    assert capfd.readouterr() == ("", "")  # a flood of them fills no log


def test_a_body_of_a_gigabyte_is_not_waited_for() -> None:
    def visit(port: int) -> None:
        own = f"Origin: http://127.0.0.1:{port}"
        words = ("POST /sign-in HTTP/1.1", "Content-Type: application/json", own)
        with ExitStack() as stack:
            caller = line(port, stack)
            begin = "\r\n".join((*words, f"Host: 127.0.0.1:{port}", "Content-Length: 1000000000"))
            caller.sendall(begin.encode() + b"\r\n\r\n")
            with pytest.raises(ConnectionError):  # it answers, and hangs up
                pour(caller)
        assert is_served(port)

    visited(visit)


@pytest.fixture(scope="module")
def certificates(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Those that `broker-setup` makes for a computer."""
    folder = tmp_path_factory.mktemp("tls") / "broker"
    assert main(["broker-setup", str(folder), "--host", "localhost"]) == 0
    return folder


def test_the_brokers_certificates_encrypt_the_page(certificates: Path) -> None:
    context = ssl.create_default_context(cafile=str(certificates / "phone" / "ca.crt"))

    def visit(port: int) -> None:
        caller = http.client.HTTPSConnection("localhost", port, timeout=WAIT_S, context=context)
        caller.request("GET", "/facts")
        assert json.loads(caller.getresponse().read())["word"] == "No broker"
        caller.close()

    broker = certificates / "broker"
    visited(visit, certificate=broker / "server.crt", key=broker / "server.key")


def test_what_is_no_certificate_is_said_before_anything_is_served(
    certificates: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    wrong = str(certificates / "device" / "signing.key")
    for path in (wrong, "nowhere.crt"):
        words = ("page", "--try", "--listen", "127.0.0.1:0", "--certificate", path, "--key", path)
        assert main(words) == Exit.BAD_FILE
        said = capfd.readouterr()
        assert (said.out, "can't be used for an encrypted page" in said.err) == ("", True)


def test_a_port_that_is_taken_is_said() -> None:
    with (
        socket.create_server(("127.0.0.1", 0)) as taken,
        pytest.raises(BusyError, match="--listen"),
    ):
        listening(Place(host="127.0.0.1", port=taken.getsockname()[1]))


def test_a_head_is_refused_above_its_limit_however_it_comes() -> None:
    def visit(port: int) -> None:
        for length, answer in ((LONGEST_HEAD_BYTES, b"200"), (LONGEST_HEAD_BYTES + 1, b"4")):
            for step in (length, 1000, length - 1):
                with ExitStack() as stack:
                    caller = line(port, stack)
                    begin = b"GET /facts HTTP/1.1\r\nHost: localhost\r\nX-Long: "
                    whole = begin + b"a" * (length - len(begin) - 4) + b"\r\n\r\n"
                    assert len(whole) == length
                    said = b"HTTP/1.1 400"  # or hung up on: what it said may be lost with the rest
                    with suppress(ConnectionError):
                        for at in range(0, length, step):
                            caller.sendall(whole[at : at + step])
                        said = caller.recv(100)
                    assert said.split()[1].startswith(answer), (length, step)
        assert is_served(port)

    visited(visit)


def heard(*pieces: bytes) -> tuple[bytes, bool]:
    """What a server says to these pieces, and whether it has hung up by then.

    Without sockets: a kernel may lay two pieces together.
    """

    async def visit() -> tuple[bytes, bool]:
        web = prepared(Place(host="127.0.0.1", port=0), lambda _is_over: _nothing)
        visitor = server.Patient(
            config=web.config, server_state=web.server_state, app_state={}, _loop=None
        )
        transport = Heard()
        visitor.connection_made(transport)
        for piece in pieces:
            visitor.data_received(piece)
        found = transport.said, transport.is_closing()
        visitor.connection_lost(None)
        return found

    return asyncio.run(visit())


BEGIN = b"GET /facts HTTP/1.1\r\nHost: localhost\r\n"


@pytest.mark.parametrize("last", [1, 2, 385, 1024, 1025])
def test_a_head_is_too_long_wherever_its_pieces_end(last: int) -> None:
    whole = BEGIN + b"X: " + b"a" * (LONGEST_HEAD_BYTES - len(BEGIN) - 6) + b"\r\n\r\n"
    assert len(whole) == LONGEST_HEAD_BYTES + 1
    said, _ = heard(whole[:-last], whole[-last:])
    assert said.startswith(b"HTTP/1.1 400")


@pytest.mark.parametrize(("length", "is_hung_up"), [(100, False), (LONGEST_HEAD_BYTES, True)])
def test_a_head_behind_a_request_that_waits_for_its_answer_is_no_longer_either(
    length: int, *, is_hung_up: bool
) -> None:
    second = BEGIN + b"X: " + b"a" * length + b"\r\n\r\n"
    _, hung_up = heard(BEGIN + b"\r\n" + second)
    assert hung_up is is_hung_up


def test_a_service_manager_hears_that_it_serves_lives_and_ends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "manager"))
        manager.settimeout(WAIT_S)
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "manager"))

        def listening_on() -> None:
            while "WATCHDOG=1" not in told:
                told.append(manager.recv(100).decode())
            os.kill(os.getpid(), signal.SIGTERM)

        thread = threading.Thread(target=listening_on)
        thread.start()
        nobody = f"127.0.0.1:{free_port()}"
        assert main(["page", "--listen", "127.0.0.1:0", "--broker", nobody]) == Exit.DONE
        thread.join(WAIT_S)
        while told[-1] != "STOPPING=1":
            told.append(manager.recv(100).decode())
    assert told[0] == "READY=1"
    assert set(told) == {"READY=1", "WATCHDOG=1", "STOPPING=1"}
