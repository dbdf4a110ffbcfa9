"""The words of `bainward service` and `bainward health`.

Responsible for their options and their help; not for what they do.
"""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


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
    command.add_argument(
        "folder",
        nargs="?",
        type=Path,
        default=Path("/etc/systemd/system"),
        metavar="DIR",
        help="where to write them (/etc/systemd/system)",
    )


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
