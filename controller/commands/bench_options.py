"""The words of `bainward bench`.

Responsible for its options and help; not for what it does.
"""

import argparse
import re
from pathlib import Path

from controller.commands.values import names

_AT = re.compile(r"/\S+|[A-Za-z0-9._-]+:[1-9][0-9]{0,4}")
_MOST_SPEED = 1000.0


def _at(text: str) -> str:
    if not _AT.fullmatch(text):
        raise argparse.ArgumentTypeError(
            f"{text} is no place; write one end of a pair of serial lines like /dev/pts/7, or "
            "HOST:PORT like 127.0.0.1:1502"
        )
    return text


def _speed(text: str) -> float:
    if not re.fullmatch(r"[0-9]{1,4}(\.[0-9]{1,3})?", text) or not 0 < float(text) <= _MOST_SPEED:
        raise argparse.ArgumentTypeError(f"{text} is no speed; write more than 0 to 1000")
    return float(text)


def add_bench(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    command = commands.add_parser(
        "bench",
        help="serve the simulated machine to a guard and a run as if it were a real one",
        description=(
            "Serves a machine of the bench as hardware, for a guard and a run of their own that "
            "know nothing of it. Its bowl holds what PROFILE begins with; nobody adds seed or "
            "changes its water. Serves until it is told to end."
        ),
    )
    command.add_argument(
        "profile", nargs="?", default="water-trial", metavar="PROFILE", help="what is in the bowl"
    )
    place = command.add_mutually_exclusive_group(required=True)
    place.add_argument(
        "--modbus",
        type=_at,
        action="append",
        metavar="PTY|HOST:PORT",
        help=(
            "as Modbus boards, unit 1 for the guard and 2 for the run: over TCP, or on one end of "
            "a pair of serial lines; once more for another line, since a line has one master"
        ),
    )
    place.add_argument(
        "--files",
        type=Path,
        metavar="DIR",
        help="as a tree of files such as the kernel's, and lines that a guard writes",
    )
    _machine(command)


def _machine(command: argparse.ArgumentParser) -> None:
    """Which machine, what it is fitted with, and how fast it lives."""
    command.add_argument("--machine", metavar="NAME|FILE", help="a machine of the bench")
    command.add_argument(
        "--fitted",
        type=names,
        metavar="LIST",
        help="fit just these, of level,shaft,load,second-switch,mains-live,current,lid,stop, "
        "or none (as the machine has them)",
    )
    command.add_argument(
        "--speed",
        type=_speed,
        default=1.0,
        metavar="N",
        help="simulated seconds a second (default 1, which is what guard and run live in)",
    )
