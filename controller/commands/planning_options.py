"""The words of `bainward plan`.

Responsible for its options and their help; not for what they mean (planning).
"""

import argparse
from pathlib import Path

# Each quantity's option, its placeholder and its help.
QUANTITIES = (
    ("chocolate", "KIND", "dark (usual), milk or white"),
    ("fat", "SHARE", "its fat, like 38 %%"),
    ("batch", "MASS", "all chocolate there is to be, seed included, like 1.2 kg"),
    ("left", "MASS", "must be left in the bowl to dip the last piece in (200 g)"),
    ("room", "TEMP", "the room, like 21 C or 70 F (as the machine's file says)"),
    ("humidity", "SHARE", "the room's, like 55 %%"),
    ("altitude", "HEIGHT", "of the kitchen, like 850 m"),
    ("pressure", "PRESSURE", "of the air there, like 915 hPa, instead"),
    ("tap", "TEMP", "cold water as it comes from the tap (as the machine's file says)"),
    ("seed", "TEMP", "the seed (as the room)"),
    ("fridge", "TEMP", "the fridge (6 C)"),
    ("work", "TIME", "dipping and moulding, in all (30 s a piece, 5 min a shell)"),
)


class Make(argparse.Action):
    """Keeps what is to be made in the order in which it is told."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Add one."""
        del parser
        before = getattr(namespace, self.dest) or ()
        setattr(namespace, self.dest, (*before, (str(option_string), str(values))))


def add_plan(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the others."""
    command = commands.add_parser(
        "plan",
        help="plan a batch: amounts, seed, water, hours and what the room forbids",
        description=(
            "Plans a batch and prints one page: how much chocolate and seed, water to swap, when "
            "to begin, heat, and what the room forbids. An option wins over the plan file."
        ),
        epilog="Things are made in the order in which they are told: it decides the batch.",
    )
    command.add_argument("file", nargs="?", type=Path, metavar="FILE", help="a plan file (.toml)")
    for option, example in (
        ("--pieces", "48 x 8 g at 40 %%"),
        ("--shell", "egg 160 x 110 mm, ..."),
    ):
        what = "dip these" if option == "--pieces" else "fill and pour out this"
        command.add_argument(
            option,
            dest="makes",
            action=Make,
            default=(),
            metavar="WHAT",
            help=f'{what}, like "{example}", perhaps with a name and a colon before it',
        )
    for key, placeholder, text in QUANTITIES:
        command.add_argument(f"--{key}", metavar=placeholder, help=text)
    hour = command.add_mutually_exclusive_group()
    hour.add_argument("--by", metavar="HOUR", help="all made and set by then, like 15:00 or 3 pm")
    hour.add_argument("--ready-at", metavar="HOUR", help="chocolate at working temperature by then")
    command.add_argument(
        "--profile", metavar="PROFILE", help="(the kind's, seeded if there is one)"
    )
    command.add_argument(
        "--machine", metavar="MACHINE", help="a machine file, or one of the bench (reference)"
    )
    command.add_argument("--units", choices=("C", "F"), help="show °C (usual) or °F")
    command.add_argument("--sheet", type=Path, metavar="PAGE", help="write the page there too")
