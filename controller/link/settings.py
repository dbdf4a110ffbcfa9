"""What the link needs to know of the broker and of itself.

Responsible for the settings' shape and for what they would give away; not for reading them from a
file (controller/files).
"""

import ipaddress
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

PATH = "/mqtt"  # of a broker's websockets, as brokers have it unless told otherwise


@dataclass(frozen=True, slots=True, kw_only=True)
class Tls:
    """An encrypted connection: whom to trust, and as whom to come."""

    ca_file: Path  # the authority that signed the broker's certificate
    certificate_file: Path | None = None  # our own, where the broker wants one
    key_file: Path | None = None


class Remote(StrEnum):
    """Who may ask over the link for what adds energy."""

    OFF = "off"  # nobody
    ACCESS_LIST = "access-list"  # whom the broker lets write the topic
    SIGNED = "signed"  # whoever has the key, whatever the broker does


class Transport(StrEnum):
    """What carries MQTT to the broker."""

    TCP = "tcp"
    WEBSOCKETS = "websockets"  # where a network lets nothing else through


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkSettings:
    """Where to publish and as whom."""

    host: str = "127.0.0.1"
    port: int = 1883
    transport: Transport = Transport.TCP
    path: str = PATH  # of the broker's websockets
    device_id: str = "bainward"  # Homie device id: a-z, 0-9 and hyphens
    username: str | None = None
    password_file: Path | None = None
    password_variable: str | None = None  # name of an environment variable
    tls: Tls | None = None
    remote: Remote = Remote.OFF
    signing_key_file: Path | None = None  # for `Remote.SIGNED`
    fahrenheit: bool = False
    home_assistant: bool = False  # whether a hub is told where everything is

    @property
    def files(self) -> tuple[Path, ...]:
        """Every file that must be read to use it."""
        tls = self.tls
        trust = () if tls is None else (tls.ca_file, tls.certificate_file, tls.key_file)
        named = (self.password_file, self.signing_key_file, *trust)
        return tuple(one for one in named if one is not None)

    @property
    def in_plain(self) -> str | None:
        """What would go over a network for all to read and change, and what to do; None if nothing.

        Whoever is on the way reads a password there, and may put words into the mouth of whom an
        access list trusts. A signature needs no such secrecy.
        """
        if self.tls is not None or _is_this_computer(self.host):
            return None
        if self.password_file is not None or self.password_variable is not None:
            risk = "the password would go in plain"
        elif self.remote is Remote.ACCESS_LIST:
            risk = '"access-list" would take requests for heat that come in plain'
        else:
            return None
        return (
            f"{risk} over the network to {self.host}; write ca with the authority of its "
            "certificate, or take a broker on this computer"
        )


def _is_this_computer(host: str) -> bool:
    """By its name alone: nobody is asked."""
    if host.casefold() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
