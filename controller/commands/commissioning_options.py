"""The words of the commands that make a machine trusted: `calibrate` and the steps beside it.

Responsible for their options and help; not for what they do (commissioning).
"""

import argparse
from collections.abc import Callable
from pathlib import Path


def add_commissioning(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the commands, in the order in which they are given."""
    _machine(
        commands.add_parser(
            "probes",
            help="find out which thermometer is which, by warming one after the other",
            description=(
                "Shows all thermometers, and names each of the machine's once it is warmed in the "
                "hand. Energises nothing. Goes on where it was broken off."
            ),
        )
    )
    _machine(
        commands.add_parser(
            "prove",
            help="prove that switches, guard, cut-out and stop button cut the heat",
            description=(
                "Gives pulses of heat of two seconds through the running guard, and sees that each "
                "thing that must cut the heat does; asks a person at the terminal to trip the "
                "cut-out and to press the stop button. Goes on where it was broken off."
            ),
        )
    )
    _calibrate(commands)
    _fit(commands)


def _fit(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "fit",
        help="find heat capacity, losses and delays from a step of heat with water",
        description=(
            "Runs the step test (water in the bowl, somebody beside it), unless one of these days "
            "is there already, and finds from its record what heats and what cools the machine."
        ),
    )
    _machine(command)
    command.add_argument(
        "--power",
        type=quantity("POWER"),
        metavar="POWER",
        help="of the element, by an energy meter, like 487W (as the machine file says, less sure)",
    )
    command.add_argument(
        "--room",
        type=quantity("ROOM"),
        metavar="TEMP",
        help="the room, by a calibrated thermometer in its air, like 21.3C (as "
        "the machine file says, less sure)",
    )
    command.add_argument("--record", type=Path, metavar="FILE", help="fit this run of it")
    command.add_argument("--again", action="store_true", help="run the step test in any case")


def _calibrate(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "calibrate",
        help="find how true a thermometer is, and correct it in the machine file",
        description=(
            "Watches one thermometer at temperatures that are known, a point with each command: "
            "melting ice, then boiling water; or once beside a thermometer that you trust. Heats "
            "nothing. What is found is put into the machine file."
        ),
    )
    command.add_argument("which", choices=("bath", "bowl"), help="which thermometer")
    _machine(command)
    point = command.add_mutually_exclusive_group()
    point.add_argument(
        "--at",
        choices=("ice", "boiling"),
        help="where it is now (without a word: ice first, then boiling)",
    )
    point.add_argument(
        "--beside",
        type=quantity("TAP_OR_BOWL"),
        metavar="TEMP",
        help="it is beside a thermometer that shows this, like 31.2C",
    )
    point.add_argument("--undo", action="store_true", help="take the last calibration back")
    command.add_argument(
        "--sure",
        type=quantity("SPAN"),
        default=0.1,
        metavar="SPAN",
        help="how true that one is, 95 %% (0.1K)",
    )
    air = command.add_mutually_exclusive_group()
    air.add_argument(
        "--pressure",
        type=quantity("PRESSURE"),
        metavar="PRESSURE",
        help="of the air at the boiling pot, not reduced to sea level, like 948hPa",
    )
    air.add_argument(
        "--altitude",
        type=quantity("ALTITUDE"),
        metavar="HEIGHT",
        help="of the kitchen instead, like 520m: less sure, for the weather's pressure is unknown",
    )


def _machine(command: argparse.ArgumentParser) -> None:
    command.add_argument("--machine", type=Path, metavar="FILE", required=True)


def quantity(kind: str) -> Callable[[str], float]:
    """A reader of quantities for the parser, by the kind's word."""

    def read(text: str) -> float:
        from controller.commissioning.quantities import value  # noqa: PLC0415 - start-up time

        try:
            return value(kind, text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return read
