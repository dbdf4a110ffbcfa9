"""An onlooker: a second MQTT client that keeps what it sees, and can wait for it.

Responsible for seeing; not for judging.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from tests.helpers.secured import Login

FAR_S = 60.0  # never reached unless something is wrong


@dataclass(frozen=True, slots=True)
class Seen:
    """One message."""

    topic: str
    payload: str
    retained: bool


class Watcher:
    """Subscribed to everything below `homie/5` while the `with` block lasts."""

    def __init__(self, port: int, *, mqtt5: bool = False, login: Login | None = None) -> None:
        """Prepare; `mqtt5` looks on over MQTT 5, `login` comes encrypted and with a password."""
        self.seen: list[Seen] = []
        self.topics: dict[str, str] = {}  # what a broker would keep: empty ones are gone
        self._port = port
        self._changed = threading.Condition()
        self._here = threading.Event()
        self._client = Client(
            CallbackAPIVersion.VERSION2,
            protocol=MQTTProtocolVersion.MQTTv5 if mqtt5 else MQTTProtocolVersion.MQTTv311,
        )
        if login is not None:
            self._client.username_pw_set(login.user, login.password)
            self._client.tls_set_context(login.context)
        self._client.on_connect = self._on_connect
        self._client.on_subscribe = lambda *_: self._here.set()
        self._client.on_message = self._on_message

    def __enter__(self) -> Self:
        """Connect; on return the subscription stands."""
        self._client.connect("localhost", self._port)
        self._client.loop_start()
        assert self._here.wait(FAR_S), "the onlooker found no broker"
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: object, _trace: TracebackType | None
    ) -> None:
        """Leave."""
        self._client.disconnect()
        self._client.loop_stop()

    def until(self, what: str, happened: Callable[["Watcher"], bool]) -> None:
        """Wait until `happened` is true of this watcher; `what` names it if it never is."""
        with self._changed:
            came = self._changed.wait_for(lambda: happened(self), FAR_S)
        assert came, f"never seen: {what}; last seen: {self.seen[-5:]}"

    def until_topic(self, topic: str, payload: str) -> None:
        """Wait until `topic` says `payload`."""
        self.until(f"{topic} = {payload}", lambda w: w.topics.get(topic) == payload)

    def until_echo(self, topic: str, payload: str) -> None:
        """Wait until `payload` was heard on a topic that keeps nothing."""
        self.until(
            f"{topic} once {payload}",
            lambda w: any(seen.topic == topic and seen.payload == payload for seen in w.seen),
        )

    def send(self, topic: str, payload: bytes | str, *, retain: bool = False) -> None:
        """Publish, and wait until the broker has it."""
        self._client.publish(topic, payload, 1, retain=retain).wait_for_publish(FAR_S)

    def flood(self, topic: str, payload: bytes, count: int, *, retain: bool = False) -> None:
        """Publish without waiting."""
        for _ in range(count):
            self._client.publish(topic, payload, 0, retain=retain)

    def _on_connect(
        self, client: Client, _data: object, _flags: ConnectFlags, _code: ReasonCode, _more: object
    ) -> None:
        client.subscribe("homie/5/#", 1)

    def _on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        text = bytes(message.payload).decode(errors="replace")
        with self._changed:
            self.seen.append(Seen(message.topic, text, message.retain))
            if "/$log/" in message.topic:
                pass  # heard by who is there, and kept by nobody
            elif text:
                self.topics[message.topic] = text
            else:
                self.topics.pop(message.topic, None)
            self._changed.notify_all()
