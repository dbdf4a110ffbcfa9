"""The guard's lines and thermometer on a board that speaks Modbus, RTU on a serial line or TCP.

Responsible for asking that board and for refusing one that would keep heat on without its host;
not for when a line may be on. Any failure of a line is an error that ends the guard, and with it
heat: the board opens its outputs by itself once nobody speaks to it. The library is imported only
where a board is wanted: it is an extra.
"""

import logging
import termios
import threading
from typing import Any

from controller.errors import HardwareError
from controller.guard.settings import BoardAt, LineAt, PointAt, ProbeAt

LONGEST_MS = 5_000  # a board must open its outputs this soon: own engineering value, not published
# Function codes: MODBUS Application Protocol Specification V1.1b3, chapter 6.
FUNCTIONS = {
    "read_coils": 1,
    "read_discrete_inputs": 2,
    "read_holding_registers": 3,
    "read_input_registers": 4,
    "write_coil": 5,
}
RETRIES = 1  # a frame that noise has spoilt; more would hold up the guard's cycle
_SIGN, _MODULO = 0x8000, 0x10000


class Board:
    """The connection to the guard's board, for its cycle and its thermometer's thread alike."""

    def __init__(self, at: BoardAt, *, insisting: bool = True) -> None:
        """Connect, and insist that it opens its outputs by itself, unless only to switch off.

        Raises:
            HardwareError: it doesn't answer, keeps its outputs, or the library is missing.
        """
        self._at = at
        self._turn = threading.Lock()
        self._client, self._errors = _client(at)
        self._boots: int | None = None
        try:
            if insisting:
                self._insist()
        except HardwareError:
            self.close()
            raise

    def read(self, point: PointAt) -> int:
        """One value: a bit, or a register's 0 to 65535; OSError when there is none."""
        return self._asked(f"read_{point.table}s", point, count=1)

    def switch(self, coil: PointAt, *, on: bool) -> None:
        """Switch one output; OSError when the board doesn't take it, or has started anew."""
        if self._asked("write_coil", coil, on) != on:
            raise OSError(f"the board at {self._at.at} did not take {coil}")

    def look(self) -> None:
        """See that it runs on as it was found; OSError when it has started anew."""
        if self._at.boots is not None and self.read(self._at.boots) != self._boots:
            raise OSError(f"the board at {self._at.at} has started anew")

    def close(self) -> None:
        """Hang up."""
        self._client.close()

    def _insist(self) -> None:
        at, point = self._at, self._at.host_loss
        where = f"The board at {at.at}, unit {at.unit}, of [guard.board]"
        try:
            lasts_ms = self.read(point) * at.host_loss_step_ms
            self._boots = None if at.boots is None else self.read(at.boots)
        except OSError as error:
            raise HardwareError(
                f"{where} doesn't tell when it opens its outputs without its host ({error}): check "
                "its supply, wires, address, speed and parity, and the registers named there."
            ) from error
        if not 0 < lasts_ms <= LONGEST_MS:
            told = f"only after {lasts_ms / 1000:g} s" if lasts_ms else "never"
            raise HardwareError(
                f"{where} opens its outputs {told} when its host is gone, so that heat could stay "
                f"on: set {point} to 2 to {LONGEST_MS / 1000:g} s on the board."
            )

    def _asked(self, what: str, point: PointAt, *words: bool, **named: int) -> int:
        with self._turn:
            try:
                if not (self._client.connected or self._client.connect()):
                    raise OSError(f"nobody answers at {self._at.at}")
                ask = getattr(self._client, what)
                answer = ask(point.address, *words, device_id=self._at.unit, **named)
            except (self._errors, termios.error) as error:
                self._client.close()  # so that the next answer isn't one to this request
                raise OSError(f"no answer at {self._at.at} to {point}") from error
        if answer.isError():
            raise OSError(f"the board at {self._at.at} refuses {point}: {answer}")
        values = answer.bits or answer.registers
        if answer.function_code != FUNCTIONS[what] or not values:
            self._client.close()
            raise OSError(f"the board at {self._at.at} answers something else than {point}")
        return int(values[0])


class BoardLine:
    """An output of the board."""

    def __init__(self, board: Board, at: LineAt) -> None:
        """Drive it off; HardwareError when that can't be."""
        self._board, self._coil = board, _point(at)
        try:
            self.set(on=False)
        except OSError as error:
            raise HardwareError(
                f"The line {self._coil} can't be driven ({error}): check [guard] and the board."
            ) from error

    def set(self, on: bool) -> None:
        """Drive it, on a board that is still the same."""
        if on:
            self._board.look()
        self._board.switch(self._coil, on=on)

    def close(self) -> None:
        """Drive it off; a board that can't be reached opens it by itself."""
        self.set(on=False)


class BoardInput:
    """An input of the board, such as the true state of an output."""

    def __init__(self, board: Board, at: LineAt) -> None:
        """Look whether it can be read; HardwareError when it can't."""
        self._board, self._point = board, _point(at)
        self._active = not at.active_low
        try:
            self.read()
        except OSError as error:
            raise HardwareError(
                f"The line {self._point} can't be read ({error}): check [guard] and the board."
            ) from error

    def read(self) -> bool:
        """Whether it is active."""
        return bool(self._board.read(self._point)) is self._active

    def close(self) -> None:
        """Nothing to let go of: the board's connection is everybody's."""


def thousandths(board: Board, at: ProbeAt, point: PointAt) -> int | None:
    """A thermometer's register in thousandths of °C; None when there is none."""
    try:
        register = board.read(point)
    except OSError:
        return None
    raw = register - _MODULO if at.signed and register >= _SIGN else register
    return None if raw in at.broken else round((raw + at.offset) * at.step_mc)


def _point(at: LineAt) -> PointAt:
    if at.point is None:
        raise HardwareError("A line of a board has no place on it: check [guard].")
    return at.point


def _client(at: BoardAt) -> tuple[Any, type[Exception]]:
    try:
        from pymodbus.client import ModbusSerialClient, ModbusTcpClient  # noqa: PLC0415 - an extra
        from pymodbus.exceptions import ModbusException  # noqa: PLC0415
    except ImportError as error:
        raise HardwareError(
            "A board in [guard.board] needs the package pymodbus: "
            "install it with pip install '.[modbus]'."
        ) from error
    logging.getLogger("pymodbus").setLevel(logging.CRITICAL)  # what fails is told as an error
    reply_s = at.reply_ms / 1000
    if at.at.startswith("/"):
        serial = ModbusSerialClient(
            at.at, baudrate=at.baud, parity=at.parity, timeout=reply_s, retries=RETRIES
        )
        return serial, ModbusException
    host, _, port = at.at.rpartition(":")
    tcp = ModbusTcpClient(host, port=int(port), timeout=reply_s, retries=RETRIES)
    return tcp, ModbusException
