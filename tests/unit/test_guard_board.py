"""The guard's board: what it must say of itself, its lines, and what ends the guard.

Responsible for the guard's side of Modbus over a real wire; not for frames (test_modbus_frames),
nor for whole runs (acceptance).
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import pytest
from pymodbus.client import ModbusTcpClient
from pymodbus.exceptions import ModbusIOException

from controller.commands.switching_off import switch_off
from controller.errors import Exit, HardwareError
from controller.files.machine_file import load_machine_file
from controller.guard.board import Board, BoardInput, BoardLine
from controller.guard.lines import open_input, open_line
from controller.guard.probe import read_mc
from controller.guard.settings import (
    LineAt,
    LineKind,
    PointAt,
    ProbeAt,
    ProbeKind,
    from_text,
    to_text,
)
from hardware.bench.attach import Bench, BenchFault
from hardware.bench.board import GUARD_UNIT, Coil, boards_of
from hardware.bench.board import Board as Served
from tests.helpers.records import replace
from tests.helpers.served_board import Hand, guards_board, pty_boards, tcp_boards, water_bench

FILE = Path(__file__).resolve().parents[1] / "helpers" / "board_machine.toml"
HEATER = LineAt(kind=LineKind.MODBUS, place="coil 0", point=PointAt(table="coil", address=0))
STATE = PointAt(table="discrete_input", address=0)
LIVE = LineAt(kind=LineKind.MODBUS, place="discrete input 0", point=STATE)
PROBE = ProbeAt(
    kind=ProbeKind.MODBUS,
    path="input register 2",
    point=PointAt(table="input_register", address=2),
    step_mc=10.0,
    broken=(-0x8000,),
)


@dataclass(slots=True)
class Scene:
    """A bench's board for the guard, and where it is."""

    hand: Hand
    bench: Bench
    served: Served
    at: str


@pytest.fixture
def scene() -> Iterator[Scene]:
    """Served over TCP."""
    hand, bench = Hand(), water_bench()
    boards = boards_of(bench, hand)
    with tcp_boards(boards) as at:
        yield Scene(hand, bench, boards[GUARD_UNIT], at)


@pytest.fixture
def board(scene: Scene) -> Iterator[Board]:
    """The guard's connection to it."""
    connected = Board(guards_board(scene.at))
    yield connected
    connected.close()


def test_a_line_is_off_when_it_is_opened_follows_what_it_is_told_and_is_off_when_closed(
    scene: Scene, board: Board
) -> None:
    scene.served.switch(Coil.HEATER, on=True)
    line, live = open_line(HEATER, board), open_input(LIVE, board)
    assert isinstance(line, BoardLine)
    assert isinstance(live, BoardInput)
    assert not scene.served.coils()[Coil.HEATER]
    line.set(on=True)
    assert scene.served.coils()[Coil.HEATER]
    assert live.read()
    assert not open_input(replace(LIVE, active_low=True), board).read()
    line.close()
    assert not live.read()


@pytest.mark.parametrize(
    ("host_loss_s", "said"), [(0.0, "never"), (5.1, "only after 5.1 s"), (60.0, "only after 60 s")]
)
def test_a_board_that_would_keep_heat_on_without_the_guard_is_refused(
    scene: Scene, host_loss_s: float, said: str
) -> None:
    scene.served.host_loss_s = host_loss_s
    with pytest.raises(HardwareError, match=f"opens its outputs {said} when its host is gone"):
        Board(guards_board(scene.at))


def test_a_board_that_does_not_tell_its_time_out_or_is_not_there_is_refused(scene: Scene) -> None:
    nowhere = PointAt(table="holding_register", address=77)
    for at in (
        replace(guards_board(scene.at), host_loss=nowhere),
        replace(guards_board("127.0.0.1:9"), reply_ms=100),
    ):
        with pytest.raises(HardwareError, match="doesn't tell when it opens its outputs"):
            Board(at)


def test_a_board_that_has_started_anew_takes_no_heat_and_can_still_be_driven_off(
    scene: Scene, board: Board
) -> None:
    line = open_line(HEATER, board)
    line.set(on=True)
    scene.served.restart()
    with pytest.raises(OSError, match="has started anew"):
        line.set(on=True)
    assert not scene.served.coils()[Coil.HEATER]
    line.set(on=False)


def test_an_output_that_the_board_does_not_have_is_refused(board: Board) -> None:
    foreign = replace(HEATER, point=PointAt(table="coil", address=3))
    with pytest.raises(HardwareError, match="coil 3 can't be driven"):
        open_line(foreign, board)
    with pytest.raises(HardwareError, match="discrete input 99 can't be read"):
        open_input(replace(LIVE, point=PointAt(table="discrete_input", address=99)), board)
    with pytest.raises(HardwareError, match=r"write \[guard.board\]"):
        open_line(HEATER)


def test_the_thermometer_is_read_in_thousandths_or_is_none(scene: Scene, board: Board) -> None:
    assert read_mc(PROBE, board) == pytest.approx(20_000, abs=100)
    shifted = replace(PROBE, offset=100)
    assert read_mc(shifted, board) == pytest.approx(21_000, abs=100)
    scene.bench.inject(BenchFault.GUARD_PROBE_OPEN)
    scene.hand.at_s = 5.0
    assert read_mc(PROBE, board) is None
    board.close()
    nowhere = replace(PROBE, point=PointAt(table="input_register", address=88))
    assert read_mc(nowhere, board) is None


def test_a_silent_guard_leaves_no_heat_after_the_boards_time_out(
    scene: Scene, board: Board
) -> None:
    line = open_line(HEATER, board)
    line.set(on=True)
    scene.hand.at_s = scene.served.host_loss_s - 0.5
    scene.served.live()
    assert scene.served.coils()[Coil.HEATER]
    scene.hand.at_s = scene.served.host_loss_s + 0.5
    scene.served.live()
    assert not scene.served.coils()[Coil.HEATER]


def test_the_settings_pass_from_one_process_to_another_whole(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.toml"
    path.write_text(FILE.read_text(encoding="utf-8"), encoding="utf-8")
    settings = load_machine_file(path).guard
    assert settings is not None
    assert settings.board is not None
    assert settings.main.point == PointAt(table="coil", address=0)
    assert from_text(to_text(settings)) == settings


def test_guard_off_drives_the_boards_line_off_without_asking_it_anything(
    scene: Scene, tmp_path: Path
) -> None:
    path = tmp_path / "kitchen.toml"
    text = FILE.read_text(encoding="utf-8").replace("127.0.0.1:1502", scene.at)
    path.write_text(text, encoding="utf-8")
    scene.served.switch(Coil.HEATER, on=True)
    scene.served.host_loss_s = 0.0
    assert switch_off(argparse.Namespace(machine=path)) is Exit.DONE
    assert not scene.served.coils()[Coil.HEATER]


def answer(function: int, bits: list[bool]) -> SimpleNamespace:
    """What the library gives for a whole answer."""
    return SimpleNamespace(
        isError=lambda: False, function_code=function, bits=bits, registers=list[int]()
    )


def test_an_output_that_answers_with_another_level_or_to_something_else_ends_the_guard(
    board: Board, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = open_line(HEATER, board)
    monkeypatch.setattr(ModbusTcpClient, "write_coil", lambda *_, **__: answer(5, [True]))
    with pytest.raises(OSError, match="did not take coil 0"):
        line.set(on=False)
    monkeypatch.setattr(ModbusTcpClient, "write_coil", lambda *_, **__: answer(1, [False]))
    with pytest.raises(OSError, match="answers something else than coil 0"):
        line.set(on=False)


def test_a_wire_that_breaks_or_says_nothing_is_an_error_and_comes_back(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    board = Board(guards_board(scene.at))
    line = open_line(HEATER, board)

    def breaks(*_words: object, **_named: object) -> None:
        raise ModbusIOException("nothing came")

    with monkeypatch.context() as patch:
        patch.setattr(ModbusTcpClient, "write_coil", breaks)
        with pytest.raises(OSError, match="no answer at"):
            line.set(on=True)
    line.set(on=True)  # connected anew
    assert scene.served.coils()[Coil.HEATER]
    board.close()
    monkeypatch.setattr(ModbusTcpClient, "connect", lambda _client: False)
    with pytest.raises(OSError, match="nobody answers at"):
        line.set(on=False)


def test_a_line_of_a_board_without_a_place_on_it_is_refused(board: Board) -> None:
    with pytest.raises(HardwareError, match="has no place on it"):
        open_line(replace(HEATER, point=None), board)


def test_a_guard_without_the_library_says_what_to_install(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pymodbus.client", None)
    with pytest.raises(HardwareError, match=r"install it with pip install '\.\[modbus\]'"):
        Board(guards_board(scene.at))


def test_a_guard_speaks_on_a_serial_line_too(scene: Scene) -> None:
    with pty_boards({GUARD_UNIT: scene.served}) as at:
        board = Board(guards_board(at))
        line = open_line(HEATER, board)
        line.set(on=True)
        assert scene.served.coils()[Coil.HEATER]
        line.close()
        board.close()
    with pytest.raises(HardwareError, match="doesn't tell when it opens"):
        Board(replace(guards_board("/dev/null"), reply_ms=50))


def test_an_output_that_was_left_on_shows_off_from_the_moment_its_board_opens_it(
    scene: Scene, board: Board
) -> None:
    open_line(HEATER, board).set(on=True)
    lasts_s = scene.served.host_loss_s
    scene.hand.at_s = lasts_s - 0.1
    assert scene.served.coils()[Coil.HEATER]
    scene.hand.at_s = lasts_s
    assert not any(scene.served.coils())
    scene.served.host_loss_s = 0.0  # which keeps it for ever
    scene.served.switch(Coil.HEATER, on=True)
    scene.hand.at_s = 10 * lasts_s
    assert scene.served.coils()[Coil.HEATER]
