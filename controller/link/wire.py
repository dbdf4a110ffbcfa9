"""paho's client with a bounded appetite: how much it reads ahead, keeps and does in one go.

Responsible for memory and time that others' bytes may cost; not for what they say (session). It
reaches into paho, which has no such bounds: tests/unit/test_link_wire.py fails when that changes.
"""

import contextlib
import socket
import threading
from collections.abc import Iterator

from paho.mqtt.client import Client
from paho.mqtt.enums import MQTTErrorCode

from controller.clock import process_s

# Own engineering values, not published.
AHEAD = 16_384  # bytes of one reading; many small messages come with one system call
LONGEST = (
    65_536  # bytes kept of one packet: the rest is read and let go, and nobody takes such a one
)
FRAME = 1_048_576  # bytes of one websocket frame, which paho gathers whole
UNREAD = 4096  # packets that wait for a broker to read them; a tree and a burst's answers are few
# A flood is worked off in bursts. A thread that rests most of the time is neither often in the
# way of the control loop's, nor put aside by the kernel while it holds what that one waits for.
BURST_S = 0.001


class BoundedClient(Client):
    """Reads ahead, so that a message costs few system calls, and keeps no more than it must."""

    _ahead = b""
    _at = 0
    _line: socket.socket | None = None

    @contextlib.contextmanager
    def within(self, seconds: float) -> Iterator[None]:
        """Hang up when handshakes take longer altogether: paho waits for each byte anew."""
        timer = threading.Timer(seconds, self._hang_up)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            line, self._line = self._line, None
            if line is not None:
                line.close()

    def _hang_up(self) -> None:
        line = self._line
        if line is not None:
            with contextlib.suppress(OSError):  # it has been hung up already
                line.shutdown(socket.SHUT_RDWR)

    @property
    def has_more(self) -> bool:
        """Whether bytes were read ahead that nobody has looked at."""
        return self._at < len(self._ahead)

    @property
    def is_owed(self) -> bool:
        """Whether a message waits for the second half of quality 2, which nobody asked for."""
        return bool(self._in_messages)

    @property
    def is_unread(self) -> bool:
        """Whether so much waits to be written that the broker talks and doesn't listen."""
        return len(self._out_packet) > UNREAD

    def burst(self) -> MQTTErrorCode:
        """Handle what was read ahead, for a moment; what came of it."""
        until_s = process_s() + BURST_S
        code = MQTTErrorCode.MQTT_ERR_SUCCESS
        while self.has_more and code == MQTTErrorCode.MQTT_ERR_SUCCESS and process_s() < until_s:
            code = self.loop_read()
        return code

    def _create_socket_connection(self) -> socket.socket:
        sock = super()._create_socket_connection()
        self._line = sock.dup()  # TLS takes the first for itself
        return sock

    def _sock_recv(self, bufsize: int) -> bytes:
        if not self.has_more:
            self._ahead, self._at = super()._sock_recv(AHEAD), 0
            # paho gathers a frame in its wrapper of the socket before it hands over a byte.
            if len(getattr(self._sock, "_readbuffer", b"")) > FRAME:
                raise ConnectionError("a websocket frame is too long")
        taken = self._ahead[self._at : self._at + bufsize]
        self._at += len(taken)
        packet = self._in_packet["packet"]
        if len(packet) > LONGEST:
            del packet[LONGEST:]
        return taken
