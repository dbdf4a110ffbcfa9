"""The words of `bainward ordeal`.

Responsible for its options and their help; not for what it does (ordealing).
"""

from pathlib import Path
from typing import TYPE_CHECKING

from controller.commands.values import positive, seed_number

if TYPE_CHECKING:
    import argparse


def add_ordeal(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the others."""
    command = commands.add_parser(
        "ordeal",
        help="break randomly drawn machines of the bench in many ways, and see what is seen",
        description=(
            "Tries faults of the bench in the phases of a profile, on machines drawn at random: "
            "for each machine --each of them are drawn, each with its phase. Prints how soon and "
            "as what each was seen, judged by the true plant. Left out is what stands around a "
            "run (disk, broker, inbox, computer), and the stop button, which is no fault. "
            "Ctrl-C loses nothing: the same command with the same --table goes on."
        ),
        epilog=(
            "exit code 0: no harm came unseen, and nothing tripped that was whole; "
            "1: a run failed, or workers were lost for good; 4: harm came unseen, or "
            "a machine tripped that was whole; 5: interrupted"
        ),
    )
    command.add_argument("profile", metavar="PROFILE", help="a shipped name, or a .toml file")
    command.add_argument(
        "--machines", type=positive, default=100, metavar="N", help="how many (100)"
    )
    command.add_argument(
        "--each", type=positive, default=24, metavar="N", help="faults on each machine (24)"
    )
    command.add_argument("--seed", type=seed_number, default=1, metavar="S", help="of the draw (1)")
    command.add_argument(
        "--first", type=positive, default=1, metavar="N", help="number of the first machine (1)"
    )
    _add_what(command)
    command.add_argument(
        "--table", type=Path, metavar="FILE", help="where the table goes (.csv or .parquet)"
    )
    command.add_argument(
        "--processes", type=positive, metavar="N", help="how many at once (one a core)"
    )


def _add_what(command: "argparse.ArgumentParser") -> None:
    """What is to be broken."""
    command.add_argument(
        "--fault",
        action="append",
        default=[],
        metavar="NAME",
        help="try this one only, like relay-welded; may be repeated",
    )
    command.add_argument(
        "--pairs",
        action="store_true",
        help="break each machine with two faults at a time, drawn from the worst",
    )
    command.add_argument(
        "--rough",
        action="store_true",
        help="break nothing: handle the machines roughly, and count what trips falsely",
    )
