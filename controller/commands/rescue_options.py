"""The words of `bainward rescue` and `bainward leave`.

Responsible for their options and help; not for what they mean (rescuing, leaving).
"""

import argparse
from pathlib import Path

from controller.commands.book_options import RUN_HELP
from controller.core.mishaps import MISHAPS

# Each quantity's option, its placeholder and its help.
QUANTITIES = (
    ("at", "TEMP", "how warm or cold the bowl was, like 36 C"),
    ("for", "TIME", "for how long, like 12 min"),
    ("amount", "MASS", "of the seed or the melt that went in, like 150 g"),
    ("bowl", "TEMP", "the bowl now (where the mishap left it)"),
    ("batch", "MASS", "what is in the bowl, like 1.5 kg (as the machine's file says)"),
    ("room", "TEMP", "the room (as the machine's file says)"),
    ("tap", "TEMP", "cold water from the tap (as the machine's file says)"),
)


def add_leave(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the question whether a run may be left."""
    command = commands.add_parser(
        "leave",
        help="ask a run whether you may leave it for a while",
        description=(
            "Asks a run on this computer whether you may leave it for a while, like 20 min: yes, "
            "yes if you do something first, or no, and what to expect on return."
        ),
    )
    command.add_argument("--machine", metavar="MACHINE", help="of several runs, this machine's")
    command.add_argument("time", nargs="+", metavar="TIME", help="how long, like 20 min or 1 h")


def add_rescue(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the others."""
    rows = "\n".join(f"  {one.word:20}{one.what}" for one in MISHAPS)
    command = commands.add_parser(
        "rescue",
        help="say how a batch that went wrong comes back into temper",
        description=(
            "Says how a batch that went wrong comes back into temper: each possible action is\n"
            "fast-forwarded, and the cheapest that ends in temper is told, by time, then by mass.\n"
            "Without a mishap it goes by the record of a run of this machine."
        ),
        epilog=f"mishaps:\n{rows}\n",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("mishap", nargs="?", metavar="MISHAP", help="what happened; see below")
    for key, placeholder, text in QUANTITIES:
        command.add_argument(f"--{key}", dest=f"{key}_", metavar=placeholder, help=text)
    command.add_argument("--chocolate", metavar="KIND", help="dark (usual), milk or white")
    command.add_argument(
        "--without",
        metavar="LIST",
        default="",
        help="not at hand: seed, melt, or both with a comma",
    )
    command.add_argument(
        "--run", metavar="RUN", default="last", help=f"the run to go by: {RUN_HELP}"
    )
    command.add_argument("--tries", action="store_true", help="of the runs of try, on the bench")
    command.add_argument("--folder", type=Path, metavar="DIR", help="where the records are")
    command.add_argument(
        "--machine", metavar="MACHINE", help="a machine file, or one of the bench (reference)"
    )
    command.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
