"""The command `guard --off`: drive the heater's lines off, once, when no guard is left to do it.

Responsible for being quick, for the service manager calls it within the seconds that a dead guard
has: so it reads just the lines out of the machine file. Not for checking that file (the guard did).
"""

import argparse
import tomllib
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any

from controller.errors import Exit, HardwareError, MachineFileError
from controller.guard.board import Board
from controller.guard.lines import open_line
from controller.guard.settings import BoardAt, LineAt, LineKind, PointAt

SWITCHES = ("main", "second")
REPLY_MS = 500  # how long a board may take to answer: own engineering value, not published


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
                board = None
                if at.kind is LineKind.MODBUS:
                    board = opened.enter_context(closing(_board(options.machine)))
                opened.callback(open_line(at, board).close)  # open means off
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


def _board(path: Path) -> Board:
    """The board that the switches are on, asked for nothing but to switch."""
    with path.open("rb") as file:
        table: dict[str, Any] = tomllib.load(file)["guard"]["board"]
    at = BoardAt(
        at=table["at"],
        unit=table.get("unit", 1),
        baud=table.get("baud", 19200),
        parity=table.get("parity", "even")[0].upper(),
        reply_ms=REPLY_MS,
        host_loss=PointAt(table="holding_register", address=0),
        host_loss_step_ms=0,
    )
    return Board(at, insisting=False)


def _line(table: dict[str, Any], folder: Path) -> LineAt:
    """One switch; a relative path lies beside the machine file."""
    kind = LineKind(table["kind"])
    if kind is LineKind.MODBUS:
        point = PointAt(table="coil", address=table["coil"])
        return LineAt(kind=kind, place=str(point), point=point)
    place = str(folder / table["path"]) if kind is LineKind.FILE else table["name"]
    return LineAt(kind=kind, place=place)
