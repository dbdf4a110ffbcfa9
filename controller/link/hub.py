"""The device for a Home Assistant hub: one message about the topics that are there already.

Responsible for that message; nothing of it is a topic of its own. Keys after Home Assistant's
documentation of MQTT discovery: device discovery, sensor, binary_sensor, button.
"""

import json
from collections.abc import Iterable

from controller.link.homie import Datatype, Property
from controller.link.tree import COMMAND, NODES

PREFIX = "homeassistant/device"
ORIGIN = "bainward"
# A value that is sent at least each 10 s and hasn't come for so long isn't known any more. Own
# engineering value.
EXPIRE_S = 60
_TO_EXPIRE = 10.0  # what is sent at least so often, in s
BUTTONS = {"stop": "Stop", "pause": "Pause", "acknowledge": "Acknowledge"}
_CLASSES = {"°C": "temperature", "°F": "temperature", "s": "duration", "W": "power"}
_HIDDEN = frozenset({"control"})  # nodes for machines, not for a person's screen


def topic(device_id: str) -> str:
    """Where the message goes."""
    return f"{PREFIX}/{device_id}/config"


def discovery(properties: Iterable[Property], *, base: str, device_id: str, name: str) -> str:
    """The message: each property below `base` that a person may want to see, and three buttons."""
    shown = (
        row
        for row in properties
        if row.path.partition("/")[0] not in _HIDDEN and row.datatype is not Datatype.JSON
    )
    parts = {row.path.replace("/", "-"): _part(row, base, device_id) for row in shown}
    for word, label in BUTTONS.items():
        parts[word] = {
            "p": "button",
            "name": label,
            "unique_id": f"{device_id}-{word}",
            "command_topic": f"{base}/{COMMAND}/set",
            "payload_press": word,
            "qos": 1,
        }
    body = {
        "dev": {"ids": [device_id], "name": name},
        "o": {"name": ORIGIN},
        "cmps": parts,
        "availability": [
            {
                "topic": f"{base}/$state",
                "value_template": "{{ 'online' if value == 'ready' else 'offline' }}",
            }
        ],
        "qos": 1,
    }
    return json.dumps(body, ensure_ascii=False)


def _part(row: Property, base: str, device_id: str) -> dict[str, object]:
    is_switch = row.datatype is Datatype.BOOLEAN
    node = row.path.partition("/")[0]
    part: dict[str, object] = {
        "p": "binary_sensor" if is_switch else "sensor",
        "name": f"{NODES[node]}: {row.name}",
        "unique_id": f"{device_id}-{row.path.replace('/', '-')}",
        "state_topic": f"{base}/{row.path}",
    }
    if is_switch:
        part |= {"payload_on": "true", "payload_off": "false"}
    if row.datatype is Datatype.DATETIME:
        part["device_class"] = "timestamp"
    if row.datatype is Datatype.ENUM:
        part |= {"device_class": "enum", "options": row.format.split(",")}
    if row.unit:
        part["unit_of_measurement"] = row.unit
        if row.unit in _CLASSES:
            part["device_class"] = _CLASSES[row.unit]
    if row.rhythm.most_s <= _TO_EXPIRE:
        part["expire_after"] = EXPIRE_S
    return part
