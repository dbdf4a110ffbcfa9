"""A whole course of the device against Homie 5, as it was published: order, flags, quality.

MQTT 5 lets a subscriber ask for messages with the flag that their sender gave them.
"""

import threading
from collections.abc import Iterator

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.subscribeoptions import SubscribeOptions

from controller.core.outlook import Outlook
from controller.core.state import Event, EventName, Mode
from controller.link.link import Link
from controller.link.settings import LinkSettings
from tests.helpers.brokers import Mosquitto
from tests.helpers.homie_course import Course, Said
from tests.helpers.logs import listening_log
from tests.helpers.moments import SET_TEST, TRIP, moment, profile, state
from tests.helpers.watcher import FAR_S, Watcher

BASE = "homie/5/bainward"
SET = f"{BASE}/control/command/set"

pytestmark = pytest.mark.mosquitto


class Scribe:
    """Writes down everything as it was published, but not what others send to the device."""

    def __init__(self, port: int) -> None:
        """Listen at once, for the highest quality that a sender may have chosen."""
        self.course: list[Said] = []
        here = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.on_subscribe = lambda *_: here.set()
        self._client.on_message = self._on_message
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        options = SubscribeOptions(qos=2, retainAsPublished=True)
        self._client.subscribe("homie/5/#", options=options)
        assert here.wait(FAR_S)

    def end(self) -> None:
        """Leave."""
        self._client.disconnect()
        self._client.loop_stop()

    def _on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        if not message.topic.endswith("/set"):
            text = message.payload.decode()
            self.course.append(Said(message.topic, text, message.retain, message.qos))


@pytest.fixture
def scribe(mosquitto: Mosquitto) -> Iterator[Scribe]:
    made = Scribe(mosquitto.port)
    yield made
    made.end()


@pytest.mark.parametrize("fahrenheit", [False, True], ids=["C", "F"])
def test_a_course_with_all_that_can_happen_keeps_to_the_convention(
    mosquitto: Mosquitto, scribe: Scribe, fahrenheit: bool
) -> None:
    soon = Outlook(early_s=3000.0, likely_s=3600.0, late_s=4800.0)
    settings = LinkSettings(port=mosquitto.port, fahrenheit=fahrenheit, home_assistant=True)
    began = "2026-01-01T06:00:00+00:00"
    link = Link(settings, profile(), run_id="a", began_utc=began, log=listening_log()[0])
    with Watcher(mosquitto.port) as watcher:
        link.tell(moment(state(outlook=soon)))
        link.start()
        watcher.until_topic(f"{BASE}/$state", "ready")
        tripped = Event(name=EventName.TRIP_LATCHED, facts={"cause": "level-lost"})
        asks = state(ask=SET_TEST, mode=Mode.PAUSED, trips=(TRIP,), bowl_c=float("nan"))
        link.tell(moment(asks, events=(tripped,)))
        watcher.until_echo(f"{BASE}/$log/error", "trip latched: cause level-lost")
        for word in ("pause", "nonsense", "acknowledge"):
            watcher.send(SET, word)
        watcher.send(f"{BASE}/control/request/set", '{"id": "a", "command": "pause"}')
        watcher.until_echo(f"{BASE}/control/request", '{"id": "a", "command": "pause"}')
        link.take(0.0, SET_TEST)
        link.tell(moment(state(mode=Mode.RUNNING, run_s=500.0), load_w=3.0))  # fitted, it turns out
        watcher.until_topic(f"{BASE}/stirrer/load", "3.00")
        watcher.until_topic(f"{BASE}/$state", "ready")
        link.close()
        watcher.until_topic(f"{BASE}/$state", "disconnected")
        watcher.send("homie/5/mark", "last")
    states = [said.payload for said in scribe.course if said.topic == f"{BASE}/$state"]
    ours = [said for said in scribe.course if said.topic != "homie/5/mark"]
    assert list(Course("bainward").faults(ours)) == []
    assert [word for word in states if word != "ready"] == ["init", "init", "disconnected"]
    assert {said.topic.split("/")[3] for said in ours} >= {"$log", "$alert", "control", "stirrer"}
