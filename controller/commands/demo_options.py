"""The words of `bainward demo`.

Responsible for its parser; not for what it shows (demoing).
"""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def add_demo(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    command = commands.add_parser(
        "demo",
        help="see what the bench can show, in simulated time",
        description=(
            "Plays a scene on the simulated bench. trap: the same seed given all at once, which "
            "melts out, and with its last third held back, which ends in temper."
        ),
    )
    command.add_argument("scene", choices=("trap",), metavar="SCENE", help="trap")
    command.add_argument(
        "--journal-dir", type=Path, metavar="DIR", help="where the records are written"
    )
    command.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
