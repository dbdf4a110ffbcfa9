"""The words of `bainward service` and `bainward health`.

Responsible for their options and their help; not for what they do.
"""

import argparse
from pathlib import Path

from controller.commands.page_options import LISTEN, listen_at


def add_service(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the others."""
    command = commands.add_parser(
        "service",
        help="write systemd units for the guard and for runs",
        description="Writes systemd units for the guard and for runs of one machine.",
    )
    command.add_argument("--machine", type=Path, metavar="FILE", required=True)
    command.add_argument("--user", metavar="NAME", help="whom guard and runs run as (root)")
    command.add_argument(
        "--notify", type=Path, metavar="FILE", help="a unit for this push file, too"
    )
    _add_page(command)
    command.add_argument(
        "folder",
        nargs="?",
        type=Path,
        default=Path("/etc/systemd/system"),
        metavar="DIR",
        help="where to write them (/etc/systemd/system)",
    )


def _add_page(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--page",
        nargs="?",
        type=listen_at,
        const=LISTEN,
        metavar="ADDRESS:PORT",
        help="a unit for the page, too, served there (127.0.0.1:8080)",
    )
    for name, what in (
        ("password", "let who knows its password ask for things"),
        ("certificate", "the page's, to serve it encrypted"),
        ("key", "the certificate's key"),
    ):
        command.add_argument(f"--page-{name}", type=Path, metavar="FILE", help=what)


def add_health(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the others."""
    command = commands.add_parser(
        "health",
        help="look whether computer, service, devices and proofs are fit for a run",
        description=(
            "Looks, with nothing energised and nothing changed, whether the computer, the guard's "
            "service, users and permissions, thermometers, broker, proofs and records are as they "
            "should be. One sentence for each finding. Exit code 9 if one is a fault, 0 for "
            "remarks alone."
        ),
    )
    command.add_argument("--machine", type=Path, metavar="FILE", required=True)
