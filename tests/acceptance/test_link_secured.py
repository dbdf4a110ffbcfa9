"""The shipped broker configuration, run by a real mosquitto: who gets in, and who may do what."""

import gc
import socket
import ssl
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from controller.clock import process_s
from controller.commands import broker_setup
from controller.commands.main import main
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.link import link as module
from controller.link.link import Link
from controller.link.session import BROKEN
from controller.link.settings import LinkSettings, Tls
from controller.ports import Verb
from controller.service.broker import COOK, ONLOOKER
from tests.helpers.brokers import free_port
from tests.helpers.homie import faults_in_device
from tests.helpers.logs import listening_log
from tests.helpers.moments import moment, profile
from tests.helpers.process import end, start
from tests.helpers.secured import DEVICE, Secured
from tests.helpers.watcher import FAR_S, Watcher

pytestmark = pytest.mark.mosquitto

BASE = f"homie/5/{DEVICE}"
SET = f"{BASE}/control/command/set"
MOST_PHONES = 100  # as the shipped configuration says


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(module, "LONGEST_PAUSE_S", 0.1)


def make(settings: LinkSettings) -> tuple[Link, list[dict[str, object]]]:
    log, lines = listening_log()
    link = Link(settings, profile(), run_id="a", log=log)
    link.tell(moment())
    return link, lines  # type: ignore[return-value] # read only


@pytest.fixture
def link(secured: Secured) -> Iterator[Link]:
    made, _ = make(secured.settings)
    made.start()
    yield made
    made.close(wait_s=0.5)


@pytest.fixture
def cook(secured: Secured) -> Iterator[Watcher]:
    with Watcher(secured.port, login=secured.login(COOK)) as made:
        yield made


@pytest.fixture
def onlooker(secured: Secured) -> Iterator[Watcher]:
    with Watcher(secured.port, login=secured.login(ONLOOKER)) as made:
        yield made


def machine_file(secured: Secured, folder: Path) -> Path:
    """A bench machine with the table that `broker-setup` wrote."""
    table = (secured.folder / "device" / "mqtt.toml").read_text("utf-8")
    path = folder / "kitchen.toml"
    path.write_text(bench_machine_path("reference").read_text("utf-8") + table, encoding="utf-8")
    return path


def test_what_the_set_up_wrote_is_all_that_a_run_and_a_cook_need(
    secured: Secured, cook: Watcher, tmp_path: Path
) -> None:
    words = ("run", "dark", "--machine", str(machine_file(secured, tmp_path)))
    process = start(tmp_path, *words)
    try:
        _follow_and_stop(cook)
    finally:
        code, _, err = end(process)
    assert (code, err) == (Exit.STOPPED, "")


def _follow_and_stop(cook: Watcher) -> None:
    cook.until_topic(f"{BASE}/$state", "ready")
    cook.until_topic(f"{BASE}/heater/relay", "true")
    cook.send(SET, "stop")
    cook.until_topic(f"{BASE}/run/state", "stopped")
    cook.until_topic(f"{BASE}/heater/relay", "false")


def test_a_try_on_its_own_broker_needs_nothing_of_the_machine_s(
    secured: Secured, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = machine_file(secured, tmp_path)
    text = path.read_text("utf-8").replace("device.key", "not-there.key")
    path.write_text(text, encoding="utf-8")
    words = ("--machine", str(path), "--port", str(free_port()), "--journal-dir", str(tmp_path))
    assert main(["try", "water-trial", "--give-up-after", "2min", *words]) == Exit.STOPPED
    assert "Published over MQTT" in capsys.readouterr().out


def verbs_until(link: Link, cook: Watcher, echo: str) -> list[Verb]:
    cook.until_echo(f"{BASE}/control/command", echo)
    return [request.verb for request in link.take(0.0, None)]


def test_the_machine_shows_its_whole_tree_by_certificate_to_a_cook_and_an_onlooker(
    link: Link, cook: Watcher, onlooker: Watcher
) -> None:
    for watcher in (cook, onlooker):
        watcher.until_topic(f"{BASE}/$state", "ready")
        assert faults_in_device(watcher.topics, DEVICE) == []
    assert link.connected


def test_a_cook_may_ask_and_an_onlooker_may_not(
    link: Link, cook: Watcher, onlooker: Watcher
) -> None:
    onlooker.until_topic(f"{BASE}/$state", "ready")
    onlooker.send(SET, "pause")
    onlooker.send(SET, "stop")
    cook.send(SET, "acknowledge")
    assert verbs_until(link, cook, "acknowledge") == [Verb.ACKNOWLEDGE]
    assert link.refused == {}


@pytest.mark.parametrize("role", [COOK, ONLOOKER])
def test_no_phone_can_speak_as_the_machine(secured: Secured, link: Link, role: str) -> None:
    with Watcher(secured.port, login=secured.login(role)) as liar:
        liar.until_topic(f"{BASE}/$state", "ready")
        for topic in ("$state", "bowl/temperature", "safety/tripped", "$alert/bath-over-limit"):
            liar.send(f"{BASE}/{topic}", "lie", retain=True)
        liar.send("homie/5/somebody-else/$state", "ready", retain=True)
    with Watcher(secured.port, login=secured.login(role)) as late:
        late.until_topic(f"{BASE}/$state", "ready")
        assert "lie" not in late.topics.values()
        assert "homie/5/somebody-else/$state" not in late.topics
    assert link.connected


@pytest.mark.parametrize("role", [COOK, ONLOOKER])
def test_no_phone_s_will_speaks_as_the_machine(secured: Secured, link: Link, role: str) -> None:
    login = secured.login(role)
    with Watcher(secured.port, login=secured.login(COOK)) as cook:
        cook.until_topic(f"{BASE}/$state", "ready")
        for topic in ("$state", "safety/cause", "$alert/bath-over-limit"):
            dying = Client(CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
            dying.tls_set_context(login.context)
            dying.username_pw_set(login.user, login.password)
            dying.will_set(f"{BASE}/{topic}", "last words", 1, retain=True)
            dying.connect("localhost", secured.port)
            while not dying.is_connected() and dying.loop(FAR_S) == 0:
                pass
            sock = dying.socket()
            if sock is not None:
                sock.close()  # without a goodbye
        cook.send(SET, "acknowledge")
        assert verbs_until(link, cook, "acknowledge") == [Verb.ACKNOWLEDGE]
        assert "last words" not in [seen.payload for seen in cook.seen]
    assert link.connected


def test_a_crowd_at_the_phones_port_is_cut_off_and_keeps_no_machine_out(
    secured: Secured, link: Link
) -> None:
    with ExitStack() as stack:
        crowd = [
            stack.enter_context(socket.create_connection(("localhost", secured.port), FAR_S))
            for _ in range(MOST_PHONES + 10)
        ]
        crowd[-1].settimeout(FAR_S)
        assert crowd[-1].recv(1) == b""  # the broker has hung up
        until_s = process_s() + FAR_S
        while not link.connected:
            assert process_s() < until_s
        again, _ = make(replace(secured.settings, device_id=f"{DEVICE}-try"))
        again._closing.set()  # noqa: SLF001 - to leave at once when it is let in
        again._leave_by_s = process_s() + FAR_S  # noqa: SLF001
        again._serve()  # noqa: SLF001 - in this thread: it raises when it isn't let in


def test_what_a_cook_leaves_at_the_broker_for_later_is_never_executed(
    secured: Secured, cook: Watcher
) -> None:
    cook.send(SET, "stop", retain=True)
    link, _ = make(secured.settings)
    link.start()
    cook.until_topic(f"{BASE}/$state", "ready")
    cook.send(SET, "pause")
    assert verbs_until(link, cook, "pause") == [Verb.PAUSE]
    link.close(wait_s=0.5)


def test_no_phone_takes_the_machine_s_place_by_coming_under_its_name(
    secured: Secured, link: Link, cook: Watcher
) -> None:
    cook.until_topic(f"{BASE}/$state", "ready")
    login = secured.login(COOK)
    assert answer_of_broker(secured.port, COOK, login.password, login.ca_file, DEVICE) == "Success"
    cook.send(SET, "pause")
    assert verbs_until(link, cook, "pause") == [Verb.PAUSE]
    states = [seen.payload for seen in cook.seen if seen.topic == f"{BASE}/$state"]
    assert "lost" not in states


def test_certificates_that_are_out_of_date_keep_no_machine_away(
    executable: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A board may come up in any year, and knows its broker by the authority alone."""
    monkeypatch.setattr(broker_setup, "wall_time", lambda: datetime(2010, 1, 1, tzinfo=UTC))
    old = Secured(executable)
    old.start()
    link, _ = make(old.settings)
    link._closing.set()  # noqa: SLF001 - to leave at once when it is let in
    link._leave_by_s = process_s() + FAR_S  # noqa: SLF001
    link._serve()  # noqa: SLF001 - in this thread: it raises when it isn't let in
    old.kill()


def answer_of_broker(
    port: int, user: str | None, password: str | None, ca_file: Path, name: str = ""
) -> str:
    """What the broker says to somebody who wants in, under a name of theirs."""
    said: list[str] = []
    client = Client(CallbackAPIVersion.VERSION2, client_id=name, reconnect_on_failure=False)
    client.tls_set_context(ssl.create_default_context(cafile=str(ca_file)))
    if user is not None:
        client.username_pw_set(user, password)
    client.on_connect = lambda _c, _d, _f, code, _m: said.append(str(code))
    client.connect("localhost", port)
    while not said and client.loop(FAR_S) == 0:
        pass
    client.disconnect()
    return said[0] if said else "nothing"


@pytest.mark.parametrize(
    ("user", "password"),
    [(None, None), (COOK, "wrong"), (COOK, ""), (DEVICE, "x"), ("root", "root")],
)
def test_nobody_gets_in_without_the_password_of_a_role(
    secured: Secured, user: str | None, password: str | None
) -> None:
    ca_file = secured.login(COOK).ca_file
    assert answer_of_broker(secured.port, user, password, ca_file) == "Not authorized"


def test_a_right_password_gets_in(secured: Secured) -> None:
    login = secured.login(COOK)
    assert answer_of_broker(secured.port, COOK, login.password, login.ca_file) == "Success"


def test_no_port_speaks_without_encryption(secured: Secured) -> None:
    for port in (secured.port, secured.device_port):
        with socket.create_connection(("127.0.0.1", port), timeout=FAR_S) as sock:
            # CONNECT of an anonymous client: MQTT 3.1.1, section 3.1
            sock.sendall(b"\x10\x0d\x00\x04MQTT\x04\x02\x00\x0f\x00\x01x")
            try:
                heard = sock.recv(64)
            except ConnectionResetError:
                heard = b""
        assert not heard.startswith(b"\x20"), "a CONNACK came in plain text"


def troubles(settings: LinkSettings) -> str:
    """Why a link does not come up, after one try in this thread."""
    link, lines = make(settings)
    link._closing.set()  # noqa: SLF001 - to leave at once if it is let in
    with pytest.raises(BROKEN) as caught:
        link._serve()  # noqa: SLF001 - in this thread, so that it needs no waiting
    assert not link.connected
    assert not lines
    reason = str(caught.value)
    del caught
    gc.collect()  # paho leaves the socket of a failed handshake to the garbage collector
    return reason


leaves_socket = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


@leaves_socket
def test_the_machine_s_port_wants_its_certificate(secured: Secured) -> None:
    settings = secured.settings
    assert settings.tls is not None
    nameless = replace(settings, tls=Tls(ca_file=settings.tls.ca_file))
    assert troubles(nameless)


@leaves_socket
def test_a_link_refuses_a_broker_that_its_authority_did_not_sign(
    secured: Secured, executable: str
) -> None:
    other = Secured(executable)
    settings = replace(secured.settings, tls=other.settings.tls)
    assert "certificate verify failed" in troubles(settings)
    other.kill()


@leaves_socket
def test_a_link_refuses_a_broker_of_another_name(secured: Secured) -> None:
    settings = replace(secured.settings, host="127.0.0.2")
    assert "certificate is not valid for '127.0.0.2'" in troubles(settings)
