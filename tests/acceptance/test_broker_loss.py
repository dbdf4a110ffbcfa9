"""Losing the broker never changes a run: the record is the same, byte for byte."""

import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.link.settings import LinkSettings
from controller.ports import Moment
from tests.helpers.brokers import Broker, Mosquitto
from tests.helpers.cable import Cable, How
from tests.helpers.runs import run_on_bench
from tests.helpers.watcher import Watcher


class KillAt:
    """A teller that kills the broker at a moment of the run."""

    def __init__(self, broker: Broker, at_s: float) -> None:
        """Kill once `at_s` of the run have passed."""
        self._broker = broker
        self._at_s = at_s
        self.killed = False

    def tell(self, moment: Moment) -> None:
        """Kill it, once."""
        if not self.killed and moment.state.run_s >= self._at_s:
            self.killed = True
            self._broker.kill()


def test_a_run_whose_broker_is_killed_half_way_writes_the_same_record(
    broker: Broker, tmp_path: Path
) -> None:
    for name in ("undisturbed", "disturbed"):
        (tmp_path / name).mkdir()
    settings = LinkSettings(port=broker.port, device_id="bainward-test")

    undisturbed = run_on_bench("dark", tmp_path / "undisturbed")
    killer = KillAt(broker, 5000.0)
    disturbed = run_on_bench("dark", tmp_path / "disturbed", link=settings, tellers=(killer,))

    assert killer.killed
    assert disturbed.path.read_bytes() == undisturbed.path.read_bytes()


class Trouble:
    """A teller that does something to the broker, or to the topic of commands, from a moment on."""

    def __init__(self, do: Callable[[], None], at_s: float) -> None:
        """Do it at each tick from `at_s` of the run on."""
        self._do = do
        self._at_s = at_s
        self.times = 0

    def tell(self, moment: Moment) -> None:
        """Do it."""
        if moment.state.run_s >= self._at_s:
            self.times += 1
            self._do()


GARBAGE = [b"start", b"resume", b"\xff", b"[" * 2000, b"answer x", b'{"id":"a","command":"resume"}']


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The record of a run without a link."""
    return run_on_bench("water-trial", tmp_path_factory.mktemp("alone")).path.read_bytes()


@pytest.mark.mosquitto
@pytest.mark.parametrize("trouble", ["frozen", "hostile", "slow"])
def test_a_run_whose_broker_is_frozen_hostile_or_slow_writes_the_same_record(
    mosquitto: Mosquitto, tmp_path: Path, undisturbed: bytes, trouble: str
) -> None:
    topics = [f"homie/5/bainward-test/control/{word}/set" for word in ("command", "request")]
    with Watcher(mosquitto.port) as watcher, Cable(mosquitto.port) as cable:

        def shout() -> None:
            for topic in topics:
                watcher.flood(topic, GARBAGE[teller.times % len(GARBAGE)], 1)

        deeds = {
            "frozen": lambda: mosquitto.signal(signal.SIGSTOP),
            "hostile": shout,
            "slow": lambda: cable.now(How.TRICKLES),
        }
        teller = Trouble(deeds[trouble], 100.0)
        settings = LinkSettings(port=cable.port, device_id="bainward-test")
        disturbed = run_on_bench("water-trial", tmp_path, link=settings, tellers=(teller,))
        mosquitto.signal(signal.SIGCONT)

    assert teller.times > 100
    assert disturbed.path.read_bytes() == undisturbed


@pytest.mark.mosquitto
def test_an_onlooker_sees_the_last_state_of_a_run_in_virtual_time(
    mosquitto: Broker, tmp_path: Path
) -> None:
    settings = LinkSettings(port=mosquitto.port, device_id="bainward-test")

    with Watcher(mosquitto.port) as onlooker:
        run_on_bench("water-trial", tmp_path, link=settings)
        onlooker.until_topic("homie/5/bainward-test/run/state", "complete")
        onlooker.until_topic("homie/5/bainward-test/$state", "disconnected")
