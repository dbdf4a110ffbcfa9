"""One message to a phone: what is told, how pressing it is, and which one it is.

Responsible for the shape and for bounds on it; not for its words (telling).
"""

from dataclasses import dataclass

from controller.core.interlock_rows import Priority
from controller.push.settings import Kind

LONGEST_BYTES = 3800  # both protocols take 4096 at least; the rest is for title and age


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """What is to be told, before it has a number."""

    kind: Kind
    priority: Priority
    title: str  # plain ASCII of our own: it goes into a header
    text: str  # the whole sentence: what, why, what to do
    about: str  # the topic that it is about, below the machine's own
    value: str  # what that topic said, so that it can be seen whether that is over


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A message on its way out."""

    number: int
    id: str  # the same however often it is tried
    message: Message
    at_s: float  # when it came up, seconds since the epoch
    is_held: bool  # quiet hours have kept it back


def cleaned(text: str) -> str:
    """Somebody's words on one line, without what steers a screen, and not too long."""
    line = " ".join("".join(one if one.isprintable() else " " for one in text).split())
    data = line.encode()  # a lone surrogate is not printable
    if len(data) <= LONGEST_BYTES:
        return data.decode()
    return data[:LONGEST_BYTES].decode(errors="ignore") + " ..."
