"""The link's supervisor against all that networks and brokers do: it comes back and waits for none.

Each trouble of the measured table has a test here, in tests/unit/test_link_session.py or in
tests/acceptance/test_link_brokers.py. Waits are shortened; their real lengths are the module's own.
"""

import gc
import signal
import socket
import threading
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.clock import process_s
from controller.link import link as module
from controller.link import session as session_module
from controller.link.link import Link
from controller.link.settings import LinkSettings
from controller.link.tree import tree as own_tree
from controller.ports import Moment
from tests.helpers.brokers import WELCOME, Mosquitto, Scripted, free_port
from tests.helpers.cable import Cable, How
from tests.helpers.logs import listening_log
from tests.helpers.moments import moment, profile, state
from tests.helpers.watcher import FAR_S, Watcher

BASE = "homie/5/bainward"


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "STEP_S", 0.02)
    monkeypatch.setattr(module, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(module, "LONGEST_PAUSE_S", 0.1)
    monkeypatch.setattr(module, "REVIVE_S", 0.1)
    monkeypatch.setattr(session_module, "CONNACK_WAIT_S", 0.2)
    monkeypatch.setattr(session_module, "ACK_WAIT_S", 0.5)


def make(port: int) -> Link:
    link = Link(LinkSettings(port=port), profile(), run_id="a", log=listening_log()[0])
    link.tell(moment())
    link.start()
    return link


def at(number: int) -> Moment:
    """The tick of that second: every value that can differ does."""
    return moment(state(run_s=float(number), bowl_c=30.0 + number % 10), now_s=1000.0 + number)


def until(happened: object, what: str) -> None:
    """Wait for something that no broker tells."""
    paused, until_s = threading.Event(), process_s() + FAR_S
    assert callable(happened)
    while not happened():
        assert process_s() < until_s, f"never came: {what}"
        paused.wait(0.01)


@pytest.fixture
def cable(mosquitto: Mosquitto) -> Iterator[Cable]:
    with Cable(mosquitto.port) as made:
        yield made


@pytest.fixture
def link(cable: Cable) -> Iterator[Link]:
    made = make(cable.port)
    yield made
    made.close(wait_s=0.3)


@pytest.fixture
def watcher(mosquitto: Mosquitto) -> Iterator[Watcher]:
    with Watcher(mosquitto.port) as made:
        yield made


@pytest.mark.mosquitto
def test_a_half_open_connection_is_given_up_and_a_new_one_shows_the_newest_tick(
    cable: Cable, link: Link, watcher: Watcher
) -> None:
    watcher.until_topic(f"{BASE}/$state", "ready")
    cable.now(How.SILENT)
    seconds = iter(range(200, 100_000))

    def told() -> bool:
        link.tell(at(next(seconds)))
        return cable.connections > 1

    until(told, "a second connection")
    link.tell(at(777_777))
    watcher.until_topic(f"{BASE}/run/elapsed", "777777")
    watcher.until_topic(f"{BASE}/$state", "ready")
    elapsed = [int(one.payload) for one in watcher.seen if one.topic == f"{BASE}/run/elapsed"]
    assert elapsed == sorted(elapsed)  # never an older tick after a newer one


@pytest.mark.mosquitto
def test_a_connection_that_drops_again_and_again_comes_back_and_leaks_nothing(
    cable: Cable, link: Link, watcher: Watcher
) -> None:
    watcher.until_topic(f"{BASE}/$state", "ready")
    files, threads = open_files(), threading.active_count()
    for number in range(1, 11):
        cable.drop()
        link.tell(at(1000 * number))
        watcher.until_topic(f"{BASE}/run/elapsed", str(1000 * number))
        watcher.until_topic(f"{BASE}/$state", "ready")
    gc.collect()
    assert cable.connections >= 11
    assert threading.active_count() == threads
    assert open_files() <= files + 2  # a pair of the cable's may be closing just now


def open_files() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


@pytest.mark.mosquitto
def test_a_connection_that_trickles_gets_the_newest_values_in_the_end(
    cable: Cable, link: Link, watcher: Watcher
) -> None:
    cable.now(How.TRICKLES)
    cable.drop()
    for number in range(2000):
        link.tell(at(number))
    watcher.until_topic(f"{BASE}/run/elapsed", "1999")
    watcher.until_topic(f"{BASE}/$state", "ready")
    assert link.connected


@pytest.mark.mosquitto
def test_a_frozen_broker_costs_no_memory_and_no_time(
    mosquitto: Mosquitto, link: Link, watcher: Watcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(session_module, "ACK_WAIT_S", FAR_S)  # it stays frozen all the while
    watcher.until_topic(f"{BASE}/$state", "ready")
    mosquitto.signal(signal.SIGSTOP)
    tracemalloc.start()
    before, _ = tracemalloc.get_traced_memory()
    paused = threading.Event()
    for number in range(5000):
        link.tell(at(number))
        if number % 100 == 0:
            paused.wait(0.01)  # lets the link's thread send what it would
    after, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    mosquitto.signal(signal.SIGCONT)
    # Measured: about 0.1 MB. Own engineering value; every value of every tick would be 20 MB.
    assert after - before < 1_000_000

    def told() -> bool:
        link.tell(moment(state(bowl_c=77.0)))
        return watcher.topics[f"{BASE}/bowl/temperature"] == "77.00"

    until(told, "the newest values")


def test_a_broker_that_accepts_and_never_answers_is_tried_again() -> None:
    server = Scripted(lambda _: None)
    link = make(server.port)
    until(lambda: len(server.connections) >= 3, "three tries")
    assert not link.connected
    link.close(wait_s=0.3)
    server.close()


def test_a_broker_that_refuses_is_tried_again_and_complained_of_once() -> None:
    # CONNACK with return code 5, not authorised: MQTT 3.1.1, section 3.2.2.3
    server = Scripted(lambda connection: connection.sendall(b"\x20\x02\x00\x05"))
    log, lines = listening_log()
    link = Link(LinkSettings(port=server.port), profile(), run_id="a", log=log)
    link.tell(moment())
    link.start()
    until(lambda: len(server.connections) >= 4, "four tries")
    link.close(wait_s=0.3)
    server.close()
    warned = [line for line in lines if line["level"] == "warning"]
    assert [line["event"] for line in warned] == ["broker_lost"]
    assert "Not authorized" in str(warned[0]["reason"])


def test_a_broker_that_hangs_up_half_way_through_its_welcome_is_tried_again() -> None:
    def half(connection: socket.socket) -> None:
        connection.sendall(WELCOME[:2])
        connection.shutdown(socket.SHUT_RDWR)

    server = Scripted(half)
    link = make(server.port)
    until(lambda: len(server.connections) >= 3, "three tries")
    link.close(wait_s=0.3)
    server.close()


def test_a_name_that_nobody_knows_is_no_trouble() -> None:
    settings = LinkSettings(host="no-such-host.invalid", port=free_port())
    log, lines = listening_log()
    link = Link(settings, profile(), run_id="a", log=log)
    link.start()
    until(lambda: lines, "a complaint")
    assert not link.connected
    link.close(wait_s=0.3)


@pytest.mark.mosquitto
def test_a_thread_that_dies_of_a_bug_is_replaced_and_the_run_hears_nothing_of_it(
    mosquitto: Mosquitto, watcher: Watcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    died = threading.Event()
    monkeypatch.setattr(threading, "excepthook", lambda _: died.set())
    bugs = iter([ZeroDivisionError("a bug")])

    def tree(*_: object, **__: object) -> object:
        for bug in bugs:
            raise bug
        return own_tree(profile(), run_id="a")

    monkeypatch.setattr(module, "tree", tree)
    link = make(mosquitto.port)
    assert died.wait(FAR_S)

    def told() -> bool:
        link.tell(at(5))
        return watcher.topics.get(f"{BASE}/$state") == "ready"

    until(told, "a second thread")
    link.close(wait_s=0.5)


@pytest.mark.mosquitto
def test_a_client_that_takes_over_our_name_is_outlived(
    mosquitto: Mosquitto, link: Link, watcher: Watcher
) -> None:
    watcher.until_topic(f"{BASE}/$state", "ready")
    with socket.create_connection(("127.0.0.1", mosquitto.port)) as thief:
        # CONNECT with our client id, clean session: MQTT 3.1.1, section 3.1
        name = b"bainward"
        body = b"\x00\x04MQTT\x04\x02\x00\x0f" + len(name).to_bytes(2, "big") + name
        thief.sendall(b"\x10" + bytes([len(body)]) + body)
        assert thief.recv(4) == WELCOME
        watcher.until_echo(f"{BASE}/$state", "lost")
        link.tell(at(888))
        watcher.until_topic(f"{BASE}/run/elapsed", "888")
        watcher.until_topic(f"{BASE}/$state", "ready")
