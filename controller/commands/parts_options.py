"""The words of `bainward parts`.

Responsible for its options and their help; not for what they mean (planning.parts).
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

# Each option, its placeholder and its help.
WORDS = (
    ("batch", "MASS", "chocolate that it is to hold, seed included, like 1.5 kg"),
    ("chocolate", "KIND", "dark (usual), milk or white"),
    ("mains", "VOLTAGE", "of your country, like 120 V (230 V)"),
    ("probe", "CLASS", "1-wire (usual), platinum with its class like A or B, or its own ±, 0.2 K"),
    ("heater", "POWER", "an element that you have already, like 500 W (the page chooses one)"),
    ("water", "MASS", "in the bath (a usual pot for the batch)"),
    ("relay", "KIND", "the first switch: solid-state (usual) or mechanical"),
    ("shortest", "TIME", "its shortest time on and off (2 s, with contacts 8 s)"),
    ("endurance", "CYCLES", "of its contacts at this load, by its data sheet (100000)"),
    ("hold", "TIME", "how long a batch is held (2 h)"),
    ("room", "TEMP", "the room, like 21 C (20 C)"),
    ("altitude", "HEIGHT", "of the kitchen, like 850 m (0 m)"),
)


def add_parts(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the others."""
    command = commands.add_parser(
        "parts",
        help="what to look for in heater, switches, cut-out and probes of a machine to be built",
        description=(
            "Prints one page on the parts of a machine: heater and melt time, relay and its life, "
            "cut-out, probes against the working window, each with its danger. Kinds of parts, no "
            "makes. Local codes and licensed practice come before it."
        ),
    )
    for key, placeholder, text in WORDS:
        command.add_argument(f"--{key}", metavar=placeholder, help=text)
    command.add_argument(
        "--machine", metavar="MACHINE", help="a machine file, or one of the bench: its own sizes"
    )
    command.add_argument("--bill", action="store_true", help="list the parts by kind instead")
    command.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
