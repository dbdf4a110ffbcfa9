"""The words of the command `page`.

Responsible for its options; not for what it does.
"""

import argparse
from ipaddress import ip_address
from pathlib import Path

LISTEN = ("127.0.0.1", 8080)
MAX_PORT = 65535


def listen_at(text: str) -> tuple[str, int]:
    """An address of this computer and a port; port 0 means any that is free."""
    host, _, port = text.rpartition(":")
    host = host.strip("[]")
    host = "127.0.0.1" if host == "localhost" else host
    try:
        host = str(ip_address(host))
        number = int(port) if port.isdecimal() else -1
    except ValueError:
        number = -1
    if not 0 <= number <= MAX_PORT:
        raise argparse.ArgumentTypeError(
            f"{text} is no place to listen at: write ADDRESS:PORT, such as 127.0.0.1:8080, or "
            "0.0.0.0:8080 for the whole network"
        )
    return host, number


def add_page(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> argparse.ArgumentParser:
    """The command and what is its own; whom to show is added by who knows the others' options."""
    command = commands.add_parser(
        "page",
        help="serve a web page that shows a machine",
        description=(
            "Serves a web page that shows a machine from across the room, from what it says over "
            "MQTT, until Ctrl-C or a signal ends it. It only shows, unless a password is set: then "
            "who knows it may answer, pause and stop; what leads to heat is taken where the "
            "machine file's remote allows it."
        ),
    )
    command.add_argument(
        "--listen",
        type=listen_at,
        default=LISTEN,
        metavar="ADDRESS:PORT",
        help="where to serve it (127.0.0.1:8080; 0.0.0.0:8080 is the whole network)",
    )
    command.add_argument(
        "--host",
        action="append",
        default=[],
        metavar="NAME",
        help="another name by which browsers may ask for it, may be repeated",
    )
    command.add_argument(
        "--password", type=Path, metavar="FILE", help="let who knows its password ask for things"
    )
    command.add_argument(
        "--set-password", type=Path, metavar="FILE", help="ask for a password, keep it, and end"
    )
    command.add_argument(
        "--certificate", type=Path, metavar="FILE", help="the server's, to serve it encrypted"
    )
    command.add_argument("--key", type=Path, metavar="FILE", help="the certificate's key")
    return command
