"""Answers of a board over a serial line, spoilt on their way.

Responsible for frames and for the wire that changes them; not for any expectation.
"""

from collections.abc import Callable

from hardware.bench.board import RUN_UNIT

# Unit, function, address: Modbus protocol, 6.4.
ASKS_FOR_BATH = bytes([RUN_UNIT, 4, 0, 0])
ASKS_FOR_BOWL = bytes([RUN_UNIT, 4, 0, 1])


class Line:
    """The run's wire, which spoils one thermometer's answers once it is told to."""

    def __init__(self, spoils: Callable[[bytes], bytes], asks: bytes = ASKS_FOR_BATH) -> None:
        """Whole; `asks` is how the request begins."""
        self.spoils, self._asks = spoils, asks
        self.is_spoilt = False

    def __call__(self, request: bytes, answer: bytes) -> bytes:
        """The answer, or what becomes of it."""
        is_meant = self.is_spoilt and request.startswith(self._asks)
        return self.spoils(answer) if is_meant else answer


def framed(content: bytes) -> bytes:
    """With the checksum of a serial line: over Serial Line V1.02, 6.2.2, its polynomial 0xA001."""
    crc = 0xFFFF
    for byte in content:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return content + crc.to_bytes(2, "little")


def holding(raw: int) -> Callable[[bytes], bytes]:
    """A whole answer with another number in it; it may come in pieces, and the first has all."""
    frame = framed(bytes([RUN_UNIT, 4, 2]) + (raw % 0x10000).to_bytes(2, "big"))
    return lambda answer: frame if answer.startswith(frame[:1]) else b""
