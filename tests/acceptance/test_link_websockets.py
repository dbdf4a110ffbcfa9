"""The link over websockets, in plain and encrypted, against the embedded broker and a mosquitto.

Debian's mosquitto is built without websockets; where there is one that has them, it is tested, too.
"""

import gc
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from controller.clock import wall_time
from controller.link import link as module
from controller.link.link import Link
from controller.link.session import BROKEN
from controller.link.settings import LinkSettings, Tls, Transport
from controller.ports import Verb
from controller.service.certificates import issue
from tests.helpers.brokers import Mosquitto, Websockets
from tests.helpers.homie import faults_in_device
from tests.helpers.logs import listening_log
from tests.helpers.moments import SET_TEST, moment, profile, state
from tests.helpers.watcher import Watcher

BASE = "homie/5/bainward"


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(module, "LONGEST_PAUSE_S", 0.1)


@pytest.fixture
def authority(tmp_path: Path) -> Path:
    """Of the broker's certificate."""
    issued = issue(("localhost",), "bainward", wall_time())
    (tmp_path / "server.crt").write_bytes(issued.server.certificate)
    (tmp_path / "server.key").write_bytes(issued.server.key)
    (tmp_path / "ca.crt").write_bytes(issued.authority)
    return tmp_path / "ca.crt"


@pytest.fixture
def broker(tmp_path: Path, authority: Path) -> Iterator[Websockets]:
    """Running."""
    assert authority.exists()
    made = Websockets(tmp_path, tmp_path / "server.crt", tmp_path / "server.key")
    made.start()
    yield made
    made.kill()


def settings(port: int, ca_file: Path | None = None) -> LinkSettings:
    tls = None if ca_file is None else Tls(ca_file=ca_file)
    return LinkSettings(host="localhost", port=port, transport=Transport.WEBSOCKETS, tls=tls)


def make(chosen: LinkSettings) -> Link:
    link = Link(chosen, profile(), run_id="a", log=listening_log()[0])
    link.tell(moment(state(ask=SET_TEST)))
    return link


def shows_all_and_takes_a_stop(chosen: LinkSettings, port: int) -> None:
    """A client over TCP sees the whole tree, and its stop arrives; then the link leaves."""
    with Watcher(port) as watcher:
        link = make(chosen)
        link.start()
        watcher.until_topic(f"{BASE}/$state", "ready")
        assert faults_in_device(watcher.topics, "bainward") == []
        watcher.send(f"{BASE}/control/command/set", "stop")
        watcher.until_echo(f"{BASE}/control/command", "stop")
        assert [request.verb for request in link.take(0.0, None)] == [Verb.STOP]
        link.close()
        watcher.until_topic(f"{BASE}/$state", "disconnected")


def trouble(chosen: LinkSettings) -> str:
    """Why a link does not come up, after one try in this thread."""
    link = make(chosen)
    with pytest.raises(BROKEN) as caught:
        link._serve()  # noqa: SLF001 - in this thread, so that it needs no waiting
    assert not link.connected
    reason = repr(caught.value)
    del caught
    gc.collect()  # paho leaves the socket of a failed handshake to the garbage collector
    return reason


leaves_socket = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


def test_the_whole_tree_and_a_stop_go_over_websockets(broker: Websockets) -> None:
    shows_all_and_takes_a_stop(settings(broker.plain_port), broker.port)


def test_the_whole_tree_and_a_stop_go_over_encrypted_websockets(
    broker: Websockets, authority: Path
) -> None:
    shows_all_and_takes_a_stop(settings(broker.tls_port, authority), broker.port)


def test_the_link_comes_back_over_websockets(broker: Websockets) -> None:
    link = make(settings(broker.plain_port))
    link.start()
    with Watcher(broker.port) as watcher:
        watcher.until_topic(f"{BASE}/$state", "ready")
    broker.kill()
    broker.start()
    with Watcher(broker.port) as watcher:
        watcher.until_topic(f"{BASE}/$state", "ready")
    link.close()


@leaves_socket
def test_a_certificate_that_another_authority_signed_is_refused_over_websockets_too(
    broker: Websockets, tmp_path: Path
) -> None:
    other = tmp_path / "other.crt"
    other.write_bytes(issue(("localhost",), "bainward", wall_time()).authority)
    assert "certificate verify failed" in trouble(settings(broker.tls_port, other))


@leaves_socket
@pytest.mark.mosquitto
def test_a_broker_that_speaks_no_websockets_is_told_and_tried_again(mosquitto: Mosquitto) -> None:
    assert trouble(settings(mosquitto.port))


@pytest.mark.mosquitto
def test_a_mosquitto_that_has_websockets_shows_all_of_it(executable: str, tmp_path: Path) -> None:
    if not Mosquitto.has_websockets(executable):
        pytest.skip("NOT TESTED AGAINST MOSQUITTO'S WEBSOCKETS: this one is built without them")
    broker = Mosquitto(executable, tmp_path, websockets=True)
    broker.start()
    shows_all_and_takes_a_stop(settings(broker.websockets_port), broker.port)
    shows_all_and_takes_a_stop(
        replace(settings(broker.websockets_port), path="/somewhere/else"), broker.port
    )
    broker.kill()
