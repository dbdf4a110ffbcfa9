"""A bench served as a Modbus board within a test, and the words that reach it.

Responsible for the server's thread, pairs of serial lines and plain settings; not for expectations.
"""

import asyncio
import os
import pty
import select
import socket
import threading
import tty
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress

from controller.guard.settings import BoardAt, PointAt
from controller.ports import Kind
from hardware.bench.attach import Bench, attach
from hardware.bench.board import (
    GUARD_UNIT,
    LEVEL,
    LID,
    RUN_UNIT,
    STOP,
    Board,
    Coil,
    Holding,
    Register,
)
from hardware.bench.board_server import BAUD, Server
from hardware.modbus.attach import BoardPlan, MeasuredPlan, ModbusPlan, Point, SwitchedPlan
from tests.helpers.records import replace

LONG_S = 60.0  # a time-out, never waited for in full
REPLY_S = 2.0  # a busy computer's answer is no lost one
FITTED = frozenset({"level", "shaft", "load", "lid", "stop"})


class Hand:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        """At 0 s."""
        self.at_s = 0.0

    def __call__(self) -> float:
        """Now."""
        return self.at_s


def water_bench() -> Bench:
    """A bench with water in its bowl."""
    return attach(
        machine="brisk", seed=1, kind=Kind.WATER, batch_kg=0.4, seed_share=0.0, fitted=FITTED
    )


def free_port() -> int:
    """A port of this computer that nobody listens at."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(boards: Mapping[int, Board], at: str) -> Iterator[None]:
    """The boards served there by a thread with its own event loop."""
    ready, ended = threading.Event(), threading.Event()
    ends: list[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = []

    async def serve() -> None:
        over = asyncio.Event()
        ends.append((asyncio.get_running_loop(), over))
        await Server(boards, at).serve(ready.set, over)

    def run() -> None:
        try:
            asyncio.run(serve())
        finally:
            ended.set()

    thread = threading.Thread(target=run, name="board", daemon=True)
    thread.start()
    assert ready.wait(LONG_S)
    try:
        yield
    finally:
        loop, over = ends[0]
        loop.call_soon_threadsafe(over.set)
        thread.join(LONG_S)
        assert ended.is_set()


@contextmanager
def tcp_boards(boards: Mapping[int, Board]) -> Iterator[str]:
    """The boards over TCP; where they are."""
    at = f"127.0.0.1:{free_port()}"
    with serving(boards, at):
        yield at


# What a wire makes of an answer, from the newest request and that answer's bytes as they come.
Wire = Callable[[bytes, bytes], bytes]


def whole(_request: bytes, answer: bytes) -> bytes:
    """A good wire."""
    return answer


@contextmanager
def pty_boards(boards: Mapping[int, Board], wire: Wire = whole) -> Iterator[str]:
    """The boards on one end of a pair of serial lines; the other end."""
    with pty_pair(wire) as (here, there), serving(boards, here):
        yield there


@contextmanager
def pty_pair(wire: Wire = whole) -> Iterator[tuple[str, str]]:
    """Two serial lines that are wired to each other, by their paths; the first one answers."""
    first, second = pty.openpty(), pty.openpty()
    wake = os.pipe()
    for handle in (*first, *second):
        tty.setraw(handle)
    across = {first[0]: second[0], second[0]: first[0]}

    def carry() -> None:
        request = b""
        while True:
            readable, _, _ = select.select([*across, wake[0]], [], [])
            if wake[0] in readable:
                return
            for handle in readable:
                with suppress(OSError):
                    data = os.read(handle, 4096)
                    request = data if handle == second[0] else request
                    os.write(across[handle], wire(request, data) if handle == first[0] else data)

    thread = threading.Thread(target=carry, name="wire", daemon=True)
    thread.start()
    try:
        yield os.ttyname(first[1]), os.ttyname(second[1])
    finally:
        os.write(wake[1], b"x")
        thread.join(LONG_S)
        for handle in (*first, *second, *wake):
            os.close(handle)


def register(address: int, step: float) -> MeasuredPlan:
    """An input register of the bench's board."""
    point = Point(table="input_register", address=address)
    return MeasuredPlan(point=point, step=step, broken=(-0x8000,))


def degrees(address: int) -> MeasuredPlan:
    """A thermometer of the bench's board."""
    return replace(register(address, 0.01), lowest=-55.0, highest=150.0, is_thermometer=True)


def output(coil: Coil) -> SwitchedPlan:
    """An output of the bench's board, with its true state."""
    return SwitchedPlan(
        coil=Point(table="coil", address=coil), shown=Point(table="discrete_input", address=coil)
    )


def board_plan(at: str) -> BoardPlan:
    """How a run speaks to the bench's board."""
    return BoardPlan(
        at=at,
        unit=RUN_UNIT,
        baud=BAUD,
        parity="N",
        reply_s=REPLY_S,
        host_loss=Point(table="holding_register", address=Holding.HOST_LOSS),
        host_loss_step_s=0.1,
        boots=Point(table="holding_register", address=Holding.BOOTS),
    )


def machine_plan(at: str) -> ModbusPlan:
    """All that the bench's board has."""
    return ModbusPlan(
        board=board_plan(at),
        bath=degrees(Register.BATH),
        bowl=degrees(Register.BOWL),
        stirrer=output(Coil.STIRRER),
        level=MeasuredPlan(point=Point(table="discrete_input", address=LEVEL)),
        lid=MeasuredPlan(point=Point(table="discrete_input", address=LID)),
        stop=MeasuredPlan(point=Point(table="discrete_input", address=STOP)),
        shaft=register(Register.SHAFT, 0.1),
        load=register(Register.LOAD, 0.01),
    )


def guards_board(at: str) -> BoardAt:
    """How a guard speaks to the bench's board."""
    return BoardAt(
        at=at,
        unit=GUARD_UNIT,
        baud=BAUD,
        parity="N",
        reply_ms=round(REPLY_S * 1000),
        host_loss=PointAt(table="holding_register", address=Holding.HOST_LOSS),
        host_loss_step_ms=100,
        boots=PointAt(table="holding_register", address=Holding.BOOTS),
    )
