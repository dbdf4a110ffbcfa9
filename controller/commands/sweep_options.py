"""The words of `bainward sweep`.

Responsible for its options and their help; not for what it does (sweeping).
"""

from pathlib import Path
from typing import TYPE_CHECKING

from controller.commands.faulting import add_faults
from controller.commands.values import duration_s, positive, seed_number

if TYPE_CHECKING:
    import argparse

GIVE_UP_AFTER_S = 8 * 3600.0  # own choice: some three times what a shipped profile takes


def add_sweep(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the others."""
    command = commands.add_parser(
        "sweep",
        help="run a profile on many randomly drawn machines of the bench",
        description=(
            "Runs a profile on machines of the bench that are drawn at random, into one table. "
            "Ctrl-C loses nothing: the same command goes on where it was."
        ),
        epilog=(
            "exit code 0: the table is whole, however its machines fared; 1: a machine's run "
            "failed, or workers were lost for good; 5: interrupted"
        ),
    )
    command.add_argument("profile", metavar="PROFILE", help="a shipped name, or a .toml file")
    command.add_argument(
        "--machines", type=positive, default=100, metavar="N", help="how many (100)"
    )
    command.add_argument("--seed", type=seed_number, default=1, metavar="S", help="of the draw (1)")
    command.add_argument(
        "--first", type=positive, default=1, metavar="N", help="number of the first machine (1)"
    )
    add_faults(command)
    command.add_argument(
        "--give-up-after",
        type=duration_s,
        default=GIVE_UP_AFTER_S,
        metavar="TIME",
        help="stop a run that takes longer (8h): in a warm room some never cool",
    )
    command.add_argument(
        "--table", type=Path, metavar="FILE", help="where the table goes (.csv or .parquet)"
    )
    command.add_argument("--plot", type=Path, metavar="FILE", help="draw it (.svg or .png)")
    command.add_argument(
        "--units", choices=("C", "F"), help="show temperatures in °C (usual) or °F"
    )
    where = command.add_mutually_exclusive_group()
    where.add_argument(
        "--processes", type=positive, metavar="N", help="how many at once (one a core)"
    )
    where.add_argument(
        "--scheduler", metavar="ADDRESS", help="use this Dask cluster, like tcp://127.0.0.1:8786"
    )
