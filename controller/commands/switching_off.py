"""The command `guard --off`: drive the heater's lines off, once, when no guard is left to do it.

Responsible for being quick, for the service manager calls it within the seconds that a dead guard
has: so it reads just the lines out of the machine file. Not for checking that file (the guard did).
"""

import argparse
import tomllib
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from controller.errors import Exit, HardwareError, MachineFileError
from controller.guard.lines import open_line
from controller.guard.settings import LineAt, LineKind

SWITCHES = ("main", "second")


def switch_off(options: argparse.Namespace) -> Exit:
    """Drive every switch off, also when another one can't be.

    Raises:
        MachineFileError: the file names no switch.
        HardwareError: a switch can't be driven; the others are off.
    """
    failures: list[HardwareError] = []
    with ExitStack() as opened:
        for at in switches(options.machine):
            try:
                opened.callback(open_line(at).close)  # open means off
            except HardwareError as error:
                failures.append(error)
    if failures:
        raise failures[0]
    return Exit.DONE


def switches(path: Path) -> tuple[LineAt, ...]:
    """The heater's switches of a machine file.

    Raises:
        MachineFileError: the file can't be read or names no main switch.
    """
    try:
        with path.open("rb") as file:
            guard: dict[str, Any] = tomllib.load(file)["guard"]
        return tuple(
            _line(guard[name], path.parent) for name in SWITCHES if name == "main" or name in guard
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise MachineFileError(
            f"The heater's lines can't be read from {path} ({error!r}), so none was driven off: "
            "unplug the machine, then mend the file with the help of bainward check."
        ) from error


def _line(table: dict[str, str], folder: Path) -> LineAt:
    """One switch; a relative path lies beside the machine file."""
    kind = LineKind(table["kind"])
    place = str(folder / table["path"]) if kind is LineKind.FILE else table["name"]
    return LineAt(kind=kind, place=place)
