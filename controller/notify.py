"""What a process tells the service manager that supervises it, after sd_notify(3).

Responsible for one datagram to the socket that the manager names; not for when it is due.
"""

import os
import socket


def ready() -> bool:
    """Say that start-up is over. Returns whether a manager was told."""
    return _say("READY=1")


def alive() -> bool:
    """Feed the manager's watchdog. Returns whether a manager was told."""
    return _say("WATCHDOG=1")


def stopping() -> bool:
    """Say that the end has begun. Returns whether a manager was told."""
    return _say("STOPPING=1")


def _say(word: str) -> bool:
    """Send one word without ever waiting: a manager that is stuck must not hold up the guard."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address.startswith(("/", "@")):
        return False  # nobody supervises this process, or over a transport not spoken here
    if address.startswith("@"):  # Linux's abstract names begin with a NUL
        address = "\0" + address[1:]
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as channel:
            channel.setblocking(False)
            channel.sendto(word.encode(), address)
    except OSError:
        return False  # told too late or not at all, the manager acts by itself: that is its office
    return True
