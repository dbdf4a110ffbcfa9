"""The bench's boards on a wire: Modbus over TCP, or RTU on a serial line such as a pty.

Responsible for the protocol, which a library speaks; not for what lies where (board). The library
is imported only when a board is served: it is an extra.
"""

import asyncio
import contextlib
import logging
import termios
from collections.abc import Callable, Mapping
from typing import Any

from hardware.bench.board import DISCRETE_INPUTS, Board, Coil, Holding, Register

BAUD = 19200
TICK_S = 0.1  # how often the plant goes on when nobody asks: own engineering value
READS_COILS, READS_INPUTS, READS_HOLDING, READS_REGISTERS = 1, 2, 3, 4
SWITCHES, SETS, SWITCHES_MANY, SETS_MANY = 5, 6, 15, 16


class ServerError(Exception):
    """The board can't be served; one sentence that says what, where and what to do."""


class Server:
    """Boards, served until told to end. Made and run within one event loop."""

    def __init__(self, boards: Mapping[int, Board], at: str) -> None:
        """Nothing is served yet.

        Args:
            boards: What is served, by its unit.
            at: A serial port's path, or HOST:PORT.

        Raises:
            ServerError: the library is missing.
        """
        self._boards, self._at = boards, at
        self._library = _library()
        self._codes = self._library.constants.ExcCodes

    async def serve(self, ready: Callable[[], None], over: asyncio.Event) -> None:
        """Serve until `over`; `ready` is called once it can be spoken to.

        Raises:
            ServerError: the place can't be had.
        """
        server = self._made()
        try:
            await server.serve_forever(background=True)
        except (OSError, RuntimeError, termios.error) as error:
            raise ServerError(
                f"The board can't be served at {self._at} ({error}); write a free HOST:PORT, or "
                "one end of a pair of serial lines."
            ) from error
        try:
            ready()
            while not over.is_set():
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(over.wait(), TICK_S)
                for board in self._boards.values():
                    board.live()
        finally:
            await server.shutdown()

    def _made(self) -> Any:  # noqa: ANN401 - a class of an optional package
        servers = self._library.server
        device = [self._device(unit, board) for unit, board in self._boards.items()]
        if self._at.startswith("/"):
            # No parity: a pty has none to give, and refuses to be asked for it.
            return servers.ModbusSerialServer(device, port=self._at, baudrate=BAUD, parity="N")
        host, _, port = self._at.rpartition(":")
        return servers.ModbusTcpServer(device, address=(host, int(port)))

    def _device(self, unit: int, board: Board) -> Any:  # noqa: ANN401 - a class of an optional package
        simulator = self._library.simulator
        bits, registers = simulator.DataType.BITS, simulator.DataType.REGISTERS
        blocks = (
            [simulator.SimData(0, values=[False] * len(Coil), datatype=bits)],
            [simulator.SimData(0, values=[False] * DISCRETE_INPUTS, datatype=bits)],
            [simulator.SimData(0, values=[0] * len(Holding), datatype=registers)],
            [simulator.SimData(0, values=[0] * len(Register), datatype=registers)],
        )

        async def asked(
            function: int,
            _start: int,
            address: int,
            _count: int,
            registers: list[int],
            values: list[int] | list[bool] | None,
        ) -> Any:  # noqa: ANN401 - a code of an optional package
            return self._asked(board, function, address, registers, values)

        return simulator.SimDevice(unit, simdata=blocks, action=asked)

    def _asked(
        self,
        board: Board,
        function: int,
        address: int,
        registers: list[int],
        values: list[int] | list[bool] | None,
    ) -> Any:  # noqa: ANN401 - a code of an optional package
        """Bring what is asked for up to date, or do what is told."""
        board.heard()
        told = list(enumerate(values or [], start=address))
        if function in {SWITCHES, SWITCHES_MANY}:
            fits = [board.switch(at, on=bool(value)) for at, value in told]
            return None if all(fits) else self._codes.ILLEGAL_ADDRESS
        if function in {SETS, SETS_MANY}:
            fits = [board.set_holding(at, int(value)) for at, value in told]
            return None if all(fits) else self._codes.ILLEGAL_ADDRESS
        bits = {READS_COILS: board.coils, READS_INPUTS: board.discrete_inputs}
        if function in bits:
            registers[0] = sum(1 << at for at, bit in enumerate(bits[function]()) if bit)
            return None
        shown = {READS_HOLDING: board.holding_registers, READS_REGISTERS: board.input_registers}
        if function not in shown:
            return self._codes.ILLEGAL_FUNCTION
        fresh = shown[function]()
        registers[: len(fresh)] = fresh
        return None


def _library() -> Any:  # noqa: ANN401 - an optional package
    try:
        import pymodbus  # noqa: PLC0415 - an extra
        import pymodbus.constants  # noqa: PLC0415
        import pymodbus.server  # noqa: PLC0415
        import pymodbus.simulator  # noqa: PLC0415
    except ImportError as error:
        raise ServerError(
            "To serve a board the package pymodbus is needed; install it with "
            "pip install '.[modbus]'."
        ) from error
    logging.getLogger("pymodbus").setLevel(logging.CRITICAL)  # a host that hangs up is no news
    return pymodbus
