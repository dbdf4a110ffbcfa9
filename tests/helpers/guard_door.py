"""A guard's door and those who come to it, in the test's own process.

Responsible for opening; not for any expectation.
"""

import socket
from contextlib import ExitStack

from controller.guard.door import Door
from controller.guard.voice import Voice


def a_door(*places: str) -> Door:
    """A door at the first of these places, in a minute that never ends."""
    return Door(places, Voice(lambda: 0))


def guest(place: str, stack: ExitStack) -> socket.socket:
    """Somebody who came in."""
    connection = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    connection.settimeout(30.0)
    connection.connect(place)
    return stack.enter_context(connection)
