"""One connection to a broker, from CONNECT to its loss. Only this and wire know paho.

Responsible for sending, acknowledgements and time-outs; not for what is sent (publisher) nor for
trying again (link). One thread uses it; it runs paho's network loop itself, so paho has no thread
that could die unseen.
"""

import socket
import ssl
import struct
import threading
from collections.abc import Callable

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage, error_string
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from controller.clock import process_s
from controller.link.settings import LinkSettings, Transport
from controller.link.wire import BoundedClient

QOS = 1  # mixed QoS would lose the order of messages
KEEPALIVE_S = 15
CONNECT_WAIT_S = 3.0  # for TCP
HANDSHAKES_S = 10.0  # TCP, TLS and websockets, altogether
CONNACK_WAIT_S = 5.0
ACK_WAIT_S = 20.0  # the oldest unanswered message: older means that the broker hangs
QUEUE = 256  # messages on their way; a tree has about 30
REST_S = 0.002  # after a burst, while more waits to be read
# Waiting times and the queue: own engineering values, not published.


def _ignore(*_: object) -> None:
    """Until somebody listens."""


def _hasten(_client: Client, _data: object, sock: object) -> None:
    """Small messages must not wait for one another's acknowledgement (RFC 896's algorithm)."""
    line = getattr(sock, "_socket", sock)  # paho wraps one that carries websockets
    if isinstance(line, socket.socket):
        line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


class LinkLostError(Exception):
    """The connection is gone, or never came to be; the text says why."""


# What paho 2 can let out of its network loop when a broker talks nonsense, besides what sockets
# raise: short or broken packets end in struct, index, key, type or value errors (a bad UTF-8 topic
# is a ValueError), and a socket closed half-way in attribute errors. Each ends the connection.
BROKEN = (
    LinkLostError,
    OSError,
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    RuntimeError,
    struct.error,
)


def reason_of(error: BaseException) -> str:
    """What one of those says, as part of a sentence of ours."""
    said = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return str(said).rstrip(".")


Heard = Callable[[str, bytes, bool], None]
"""Called with topic ("" when it isn't UTF-8), payload, and whether the broker had kept it."""


class Session:
    """A connection that is opened once and dropped once."""

    def __init__(
        self,
        settings: LinkSettings,
        *,
        password: str | None,
        client_id: str | None = None,
        tls: ssl.SSLContext | None = None,
        will: tuple[str, str] | None = None,
        is_missed: bool = False,
    ) -> None:
        """Prepare; `will` is the topic and payload that the broker sends when we are lost.

        `client_id` is our name at the broker, the device id unless given. `is_missed` lets the
        broker keep for us what comes while we are away, as far as it does that.
        """
        self._settings = settings
        self._rest = threading.Event()  # nobody sets it
        self._waiting: dict[int, float] = {}  # message id -> when it was sent
        self._asking: int | None = None  # message id of a subscription that waits for its answer
        self._connack: ReasonCode | None = None
        self._subscribed: Callable[[bool], None] = _ignore
        self._heard: Heard = _ignore
        client = BoundedClient(
            CallbackAPIVersion.VERSION2,
            # The same id after every start: else the broker sends our old will over our new state.
            client_id=client_id or settings.device_id,
            # Commands sent while the machine was away are never executed.
            clean_session=not is_missed,
            protocol=MQTTProtocolVersion.MQTTv311,  # every broker speaks it
            transport=settings.transport.value,
            reconnect_on_failure=False,
        )
        if settings.transport is Transport.WEBSOCKETS:
            client.ws_set_options(path=settings.path)
        client.connect_timeout = CONNECT_WAIT_S
        client.max_queued_messages_set(QUEUE)
        if will is not None:
            client.will_set(will[0], will[1], QOS, retain=True)
        if settings.username is not None:
            client.username_pw_set(settings.username, password)
        if tls is not None:
            client.tls_set_context(tls)
        self._client = client
        self._hear_from(client)

    def _hear_from(self, client: BoundedClient) -> None:
        client.on_socket_open = _hasten
        client.on_connect = self._on_connect
        client.on_publish = self._on_publish
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message

    def open(self, heard: Heard) -> None:
        """Connect and wait for the broker's welcome; `heard` gets every message from then on.

        Raises:
            LinkLostError: The broker said no, or nothing.
            OSError: Nobody listens there.
        """
        self._heard = heard
        with self._client.within(HANDSHAKES_S):
            self._client.connect(self._settings.host, self._settings.port, KEEPALIVE_S)
        until_s = process_s() + CONNACK_WAIT_S
        while self._connack is None:
            left_s = until_s - process_s()
            if left_s <= 0:
                raise LinkLostError("the broker took the connection and then said nothing")
            code = self._client.loop(left_s)
            if self._connack is None:  # else its own words say more
                self._check(code)
        if self._connack.is_failure:
            raise LinkLostError(f"the broker refused the connection: {self._connack}")

    def step(self, wait_s: float) -> None:
        """Let messages flow, waiting at most `wait_s` for the first.

        Raises:
            LinkLostError: The connection is gone, or the broker has stopped answering.
        """
        codes = [self._client.loop(wait_s)]
        if not codes[0]:
            codes.append(self._client.burst())
        if self._client.is_owed:
            raise LinkLostError("the broker sends messages in halves and keeps the second ones")
        if self._client.is_unread:
            raise LinkLostError("the broker wants answers and does not read them")
        self._check(codes[-1])
        if self._client.has_more or self._client.want_write():
            self._rest.wait(REST_S)
        # Insertion order is the order of sending, so the first is the oldest.
        oldest_s = next(iter(self._waiting.values()), None)
        if oldest_s is not None and process_s() - oldest_s > ACK_WAIT_S:
            raise LinkLostError("the broker has stopped acknowledging messages")

    def publish(self, topic: str, payload: str, *, retain: bool = True) -> None:
        """Send one message; it is on its way when this returns, no more.

        Raises:
            LinkLostError: There is no connection, or too much is on its way.
        """
        info = self._client.publish(topic, payload.encode(errors="replace"), QOS, retain=retain)
        self._check(info.rc)
        self._waiting[info.mid] = process_s()

    def subscribe(
        self, topics: tuple[str, ...], then: Callable[[bool], None], *, qos: int = QOS
    ) -> None:
        """Ask for topics; `then` is called with whether the broker grants all of them.

        With a `qos` of 0 what comes while we are away is not kept for us.

        Raises:
            LinkLostError: There is no connection.
        """
        code, mid = self._client.subscribe([(topic, qos) for topic in topics])
        if mid is None or code != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise LinkLostError(error_string(code))
        self._subscribed, self._asking = then, mid
        self._waiting[mid] = process_s()

    def flush(self, until_s: float) -> bool:
        """Wait for every acknowledgement, not longer than `until_s`; False when some are missing.

        Raises:
            LinkLostError: The connection is gone.
        """
        while self._waiting:
            left_s = until_s - process_s()
            if left_s <= 0:
                return False
            self.step(left_s)
        return True

    @property
    def room(self) -> int:
        """How many more messages may be on their way."""
        return QUEUE - len(self._waiting)

    def leave(self) -> None:
        """Take leave of the broker, so that it doesn't send the will."""
        self._client.disconnect()

    def drop(self) -> None:
        """Close the socket; without `leave` before, the broker sends the will."""
        client = self._client
        client.on_connect = client.on_publish = client.on_subscribe = client.on_message = None
        sock = client.socket()
        if sock is not None:
            sock.close()

    def _check(self, code: MQTTErrorCode) -> None:
        if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise LinkLostError(error_string(code))

    def _on_connect(
        self, _client: Client, _data: object, _flags: ConnectFlags, code: ReasonCode, _more: object
    ) -> None:
        self._connack = code

    def _on_publish(
        self, _client: Client, _data: object, mid: int, _code: ReasonCode, _more: Properties
    ) -> None:
        self._waiting.pop(mid, None)

    def _on_subscribe(
        self, _client: Client, _data: object, mid: int, codes: list[ReasonCode], _more: object
    ) -> None:
        if mid != self._asking:
            return  # nobody asked; a broker that says so in floods would fill the log
        self._asking = None
        self._waiting.pop(mid, None)
        self._subscribed(not any(code.is_failure for code in codes))

    def _on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = ""
        self._heard(topic, bytes(message.payload), message.retain)
