"""One board that speaks Modbus: single requests, each answered with values or with a fault.

Responsible for connecting, asking and naming what fails; not for when to ask, nor for what a
register means. The library is imported only when a board is wanted: it is an extra.
"""

import logging
import termios
from dataclasses import dataclass
from typing import Any

from controller.ports import Fault
from hardware.modbus.errors import AttachError

# Function codes: MODBUS Application Protocol Specification V1.1b3, chapter 6.
FUNCTIONS = {
    "read_coils": 1,
    "read_discrete_inputs": 2,
    "read_holding_registers": 3,
    "read_input_registers": 4,
    "write_coil": 5,
}
RETRIES = 1  # a frame that noise has spoilt; more would hold up what else hangs on the line


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """Where a value lies on a board."""

    table: str  # coil, discrete_input, input_register or holding_register
    address: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPlan:
    """One board: where it is, how it is spoken to, and what it says of itself."""

    at: str  # a serial port's path, or HOST:PORT
    unit: int
    baud: int
    parity: str  # "N", "E" or "O", as serial lines have it
    reply_s: float
    host_loss: Point  # how long it keeps its outputs without its host
    host_loss_step_s: float
    boots: Point | None  # a counter that another start of the board changes


class Client:
    """The connection to one board; made anew when it breaks."""

    def __init__(self, plan: BoardPlan) -> None:
        """Not connected yet; AttachError when the library is missing."""
        self._unit = plan.unit
        self._client, self._errors = _client(plan)

    def read(self, point: Point, count: int = 1) -> list[int] | Fault:
        """So many values from there on: 0 or 1 of bits, 0 to 65535 of registers."""
        return self._asked(f"read_{point.table}s", point.address, count=count)

    def switch(self, coil: Point, *, on: bool) -> Fault:
        """Switch one output; a board that takes it answers with an echo."""
        answer = self._asked("write_coil", coil.address, on)
        if isinstance(answer, Fault):
            return answer
        return Fault.NONE if answer == [on] else Fault.DEVICE

    def close(self) -> None:
        """Hang up."""
        self._client.close()

    def _asked(self, what: str, *words: Any, **named: Any) -> list[int] | Fault:  # noqa: ANN401 - the library's own
        try:
            if not (self._client.connected or self._client.connect()):
                return Fault.NO_ANSWER
            answer = getattr(self._client, what)(*words, device_id=self._unit, **named)
        except (self._errors, OSError, termios.error):
            self._client.close()  # so that the next answer isn't one to this request
            return Fault.NO_ANSWER
        if answer.isError():
            return Fault.DEVICE  # the board's own refusal, by an exception code
        if answer.function_code != FUNCTIONS[what]:
            self._client.close()  # an answer to something else
            return Fault.NO_ANSWER
        count = named.get("count", 1)
        values = list(answer.bits or answer.registers)[:count]
        return [int(value) for value in values] if len(values) == count else Fault.DEVICE


def _client(plan: BoardPlan) -> tuple[Any, type[Exception]]:
    try:
        from pymodbus.client import ModbusSerialClient, ModbusTcpClient  # noqa: PLC0415 - an extra
        from pymodbus.exceptions import ModbusException  # noqa: PLC0415
    except ImportError as error:
        raise AttachError(
            "A Modbus board needs the package pymodbus; install it with pip install '.[modbus]'."
        ) from error
    logging.getLogger("pymodbus").setLevel(logging.CRITICAL)  # what fails is told as a fault
    if plan.at.startswith("/"):
        serial = ModbusSerialClient(
            plan.at,
            baudrate=plan.baud,
            parity=plan.parity,
            timeout=plan.reply_s,
            retries=RETRIES,
        )
        return serial, ModbusException
    host, _, port = plan.at.rpartition(":")
    tcp = ModbusTcpClient(host, port=int(port), timeout=plan.reply_s, retries=RETRIES)
    return tcp, ModbusException
