"""`bainward notify` as a process: a real broker, a real HTTP server, kills and restarts.

Each event reaches the service exactly once, and none is lost.
"""

import signal
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from controller.errors import Exit
from controller.push.spool import Spool
from tests.helpers.brokers import Broker, Embedded, Mosquitto, free_port
from tests.helpers.process import end, start
from tests.helpers.push_service import PushService
from tests.helpers.watcher import FAR_S, Watcher

Process = subprocess.Popen[str]
BASE = "homie/5/kitchen"
LID = "Heat is held back. The lid is open. The bowl cools and dries. Close the lid."
WATER = "Heat is off. No water over the heater. It would glow. Unplug, fill the bath."


def push_file(folder: Path, port: int, url: str, *more: str) -> Path:
    path = folder / "phone.toml"
    path.write_text(
        "\n".join(
            (
                "schema = 1",
                "[mqtt]",
                f'host = "127.0.0.1"\nport = {port}\ndevice = "kitchen"',
                "[push]",
                f'protocol = "ntfy"\nurl = "{url}"',
                *more,
            )
        ),
        encoding="utf-8",
    )
    return path


class Notifier:
    """The command as a process that can be killed and started again."""

    def __init__(self, home: Path, file: Path) -> None:
        """Prepare; nothing runs yet."""
        self._home = home
        self._file = file
        self.process: Process | None = None

    def start(self) -> None:
        """Begin to listen."""
        self.process = start(self._home, "notify", str(self._file))

    def until_noted(self) -> None:
        """Wait until nothing waits any more: a kill right after a sending repeats it."""
        spool = Spool(self._home / "state" / "bainward" / "notify-kitchen-phone.sqlite")
        waited = threading.Event()
        for _ in range(1000):
            if not spool.waiting():
                break
            waited.wait(0.02)
        assert spool.waiting() == ()
        spool.close()

    def kill(self) -> None:
        """End it in mid-step, without a word."""
        process, self.process = self.process, None
        assert process is not None
        process.kill()
        process.communicate()

    def end(self) -> tuple[int, str]:
        """Tell it to end; its exit code and what it said."""
        assert self.process is not None
        self.process.send_signal(signal.SIGTERM)
        code, _, err = end(self.process)
        self.process = None
        return code, err


@contextmanager
def notifying(home: Path, file: Path) -> Iterator[Notifier]:
    """A notifier that runs, and ends in any case."""
    notifier = Notifier(home, file)
    notifier.start()
    try:
        yield notifier
    finally:
        if notifier.process is not None:
            notifier.kill()


class Machine:
    """A machine's topics, said as its link says them."""

    def __init__(self, watcher: Watcher) -> None:
        """Through an onlooker's connection."""
        self._watcher = watcher

    def says(self, path: str, text: str, *, retain: bool = True) -> None:
        """One topic."""
        self._watcher.send(f"{BASE}/{path}", text, retain=retain)

    def begins(self, run_id: str) -> None:
        """A run, with all that a link says first."""
        self.says("$state", "ready")
        self.says("run/state", "running")
        self.says("run/id", run_id)

    def asks(self, id_: str) -> None:
        """A question, its id last."""
        self.says("ask/question", f"Is {id_} done?")
        self.says("ask/choices", "yes, no")
        self.says("ask/heating", "none")
        self.says("ask/id", id_)


@pytest.fixture
def machine(broker: Broker) -> Iterator[Machine]:
    """On each broker in turn."""
    with Watcher(broker.port) as watcher:
        yield Machine(watcher)


@pytest.fixture
def service() -> Iterator[PushService]:
    with PushService() as made:
        yield made


def bodies(service: PushService, count: int) -> list[str]:
    """What came, without the answers of questions."""
    return [post.body.partition(" Answer")[0] for post in service.until(count)]


def nothing_more(service: PushService, machine: Machine, seen: int) -> None:
    """After a later event nothing but that event has come."""
    machine.says("$alert/marker", f"Marker {seen}.")
    assert bodies(service, seen + 1)[seen:] == [f"Marker {seen}."]
    machine.says("$alert/marker", "")


def test_each_event_comes_once_over_kills_and_restarts(
    broker: Broker, machine: Machine, service: PushService, tmp_path: Path
) -> None:
    machine.begins("a")
    with notifying(tmp_path, push_file(tmp_path, broker.port, service.url, "most = 100")) as ours:
        machine.says("$alert/lid-open", LID)
        machine.asks("seed")
        assert sorted(bodies(service, 2)) == sorted([LID, "Is seed done?"])
        ours.until_noted()
        ours.kill()
        # While nobody listens: one alarm goes, another comes, another question is put.
        machine.says("$alert/lid-open", "")
        machine.says("$alert/level-lost", WATER)
        machine.asks("set-test")
        ours.start()
        assert sorted(bodies(service, 4)[2:]) == sorted([WATER, "Is set-test done?"])
        ours.until_noted()
        ours.kill()
        ours.start()
        nothing_more(service, machine, 4)
        machine.says("run/state", "complete")
        assert bodies(service, 6)[5].startswith("Finished.")
        assert len({post.id for post in service.posts}) == 6
        assert ours.end() == (Exit.DONE, "")


def test_what_could_not_be_sent_waits_over_a_kill(embedded: Embedded, tmp_path: Path) -> None:
    port = free_port()
    file = push_file(tmp_path, embedded.port, f"http://localhost:{port}/kitchen")
    with Watcher(embedded.port) as watcher, notifying(tmp_path, file) as ours:
        machine = Machine(watcher)
        machine.begins("a")
        machine.says("$alert/level-lost", WATER)
        machine.asks("seed")
        assert ours.process is not None
        assert ours.process.stderr is not None
        said = ours.process.stderr.readline()
        assert "could not be handed over (no connection: Connection refused); it is kept" in said
        ours.kill()
        machine.says("$alert/level-lost", "")  # over before the service is there
        with PushService(port=port) as service:
            ours.start()
            assert sorted(bodies(service, 2)) == sorted([WATER, "Is seed done?"])
            nothing_more(service, machine, 2)


def test_a_kill_between_sending_and_noting_sends_again_under_the_same_id(
    embedded: Embedded, service: PushService, tmp_path: Path
) -> None:
    """What remains: a service that knows ids shows it once."""
    file = push_file(tmp_path, embedded.port, service.url)
    with Watcher(embedded.port) as watcher, notifying(tmp_path, file) as ours:
        machine, killed = Machine(watcher), threading.Event()

        def kill() -> None:
            service.before_answering = killed.set
            ours.kill()
            killed.set()

        service.before_answering = kill
        machine.begins("a")
        machine.says("$alert/level-lost", WATER)
        assert killed.wait(FAR_S)
        ours.start()
        first, second = service.until(2)
        assert first.id == second.id
        assert first.body == second.body == WATER
        nothing_more(service, machine, 2)


@pytest.mark.mosquitto
def test_what_came_and_went_while_nobody_listened_is_told_by_a_broker_that_keeps_it(
    mosquitto: Mosquitto, service: PushService, tmp_path: Path
) -> None:
    file = push_file(tmp_path, mosquitto.port, service.url)
    with Watcher(mosquitto.port) as watcher, notifying(tmp_path, file) as ours:
        machine = Machine(watcher)
        machine.begins("a")
        machine.says("$alert/lid-open", LID)
        service.until(1)
        ours.until_noted()
        ours.kill()
        for _ in range(2):
            machine.says("$alert/level-lost", WATER)
            machine.says("$alert/level-lost", "")
        ours.start()
        assert bodies(service, 3)[1:] == [WATER, WATER]
        nothing_more(service, machine, 3)


@pytest.mark.mosquitto
def test_a_broker_that_goes_and_comes_back_tells_nothing_twice(
    mosquitto: Mosquitto, service: PushService, tmp_path: Path
) -> None:
    file = push_file(tmp_path, mosquitto.port, service.url)
    with notifying(tmp_path, file) as ours:
        with Watcher(mosquitto.port) as watcher:
            Machine(watcher).begins("a")
            Machine(watcher).says("$alert/lid-open", LID)
            service.until(1)
        mosquitto.kill()
        mosquitto.start()
        with Watcher(mosquitto.port) as watcher:
            machine = Machine(watcher)
            machine.begins("a")
            machine.says("$alert/lid-open", LID)  # as a link says it anew
            machine.says("$alert/level-lost", WATER)
            assert bodies(service, 2) == [LID, WATER]
            nothing_more(service, machine, 2)
        code, said = ours.end()
        assert code == Exit.DONE
        assert "can't be used" in said
        assert "The broker is there again." in said
