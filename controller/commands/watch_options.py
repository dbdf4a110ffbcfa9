"""The words of `bainward notify`.

Responsible for options and help; not for what they do.
"""

import argparse
from pathlib import Path


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
