"""What pushing needs to know: whom to tell, how, what, and when to keep quiet.

Responsible for the settings' shape and for hours of the day; not for reading them from a file
(controller/files).
"""

import ipaddress
from dataclasses import dataclass
from datetime import time
from enum import StrEnum
from pathlib import Path
from urllib.parse import urlsplit


class Kind(StrEnum):
    """What a message is about."""

    ALARM = "alarm"
    QUESTION = "question"
    STATE = "state"  # where the run stands: begun, ready, paused, over


class Protocol(StrEnum):
    """How a message is handed over."""

    NTFY = "ntfy"  # HTTP POST to a topic, with title and priority as headers
    UNIFIEDPUSH = "unifiedpush"  # HTTP POST of the bare message, with the headers of RFC 8030
    COMMAND = "command"  # a program on this computer, the message at its standard input


@dataclass(frozen=True, slots=True, kw_only=True)
class Quiet:
    """A time of each day, by this computer's clock and zone, in which only what presses is told."""

    begins: time
    ends: time

    def holds(self, now: time) -> bool:
        """Whether `now` lies within; over midnight where it begins later than it ends."""
        if self.begins <= self.ends:
            return self.begins <= now < self.ends
        return now >= self.begins or now < self.ends


@dataclass(frozen=True, slots=True, kw_only=True)
class PushSettings:
    """Whom to tell what, and how."""

    protocol: Protocol
    url: str = ""  # of the topic or endpoint
    token_file: Path | None = None
    ca_file: Path | None = None  # the authority of a service of one's own
    command: tuple[str, ...] = ()  # program and arguments, never a shell's line
    kinds: frozenset[Kind] = frozenset(Kind)
    most: int = 12  # messages in ten minutes, alarms of high priority aside; own engineering value
    quiet: Quiet | None = None

    @property
    def in_plain(self) -> str | None:
        """Why a token would be there for all to read, and what to do; None if it wouldn't."""
        if self.token_file is None or not self.url.startswith("http:"):
            return None
        host = urlsplit(self.url).hostname or ""
        try:
            is_near = host == "localhost" or ipaddress.ip_address(host).is_loopback
        except ValueError:
            is_near = False
        if is_near:
            return None
        return f"the token would go in plain over the network to {host}; write an https address"
