"""A process that prints what a broker says of the device, for scenes in another network.

Run as `python -m tests.helpers.onlooker PORT`: a line of JSON for each message, path and payload.
"""

import json
import sys

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode

BASE = "homie/5/bainward/"


def _ask(client: Client, *_: object) -> None:
    client.subscribe(f"{BASE}#", 1)


def _tell(_client: Client, _data: object, message: MQTTMessage) -> None:
    path = message.topic.removeprefix(BASE)
    sys.stdout.write(json.dumps([path, message.payload.decode(errors="replace")]) + "\n")
    sys.stdout.flush()


def main(port: int) -> None:
    """Print until somebody ends it; a broker that isn't there yet is waited for."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.on_connect = _ask
    client.on_message = _tell
    client.connect_async("127.0.0.1", port)
    client.reconnect_delay_set(1, 1)
    code: MQTTErrorCode = client.loop_forever(retry_first_connection=True)
    sys.exit(code)


if __name__ == "__main__":
    main(int(sys.argv[1]))
