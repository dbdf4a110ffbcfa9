"""The words of `bainward demo`.

Responsible for its parser; not for what it shows (demoing).
"""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

SCENES = ("batch", "trap")


def add_demo(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    command = commands.add_parser(
        "demo",
        help="see a whole batch, or the trap of seeding, on the bench",
        description=(
            "Plays a scene on the simulated bench, in simulated time. batch: a hollow egg and "
            "forty-eight candied-peel sticks by three, in a warm, humid kitchen at 850 m, from the "
            "plan to the batch page. trap: the same seed given all at once, which melts out, and "
            "with its last third held back, which ends in temper."
        ),
    )
    command.add_argument(
        "scene", nargs="?", choices=SCENES, default="batch", metavar="SCENE", help="batch or trap"
    )
    command.add_argument(
        "--journal-dir", type=Path, metavar="DIR", help="where the records are written"
    )
    command.add_argument(
        "--page", type=Path, metavar="FILE", help="the batch page (.html; beside the record)"
    )
    command.add_argument("--open", action="store_true", help="open the page in a browser")
    command.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
