"""A broker of our own for the bench, when nothing else is installed.

Responsible for running it on loopback with little memory; not for a broker at home, which must
outlive the daemon to say that it is lost (use mosquitto there).
"""

import importlib
import signal
import tempfile
from pathlib import Path
from typing import Protocol

from controller.errors import BusyError, UsageError

LOOPBACK = "127.0.0.1"

# Its default keeps up to 1 GiB of passed messages; a run on the bench needs far less than this.
# MQTT 3.1.1 only: its MQTT 5 listener mishandles message expiry. Own engineering values.
_CONFIG = """
id = 0

[router]
id = 0
max_connections = 64
max_outgoing_packet_count = 200
max_segment_size = 262144
max_segment_count = 4

[v4.1]
name = "loopback"
listen = "{listen}"
next_connection_delay_ms = 1

[v4.1.connections]
connection_timeout_ms = 5000
max_payload_size = 20480
max_inflight_count = 100
dynamic_filters = true
"""


class _Process(Protocol):
    def start(self) -> object: ...

    def stop(self) -> None: ...


class EmbeddedBroker:
    """A broker in a child process that ends with this one, bound to loopback."""

    def __init__(self, port: int) -> None:
        """Nothing runs before `start`."""
        self._port = port
        self._process: _Process | None = None

    @property
    def port(self) -> int:
        """Where it listens."""
        return self._port

    def start(self) -> None:
        """Start it and wait until it takes connections.

        Raises:
            UsageError: The extra `broker` is not installed.
            BusyError: The port is taken.
        """
        try:
            iotcore = importlib.import_module("iotcore")
        except ImportError as error:
            raise UsageError(
                "There is no embedded broker here: install it with pip install '.[broker]', "
                "or name a broker with --broker HOST:PORT."
            ) from error
        with tempfile.TemporaryDirectory(prefix="bainward-broker-") as folder:
            config = Path(folder) / "broker.toml"
            config.write_text(_CONFIG.format(listen=f"{LOOPBACK}:{self._port}"), encoding="utf-8")
            # The child inherits the mask: Ctrl-C is for us, who say goodbye through it first.
            mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
            try:
                process: _Process = iotcore.Broker(config_path=str(config))
                process.start()
            except (OSError, RuntimeError) as error:
                raise BusyError(
                    f"The embedded broker can't listen on {LOOPBACK}:{self._port}: {error}. "
                    "End the program that holds the port, or name a broker with "
                    "--broker HOST:PORT."
                ) from error
            finally:
                signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        self._process = process

    def stop(self) -> None:
        """End it and free the port; safe to call twice."""
        if self._process is not None:
            self._process.stop()
            self._process = None
