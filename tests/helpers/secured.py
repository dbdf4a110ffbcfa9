"""The broker as the project ships it: set up by our own command, run by a real mosquitto.

Responsible for the files, the process and who may log in as whom; not for any expectation.
"""

import ssl
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path

from controller.commands.main import main
from controller.errors import Exit
from controller.link.settings import LinkSettings, Tls
from tests.helpers.brokers import START_WAIT_S, Mosquitto, accepts, free_port

DEVICE = "bainward"


@dataclass(frozen=True, slots=True, kw_only=True)
class Login:
    """As whom an onlooker's client comes, and whom it trusts."""

    user: str
    password: str
    ca_file: Path

    @property
    def context(self) -> ssl.SSLContext:
        """For its encrypted connection."""
        return ssl.create_default_context(cafile=str(self.ca_file))


class Secured(Mosquitto):
    """A mosquitto with the shipped configuration, on free ports of loopback."""

    def __init__(self, executable: str) -> None:
        """Set it up with our command; nothing runs yet."""
        self._home = tempfile.TemporaryDirectory(prefix="bainward-secured-")
        home = Path(self._home.name)
        # A mosquitto that root starts goes on as another user, who must reach its files.
        home.chmod(0o711)
        super().__init__(executable, home)
        self.folder = home / "set-up"
        self.device_port = free_port()
        ports = ["--port", str(self.port), "--device-port", str(self.device_port)]
        assert main(["broker-setup", str(self.folder), "--host", "localhost", *ports]) == Exit.DONE
        self._config = self.folder / "broker" / "mosquitto.conf"

    def start(self) -> None:
        """Run, and take connections on both ports when this returns."""
        super().start()
        waited = threading.Event()
        for _ in range(int(START_WAIT_S / 0.02)):
            if accepts(self.device_port):
                return
            waited.wait(0.02)
        raise AssertionError("mosquitto did not open the machine's port")

    def kill(self) -> None:
        """End it, and take its files away."""
        super().kill()
        self._home.cleanup()

    def login(self, role: str) -> Login:
        """A phone in that role."""
        phone = self.folder / "phone"
        password = (phone / f"{role}.password").read_text("utf-8").strip()
        return Login(user=role, password=password, ca_file=phone / "ca.crt")

    @property
    def settings(self) -> LinkSettings:
        """The machine's."""
        device = self.folder / "device"
        tls = Tls(
            ca_file=device / "ca.crt",
            certificate_file=device / "device.crt",
            key_file=device / "device.key",
        )
        return LinkSettings(host="localhost", port=self.device_port, device_id=DEVICE, tls=tls)
