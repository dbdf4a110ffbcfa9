"""Brokers for tests: a real one as a process, a scripted one on a bare socket.

Responsible for starting, killing and freezing them; not for any expectation.
"""

import signal
import socket
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import iotcore

from controller.link.broker import EmbeddedBroker

WELCOME = b"\x20\x02\x00\x00"  # CONNACK, accepted: MQTT 3.1.1, section 3.2
START_WAIT_S = 60.0  # never reached unless something is wrong


def free_port() -> int:
    """A loopback port that nobody holds just now."""
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        port: int = sock.getsockname()[1]
    return port


def accepts(port: int) -> bool:
    """Whether somebody takes connections there."""
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1.0).close()
    except OSError:
        return False
    return True


class Broker(Protocol):
    """A broker that can be killed and started again on its port."""

    port: int
    mqtt5: bool

    def start(self) -> None:
        """Run, and take connections when this returns."""
        ...

    def kill(self) -> None:
        """End at once, without a word to anybody."""
        ...


class Mosquitto:
    """A mosquitto process on loopback, with a configuration of its own."""

    mqtt5 = True

    def __init__(self, executable: str, folder: Path, *, websockets: bool = False) -> None:
        """Prepare; nothing runs yet."""
        self.port, self.websockets_port = free_port(), free_port()
        self._executable = executable
        self._config = folder / "mosquitto.conf"
        self._config.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\npersistence false\n"
            "set_tcp_nodelay true\n"
        )
        if websockets:
            with self._config.open("a", encoding="utf-8") as config:
                # Without the domain it would listen everywhere.
                config.write(
                    f"listener {self.websockets_port} 127.0.0.1\nprotocol websockets\n"
                    "socket_domain ipv4\n"
                )
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Run, and take connections when this returns."""
        self._process = subprocess.Popen(
            [self._executable, "-c", str(self._config)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        waited = threading.Event()
        for _ in range(int(START_WAIT_S / 0.02)):
            if accepts(self.port):
                return
            waited.wait(0.02)
        raise AssertionError("mosquitto did not start")

    @staticmethod
    def has_websockets(executable: str) -> bool:
        """Whether it is built with them: linked with a library, or with its own."""
        linked = subprocess.run(["ldd", executable], capture_output=True, check=False).stdout
        return (
            b"libwebsockets" in linked or b"Sec-WebSocket-Accept" in Path(executable).read_bytes()
        )

    def kill(self) -> None:
        """End at once, without a word to anybody."""
        self.signal(signal.SIGCONT)
        self.signal(signal.SIGKILL)
        if self._process is not None:
            self._process.wait(START_WAIT_S)
            self._process = None

    def signal(self, number: signal.Signals) -> None:
        """Send it a signal, such as SIGSTOP to freeze it."""
        if self._process is not None:
            self._process.send_signal(number)


class Embedded:
    """The embedded broker in the same shape."""

    mqtt5 = False

    def __init__(self) -> None:
        """Prepare; nothing runs yet."""
        self.port = free_port()
        self._broker = EmbeddedBroker(self.port)

    def start(self) -> None:
        """Run, and take connections when this returns."""
        self._broker.start()

    def kill(self) -> None:
        """End it."""
        self._broker.stop()


class Websockets:
    """The embedded broker with websockets besides, in plain and, given a certificate, encrypted.

    Debian's mosquitto is built without them.
    """

    mqtt5 = False

    def __init__(self, folder: Path, certificate: Path, key: Path) -> None:
        """Prepare; nothing runs yet."""
        self.port, self.plain_port, self.tls_port = free_port(), free_port(), free_port()
        listeners = (
            ("v4.1", self.port, ""),
            ("ws.1", self.plain_port, ""),
            ("ws.2", self.tls_port, f'certpath = "{certificate}"\nkeypath = "{key}"\n'),
        )
        self._config = folder / "websockets.toml"
        self._config.write_text(_ROUTER + "".join(_listener(*one) for one in listeners))
        self._broker: iotcore.Broker | None = None

    def start(self) -> None:
        """Run, and take connections on every port when this returns."""
        self._broker = iotcore.Broker(config_path=str(self._config))
        self._broker.start()

    def kill(self) -> None:
        """End it."""
        if self._broker is not None:
            self._broker.stop()


_ROUTER = """
id = 0
[router]
id = 0
max_connections = 64
max_outgoing_packet_count = 200
max_segment_size = 262144
max_segment_count = 4
"""


def _listener(name: str, port: int, tls: str) -> str:
    return f"""
[{name}]
name = "{name}"
listen = "127.0.0.1:{port}"
next_connection_delay_ms = 1
[{name}.connections]
connection_timeout_ms = 5000
max_payload_size = 20480
max_inflight_count = 100
dynamic_filters = true
""" + (f"[{name}.tls]\n{tls}" if tls else "")


class Scripted:
    """A server that answers each connection with what a function says, then listens to nothing."""

    def __init__(self, answer: Callable[[socket.socket], None]) -> None:
        """Listen at once; `answer` is given each connection after CONNECT has come in."""
        self._answer = answer
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._server.getsockname()[1]
        self.connections: list[socket.socket] = []
        self.connects: list[bytes] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Hang up on everybody."""
        self._server.shutdown(socket.SHUT_RDWR)
        self._thread.join()
        self._server.close()
        for connection in self.connections:
            connection.close()

    def _serve(self) -> None:
        while True:
            try:
                connection, _ = self._server.accept()
            except OSError:
                return
            self.connections.append(connection)
            try:
                self.connects.append(connection.recv(4096))
                self._answer(connection)
            except OSError:
                continue
