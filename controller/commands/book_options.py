"""The words of `bainward book`.

Responsible for its parser; not for what it does (booking).
"""

import argparse
from pathlib import Path

from controller.commands.values import humidity

RUN_HELP = "a part of the run's name, or last"
# As the notes know them (controller/book/notes.py): spelt out here, for a parser starts quickly.
WORDS = {
    "set-test": ("clean", "streaked", "not-set"),
    "gloss": ("glossy", "dull", "streaked"),
    "snap": ("clean", "soft", "crumbles"),
    "bloom": ("none", "specks", "film"),
}


def add_book(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    command = commands.add_parser(
        "book",
        help="the batch book: list, open and compare runs, and note how they turned out",
        description="The batch book: every run with its figures, and what you note of it later.",
    )
    add_shelf(command)
    actions = command.add_subparsers(dest="action", required=True, metavar="ACTION")
    listed = actions.add_parser("list", help="a line a run, newest first")
    listed.add_argument("--machine", default="", metavar="NAME", help="of this machine alone")
    opened = _of_run(actions, "open", "print all of one run, and what was noted of it")
    opened.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
    _note(_of_run(actions, "note", "note how a batch turned out; what is not named stays"))
    compared = _of_run(actions, "compare", "two runs side by side, with their notes")
    compared.add_argument("other", metavar="OTHER", help="the run to set beside it")
    compared.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
    page = _of_run(actions, "page", "write one run as a page for people, a single HTML file")
    page.add_argument("--out", type=Path, metavar="FILE", help="the file to write (.html)")
    page.add_argument("--room", metavar="TEMP", help="the room (as noted by the run, or 20 C)")
    add_humidity(page)
    page.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
    label = _of_run(actions, "label", "print the label for what is left over")
    label.add_argument("--out", type=Path, metavar="FILE", help="write it, too (.html)")
    label.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
    exported = actions.add_parser("export", help="write all runs for other programs")
    kind = exported.add_mutually_exclusive_group(required=True)
    kind.add_argument("--csv", action="store_true", help="one row a run")
    kind.add_argument("--json", action="store_true", help="one list of all runs")
    for action in actions.choices.values():
        # People write them last. Left out there, they must not undo what stood before the action.
        add_shelf(action, folder=argparse.SUPPRESS, tries=argparse.SUPPRESS)


def add_shelf(
    parser: argparse.ArgumentParser, *, folder: str | None = None, tries: str | bool = False
) -> None:
    """Where the records are, with what is taken if nobody says so."""
    parser.add_argument(
        "--folder", type=Path, default=folder, metavar="DIR", help="where the records are"
    )
    parser.add_argument(
        "--tries", action="store_true", default=tries, help="the runs of try, on the bench"
    )


def _of_run(
    actions: "argparse._SubParsersAction[argparse.ArgumentParser]", name: str, text: str
) -> argparse.ArgumentParser:
    action = actions.add_parser(name, help=text)
    action.add_argument("run", metavar="RUN", help=f"the record's path, {RUN_HELP}")
    return action


def _note(action: argparse.ArgumentParser) -> None:
    for name, words in WORDS.items():
        action.add_argument(f"--{name}", choices=words)
    action.add_argument("--made", metavar="TEXT", help='such as "48 sticks, one egg"')
    action.add_argument("--left", metavar="MASS", help='what is left over, such as "300 g"')
    action.add_argument("--remelts", metavar="N", help="how often that has been melted")
    action.add_argument("--contains", metavar="LIST", help="allergens, such as milk,nuts; or none")
    action.add_argument("--remark", metavar="TEXT", help="anything else; remarks add up")


def add_humidity(command: argparse.ArgumentParser) -> None:
    """How damp the room is, on which it depends what gets wet."""
    command.add_argument(
        "--humidity",
        type=humidity,
        metavar="SHARE",
        help='of the air, like "72 %%": it decides what gets wet, and what stays wrapped how long',
    )


def add_product(command: argparse.ArgumentParser) -> None:
    """What a run is told of its product."""
    command.add_argument(
        "--contains", metavar="LIST", help="allergens of this batch, such as soya,nuts"
    )
    command.add_argument(
        "--chocolate",
        choices=("dark", "milk", "white", "compound"),
        help="what is in the bowl, by its packet: a run that is told does not ask",
    )
    command.add_argument(
        "--traces",
        choices=("washed", "accepted"),
        help="the machine was washed after its last product, or its traces may be in this one",
    )
