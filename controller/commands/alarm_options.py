"""The words of `bainward alarms`.

Responsible for its options and help; not for what is printed (alarming).
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def add_alarms(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the others."""
    command = commands.add_parser(
        "alarms",
        help="look up what an alarm or a trip means and what to do about it",
        description=(
            "Lists every cause that is told or ends a run, or says of one what is looked at, why "
            "it matters, what to do now, when to call the batch off and what clears it."
        ),
    )
    command.add_argument(
        "cause", nargs="*", metavar="CAUSE", help="its word, like level-lost, or as a screen has it"
    )
