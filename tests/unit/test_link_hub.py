"""The one message for a Home Assistant hub, against its documentation of MQTT discovery.

Source of the keys, platforms and classes: Home Assistant's pages on MQTT discovery (device
discovery payload), MQTT sensor, binary sensor and button; device classes from its sensor page.
"""

import json
from typing import Any

import pytest

from controller.link.fitted_rows import EVERY_PART
from controller.link.homie import Datatype
from controller.link.hub import discovery, topic
from controller.link.tree import tree
from tests.helpers.moments import moment, profile, state

ROWS = tree(profile(), run_id="a", fitted=EVERY_PART)
BASE = "homie/5/kitchen"
KEYS = {
    "sensor": {
        "p", "name", "unique_id", "state_topic", "unit_of_measurement", "device_class", "options",
        "expire_after",
    },
    "binary_sensor": {"p", "name", "unique_id", "state_topic", "payload_on", "payload_off"},
    "button": {"p", "name", "unique_id", "command_topic", "payload_press", "qos"},
}  # fmt: skip
UNITS: dict[str | None, set[str | None]] = {
    "temperature": {"°C", "°F"},
    "duration": {"s"},
    "power": {"W"},
    "timestamp": {None},
    "enum": {None},
    None: {None, "%", "rpm", "°C/min", "°F/min"},
}


def message(*, fahrenheit: bool = False) -> dict[str, Any]:
    rows = tree(profile(), run_id="a", fitted=EVERY_PART, fahrenheit=fahrenheit)
    made: dict[str, Any] = json.loads(
        discovery(rows, base=BASE, device_id="kitchen", name="Tempering machine")
    )
    return made


def test_it_goes_where_a_hub_looks() -> None:
    assert topic("kitchen") == "homeassistant/device/kitchen/config"


@pytest.mark.parametrize("fahrenheit", [False, True])
def test_every_part_has_the_keys_of_its_platform_and_a_unit_of_its_class(fahrenheit: bool) -> None:
    parts = message(fahrenheit=fahrenheit)["cmps"]
    for part in parts.values():
        assert part.keys() <= KEYS[part["p"]]
        if part["p"] == "sensor":
            assert part.get("unit_of_measurement") in UNITS[part.get("device_class")], part
        assert ("options" in part) == (part.get("device_class") == "enum")
    assert len({part["unique_id"] for part in parts.values()}) == len(parts)


def test_it_points_at_the_topics_that_are_there_and_at_no_other() -> None:
    topics = {part["state_topic"] for part in message()["cmps"].values() if "state_topic" in part}
    shown = {
        f"{BASE}/{row.path}"
        for row in ROWS
        if not (row.path.startswith("control/") or row.datatype is Datatype.JSON)
    }
    assert topics == shown


def test_the_values_are_what_the_parts_expect() -> None:
    values = {f"{BASE}/{row.path}": row.value(moment(state())) for row in ROWS}
    for part in message()["cmps"].values():
        value = values.get(part.get("state_topic"))
        if value is not None and part["p"] == "binary_sensor":
            assert value in {part["payload_on"], part["payload_off"]}
        if value is not None and "options" in part:
            assert value in part["options"]


def test_the_device_is_there_only_while_it_is_ready() -> None:
    (availability,) = message()["availability"]
    assert availability["topic"] == f"{BASE}/$state"
    assert "value == 'ready'" in availability["value_template"]


def test_what_must_come_again_soon_expires() -> None:
    parts = message()["cmps"]
    assert parts["bowl-temperature"]["expire_after"] == 60
    assert "expire_after" not in parts["run-profile"]


def test_a_hub_gets_buttons_only_for_what_lowers_risk() -> None:
    presses = {
        part["payload_press"] for part in message()["cmps"].values() if part["p"] == "button"
    }
    assert presses == {"stop", "pause", "acknowledge"}


def test_it_is_short_enough_for_the_embedded_broker() -> None:
    text = discovery(ROWS, base=BASE, device_id="kitchen", name="Tempering machine")
    assert len(text.encode()) < 16_000
