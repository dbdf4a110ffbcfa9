"""The words of `bainward watch` and `bainward notify`.

Responsible for options and help; not for what they do.
"""

import argparse
from pathlib import Path


def add_watch(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
    broker: type[argparse.Action],
) -> None:
    """Add the command."""
    command = commands.add_parser(
        "watch",
        help="show a run on this terminal, live",
        description=(
            "Shows where a run stands, from its machine over MQTT or from its record on this "
            "computer while it grows. It only looks. On a terminal q leaves; into a pipe or file "
            "goes a line for each change."
        ),
    )
    command.add_argument(
        "run", nargs="?", metavar="RUN", help="a record: its path, a part of its name, or last"
    )
    command.add_argument("--machine", metavar="FILE", help="the machine file with the broker")
    command.add_argument("--broker", action=broker, metavar="HOST:PORT", help="at this broker")
    command.add_argument("--try", dest="try_", action="store_true", help="a try, not a run")
    command.add_argument("--folder", type=Path, metavar="DIR", help="where the records are")
    command.add_argument("--tries", action="store_true", help="a record of the bench's tries")
    command.add_argument("--units", choices=("C", "F"), help="°C or °F (as the machine says)")


def add_notify(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
    broker: type[argparse.Action],
) -> None:
    """Add the command."""
    command = commands.add_parser(
        "notify",
        help="push alarms, questions and the run's state to a locked phone",
        description=(
            "Listens to a machine over MQTT and hands alarms, questions and changes of the run "
            "to a push service or a program, as a push file says. Each is told once, and none is "
            "lost over a restart. Runs until it is told to end."
        ),
    )
    command.add_argument("file", type=Path, metavar="FILE", help="the push file (.toml)")
    command.add_argument("--broker", action=broker, metavar="HOST:PORT", help="at this broker")
    command.add_argument("--try", dest="try_", action="store_true", help="of a try, not of a run")
    command.add_argument("--test", action="store_true", help="send one test message and end")
