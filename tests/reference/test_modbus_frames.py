"""Frames of Modbus against its published specification, and frames that are spoilt.

Responsible for what goes over the wire by our clients, the run's and the guard's; not for what a
register means. "Protocol" is the MODBUS Application Protocol Specification V1.1b3, "serial" MODBUS
over Serial Line, Specification and Implementation Guide V1.02; both of modbus.org.
"""

import socket
import threading
from collections.abc import Callable, Iterator

import pytest
from pymodbus.framer.rtu import FramerRTU

from controller.guard.board import Board
from controller.guard.settings import PointAt
from controller.ports import Fault
from hardware.modbus.client import Client, Point
from tests.helpers.records import replace
from tests.helpers.served_board import LONG_S, board_plan, guards_board

SHORT_S = 0.1
Answer = Callable[[bytes], bytes]


def answered(request: bytes, pdu: bytes) -> bytes:
    """That answer in a frame of TCP: seven bytes of head, by the guide to Modbus over TCP."""
    return request[:4] + (len(pdu) + 1).to_bytes(2, "big") + request[6:7] + pdu


class Wire:
    """Whoever answers at a port, byte by byte, and what it was asked."""

    def __init__(self, answer: Answer) -> None:
        """Listening."""
        self._answer = answer
        self.asked: list[bytes] = []
        self._socket = socket.create_server(("127.0.0.1", 0))
        self._socket.settimeout(LONG_S)
        self.at = f"127.0.0.1:{self._socket.getsockname()[1]}"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def end(self) -> None:
        """Listen no more."""
        self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        self._thread.join(LONG_S)

    def _serve(self) -> None:
        while True:
            try:
                peer, _ = self._socket.accept()
            except OSError:
                return
            with peer:
                while request := peer.recv(260):
                    self.asked.append(request)
                    peer.sendall(self._answer(request))


@pytest.fixture
def wires() -> Iterator[Callable[[Answer], Wire]]:
    """Makes wires that end with the test."""
    made: list[Wire] = []

    def make(answer: Answer) -> Wire:
        made.append(Wire(answer))
        return made[-1]

    yield make
    for wire in made:
        wire.end()


def client_at(at: str, reply_s: float = LONG_S) -> Client:
    """The run's client."""
    return Client(replace(board_plan(at), reply_s=reply_s))


# The examples of the protocol's chapter 6: function, request and answer without the address.
READS = [
    # 6.1, discrete outputs 20 to 38: CD 6B 05
    ("coil", 19, 19, "01 0013 0013", "01 03 cd6b05", [1, 0, 1, 1, 0, 0, 1, 1]),
    # 6.2, discrete inputs 197 to 218: AC DB 35
    ("discrete_input", 196, 22, "02 00c4 0016", "02 03 acdb35", [0, 0, 1, 1, 0, 1, 0, 1]),
    # 6.3, registers 108 to 110: 555, 0 and 100
    ("holding_register", 107, 3, "03 006b 0003", "03 06 022b 0000 0064", [555, 0, 100]),
    # 6.4, input register 9: 10
    ("input_register", 8, 1, "04 0008 0001", "04 02 000a", [10]),
]


@pytest.mark.parametrize("read", READS, ids=[read[0] for read in READS])
def test_a_read_is_the_specifications_frame_and_its_answer_is_understood(
    wires: Callable[[Answer], Wire], read: tuple[str, int, int, str, str, list[int]]
) -> None:
    table, address, count, request_pdu, answer_pdu, begins = read
    wire = wires(lambda request: answered(request, bytes.fromhex(answer_pdu)))
    client = client_at(wire.at)
    values = client.read(Point(table=table, address=address), count)
    client.close()
    assert wire.asked[0][7:] == bytes.fromhex(request_pdu)
    assert wire.asked[0][2:7] == bytes([0, 0, 0, 6, 2])  # protocol 0, six bytes to come, unit 2
    assert isinstance(values, list)
    assert values[: len(begins)] == begins
    assert len(values) == count


@pytest.mark.parametrize(("on", "value"), [(True, "ff00"), (False, "0000")])
def test_an_output_is_switched_by_the_specifications_frame(
    wires: Callable[[Answer], Wire], on: bool, value: str
) -> None:
    # Protocol, 6.5, output 173: 05 00AC FF00, echoed.
    wire = wires(lambda request: request)
    client = client_at(wire.at)
    assert client.switch(Point(table="coil", address=172), on=on) is Fault.NONE
    client.close()
    assert wire.asked[0][7:] == bytes.fromhex(f"05 00ac {value}")


# Protocol, chapter 7: the function with its highest bit set, then the code.
CODES = {
    1: "illegal function",
    2: "address",
    3: "value",
    4: "device failure",
    6: "busy",
    11: "gateway",
}


@pytest.mark.parametrize("code", CODES)
def test_a_boards_refusal_is_a_fault_of_the_device_for_the_run_and_an_error_for_the_guard(
    wires: Callable[[Answer], Wire], code: int
) -> None:
    def refuse(request: bytes) -> bytes:
        if request[8:10] == b"\x00\x07":  # only this address
            return answered(request, bytes([request[7] | 0x80, code]))
        return answered(request, bytes([request[7], 2, 0, 20]))

    wire = wires(refuse)
    client = client_at(wire.at)
    assert client.read(Point(table="input_register", address=7)) is Fault.DEVICE
    client.close()
    board = Board(replace(guards_board(wire.at), boots=None))
    with pytest.raises(OSError, match="refuses input register 7"):
        board.read(PointAt(table="input_register", address=7))
    board.close()


SPOILT: list[tuple[str, Answer]] = [
    ("silence", lambda _: b""),
    ("half an answer", lambda request: answered(request, b"\x04\x02\x00")[:8]),
    (
        "another's answer",
        lambda request: bytes([0x7F, 0x7F]) + answered(request, b"\x04\x02\x00\x0a")[2:],
    ),
    ("another unit's answer", lambda request: answered(request[:6] + b"\x09", b"\x04\x02\x00\x0a")),
    ("another function's answer", lambda request: answered(request, b"\x03\x02\x00\x0a")),
    ("too few values", lambda request: answered(request, b"\x04\x00")),
]


@pytest.mark.parametrize("spoils", [case[1] for case in SPOILT], ids=[case[0] for case in SPOILT])
def test_a_spoilt_answer_is_no_value_and_the_next_whole_one_is(
    wires: Callable[[Answer], Wire], spoils: Answer
) -> None:
    is_whole = [False]

    def answer(request: bytes) -> bytes:
        return answered(request, b"\x04\x02\x00\x0a") if is_whole[0] else spoils(request)

    wire = wires(answer)
    client = client_at(wire.at, SHORT_S)
    point = Point(table="input_register", address=8)
    assert client.read(point) in {Fault.NO_ANSWER, Fault.DEVICE}
    is_whole[0] = True
    assert client.read(point) == [10]
    client.close()


def test_a_checksum_of_a_serial_line_is_the_specifications() -> None:
    # Serial, 6.2.2: the message 02 07 gets 0x1241, sent low byte first: 41 12.
    assert FramerRTU.compute_CRC(bytes.fromhex("0207")) == 0x4112
    # The "check" value of CRC-16/MODBUS in the catalogue of parametrised CRC algorithms,
    # https://reveng.sourceforge.io/crc-catalogue/16.htm, 0x4B37, in the order of the wire.
    assert FramerRTU.compute_CRC(b"123456789") == 0x374B
