"""Clients of others find the machine by themselves, through a real broker.

ebus-sdk has a controller for Homie 5. What a Home Assistant hub would make of our message for it,
`.ci/discovery` asks that hub's own code, in an environment of its own, in each run of CI.
"""

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from ebus_sdk import Controller

from controller.core.outlook import Outlook
from controller.core.state import Mode
from controller.link.link import Link
from controller.link.settings import LinkSettings
from controller.ports import Verb
from tests.helpers.brokers import Mosquitto
from tests.helpers.logs import listening_log
from tests.helpers.moments import SET_TEST, moment, profile, state
from tests.helpers.watcher import FAR_S, Watcher

DEVICE = "bainward"
BASE = f"homie/5/{DEVICE}"
SOON = Outlook(early_s=3000.0, likely_s=3600.0, late_s=4800.0)

pytestmark = [
    pytest.mark.mosquitto,
    # Its own client still uses paho's older callbacks.
    pytest.mark.filterwarnings("ignore:Callback API version 1:DeprecationWarning"),
]


@pytest.fixture
def link(mosquitto: Mosquitto) -> Iterator[Link]:
    made = Link(
        LinkSettings(port=mosquitto.port),
        profile(),
        run_id="a",
        began_utc="2026-01-01T06:00:00+00:00",
        log=listening_log()[0],
    )
    made.tell(moment(state(ask=SET_TEST, outlook=SOON)))
    made.start()
    with Watcher(mosquitto.port) as watcher:
        watcher.until_topic(f"{BASE}/$state", "ready")
    yield made
    made.close()


class Found:
    """What a controller that nobody told of our device has seen of it."""

    def __init__(self, port: int) -> None:
        """Look for every Homie device."""
        self._changed = threading.Condition()
        self.controller = Controller(
            mqtt_cfg={"host": "127.0.0.1", "port": port}, homie_domain="homie"
        )
        self.controller.set_on_property_changed_callback(self._notice)
        self.controller.set_on_device_state_changed_callback(self._notice)
        self.controller.start_discovery()

    def _notice(self, *_: object) -> None:
        with self._changed:
            self._changed.notify_all()

    def until_shown(self, node: str, property_: str, value: str) -> Any:  # noqa: ANN401 - its own types say None for what is text later
        """The device, once it shows that value."""

        def shown() -> bool:
            device = self.controller.get_all_devices().get(DEVICE)
            return device is not None and device.get_property(node, property_) == value

        with self._changed:
            assert self._changed.wait_for(shown, FAR_S), f"never shown: {node}/{property_}"
        return self.controller.get_all_devices()[DEVICE]


@pytest.fixture
def found(mosquitto: Mosquitto, link: Link) -> Iterator[Found]:
    assert link.connected
    made = Found(mosquitto.port)
    yield made
    made.controller.stop()


def test_a_homie_controller_of_others_finds_the_machine_and_its_values(found: Found) -> None:
    device = found.until_shown("control", "token", "none")  # the last one that is sent
    assert device.state == "ready"
    assert device.description["name"] == "Tempering machine"
    assert device.get_property("bowl", "temperature") == "43.21"
    assert device.get_property("ask", "question") == SET_TEST.text
    assert device.get_property_json("control", "response")["result"] == "none"
    settable = {
        f"{node}/{id_}"
        for node, body in device.description["nodes"].items()
        for id_, row in body["properties"].items()
        if row["settable"]
    }
    assert settable == {"control/command", "control/request"}


def test_a_homie_controller_of_others_follows_changes_and_may_stop(
    mosquitto: Mosquitto, link: Link, found: Found
) -> None:
    found.until_shown("run", "state", "running")
    link.tell(moment(state(mode=Mode.PAUSED, ask=SET_TEST)))
    found.until_shown("run", "state", "paused")
    with Watcher(mosquitto.port) as watcher:
        found.controller.set_property(DEVICE, "control", "command", "stop")
        watcher.until_echo(f"{BASE}/control/command", "stop")
    assert [request.verb for request in link.take(0.0, None)] == [Verb.STOP]
