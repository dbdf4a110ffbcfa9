"""The lines that the guard drives and reads: a file, a line of the GPIO character device, a bit.

Responsible for levels and for "off when closed"; not for when a line may be on. Any failure is an
error that ends the guard, and with it heat.
"""

import os
from collections.abc import Sequence
from contextlib import ExitStack, suppress
from pathlib import Path
from types import ModuleType, TracebackType
from typing import Any, Protocol, Self

from controller.errors import HardwareError
from controller.guard.board import Board, BoardInput, BoardLine
from controller.guard.settings import LineAt, LineKind

CONSUMER = "bainward-guard"
CHIPS = Path("/dev")


class Line(Protocol):
    """One output."""

    def set(self, on: bool) -> None:
        """Drive it on or off; OSError when it can't be."""
        ...

    def close(self) -> None:
        """Drive it off and let go."""
        ...


class Input(Protocol):
    """One input."""

    def read(self) -> bool:
        """Whether it is active; OSError when that can't be read."""
        ...

    def close(self) -> None:
        """Let go."""
        ...


class FileLine:
    """A file that holds 0 or 1. It keeps its last level when the process is killed."""

    def __init__(self, path: str) -> None:
        """Open and drive it off; HardwareError when that can't be."""
        try:
            self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_CLOEXEC, 0o644)
            self.set(on=False)
        except OSError as error:
            raise HardwareError(
                f"The line {path} can't be driven ({error.strerror}): "
                "check its path in [guard] and who may write it."
            ) from error

    def set(self, on: bool) -> None:
        """Write the level."""
        os.pwrite(self._file, b"1\n" if on else b"0\n", 0)

    def close(self) -> None:
        """Write 0 and let go."""
        try:
            self.set(on=False)
        finally:
            os.close(self._file)


class FileInput:
    """A file that holds 0 or 1, written by somebody else."""

    def __init__(self, path: str, *, active_low: bool) -> None:
        """Open it; HardwareError when that can't be."""
        self._active = b"0" if active_low else b"1"
        self._idle = b"1" if active_low else b"0"
        try:
            self._file = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        except OSError as error:
            raise HardwareError(
                f"The line {path} can't be read ({error.strerror}): check its path in [guard]."
            ) from error

    def read(self) -> bool:
        """The level."""
        level = os.pread(self._file, 1, 0)
        if level not in (self._active, self._idle):
            raise OSError(f"the mains-live file holds neither 0 nor 1 but {level!r}")
        return level == self._active

    def close(self) -> None:
        """Let go."""
        os.close(self._file)


class GpioLine:
    """An output of the GPIO character device, by its name."""

    def __init__(self, name: str) -> None:
        """Request it, off; HardwareError when that can't be."""
        self._gpiod = _gpiod()
        self._name = name
        self._value = self._gpiod.line.Value
        settings = self._gpiod.LineSettings(
            direction=self._gpiod.line.Direction.OUTPUT, output_value=self._value.INACTIVE
        )
        self._request = _request(self._gpiod, name, settings)

    def set(self, on: bool) -> None:
        """Drive it."""
        self._request.set_value(self._name, self._value.ACTIVE if on else self._value.INACTIVE)

    def close(self) -> None:
        """Drive it off and let go."""
        try:
            self.set(on=False)
        finally:
            self._request.release()


class GpioInput:
    """An input of the GPIO character device, by its name."""

    def __init__(self, name: str, *, active_low: bool) -> None:
        """Request it; HardwareError when that can't be."""
        gpiod = _gpiod()
        self._name = name
        self._active = gpiod.line.Value.ACTIVE
        settings = gpiod.LineSettings(direction=gpiod.line.Direction.INPUT, active_low=active_low)
        self._request = _request(gpiod, name, settings)

    def read(self) -> bool:
        """Whether it is active."""
        return bool(self._request.get_value(self._name) == self._active)

    def close(self) -> None:
        """Let go."""
        self._request.release()


def open_line(at: LineAt, board: Board | None = None) -> Line:
    """The output at that place, or on that board, driven off.

    Raises:
        HardwareError: it can't be driven.
    """
    if at.kind is LineKind.MODBUS:
        return BoardLine(_there(board), at)
    return FileLine(at.place) if at.kind is LineKind.FILE else GpioLine(at.place)


def open_input(at: LineAt, board: Board | None = None) -> Input:
    """The input at that place, or on that board.

    Raises:
        HardwareError: it can't be read.
    """
    if at.kind is LineKind.MODBUS:
        return BoardInput(_there(board), at)
    if at.kind is LineKind.FILE:
        return FileInput(at.place, active_low=at.active_low)
    return GpioInput(at.place, active_low=at.active_low)


def _there(board: Board | None) -> Board:
    if board is None:
        raise HardwareError("A line of a board needs the board itself: write [guard.board].")
    return board


class Switches:
    """The heater's switches in series; usable as a context manager that ends with all of them off.

    The first is the main one: it is the first to go off and the last to go on.
    """

    def __init__(self, places: Sequence[LineAt], board: Board | None = None) -> None:
        """Open every switch, off; HardwareError when one can't be driven."""
        with ExitStack() as opened:
            self._lines = []
            for place in places:
                line = open_line(place, board)
                opened.callback(line.close)
                self._lines.append(line)
            opened.pop_all()

    def set(self, *, on: bool, alone: int = 0) -> None:
        """Drive them all; or only the first or second on, which without a second is none.

        What goes off goes first: no two of them are closed between one test and the next.
        """
        tests = alone and len(self._lines) > 1
        numbered = list(enumerate(self._lines, start=1))
        closed = [one for one in numbered if on and (one[0] == alone if tests else not alone)]
        for number, line in numbered:
            if (number, line) not in closed:
                line.set(on=False)
        for _, line in reversed(closed):
            line.set(on=True)

    def __enter__(self) -> Self:
        """They are off already."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Drive off every one that can be, whatever happens to the others."""
        with suppress(OSError), ExitStack() as closing:
            for line in reversed(self._lines):
                closing.callback(line.close)


def _gpiod() -> ModuleType:
    """The bindings, imported only where a line needs them."""
    try:
        import gpiod  # noqa: PLC0415 - an extra that a machine without GPIO doesn't have
    except ImportError as error:
        raise HardwareError(
            "A GPIO line in [guard] needs the bindings of the GPIO character device: "
            "install them with pip install '.[linux]'."
        ) from error
    return gpiod


def _request(gpiod: ModuleType, name: str, settings: object) -> Any:  # noqa: ANN401 - a class of an optional package
    """The one line of that name on any chip, requested for us alone."""
    # Some boards give a chip a second name; it must not count twice.
    paths = [path for path in sorted(CHIPS.glob("gpiochip*")) if not path.is_symlink()]
    chips = [str(path) for path in paths if gpiod.is_gpiochip_device(str(path))]
    found = [path for path in chips if _has_line(gpiod, path, name)]
    if len(found) != 1:
        what = "no line" if not found else f"more than one line ({', '.join(found)})"
        raise HardwareError(
            f"There is {what} named {name} on this computer: "
            "list them with gpioinfo, and write a name that stands there once into [guard]."
        )
    try:
        return gpiod.request_lines(found[0], config={name: settings}, consumer=CONSUMER)
    except OSError as error:
        raise HardwareError(
            f"The line {name} can't be had ({error.strerror}): "
            "stop whatever else holds it (see gpioinfo), and join the group that may use GPIO."
        ) from error


def _has_line(gpiod: ModuleType, path: str, name: str) -> bool:
    try:
        with gpiod.Chip(path) as chip:
            # The bindings take "17" for offset 17; only a true name counts here.
            return bool(chip.get_line_info(name).name == name)
    except OSError:
        return False
