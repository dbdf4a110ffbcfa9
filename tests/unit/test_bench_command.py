"""The command that serves the bench as hardware, in this process, until a signal ends it.

Responsible for options, sentences and ends; not for what is served (acceptance).
"""

import argparse
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.commands import benching
from controller.commands.options import parser
from controller.errors import Exit, HardwareError, MachineFileError
from controller.wiring.serving import served_time
from tests.helpers.served_board import Hand, free_port

REAL = Path(__file__).resolve().parents[1] / "helpers" / "board_machine.toml"


def options(*words: str) -> argparse.Namespace:
    """What the parser makes of them."""
    return parser().parse_args(["bench", *words])


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is said once it is served; a signal ends it at once."""
    sentences: list[str] = []

    def ready(sentence: str) -> Callable[[], None]:
        def end() -> None:
            sentences.append(sentence)
            signal.raise_signal(signal.SIGTERM)

        return end

    monkeypatch.setattr(benching, "_said", ready)
    return sentences


def test_boards_are_served_at_every_place_until_a_signal(said: list[str]) -> None:
    first, second = (f"127.0.0.1:{free_port()}" for _ in range(2))
    assert benching.bench(options("--modbus", first, "--modbus", second)) is Exit.DONE
    assert said == [f"Serving the bench machine reference at {first} and {second}.\n"]


def test_files_are_served_until_a_signal(tmp_path: Path, said: list[str]) -> None:
    words = ("--files", str(tmp_path), "--machine", "brisk", "--speed", "60")
    assert benching.bench(options(*words)) is Exit.DONE
    assert said == [f"Serving the bench machine brisk at files in {tmp_path}.\n"]
    assert (tmp_path / "lines/heater").read_text() == "0\n"


def test_what_can_not_be_served_is_refused_with_what_to_do(tmp_path: Path, said: list[str]) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(HardwareError, match="name a folder that may be written"):
        benching.bench(options("--files", str(tmp_path / "file")))
    with pytest.raises(HardwareError, match="can't be served at /dev/null"):
        benching.bench(options("--modbus", "/dev/null"))
    with pytest.raises(MachineFileError, match="name a machine of the bench"):
        benching.bench(options("--modbus", "127.0.0.1:1", "--machine", str(REAL)))
    assert said == []


@pytest.mark.parametrize(
    "words",
    [
        ("--modbus", "here"),
        ("--modbus", "127.0.0.1:0"),
        ("--files", "tree", "--modbus", "127.0.0.1:1502"),
        ("--files", "tree", "--speed", "0"),
        ("--files", "tree", "--speed", "1001"),
        ("--files", "tree", "--speed", "fast"),
        (),
    ],
)
def test_words_that_can_not_be_understood_are_refused(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        options(*words)
    assert ended.value.code == Exit.USAGE
    assert "bainward bench: error:" in capsys.readouterr().err


def test_the_benchs_time_begins_at_nothing_and_goes_as_fast_as_wished() -> None:
    class Clock(Hand):
        """A clock by hand, with all that the contract has."""

        def now_s(self) -> float:
            """Now."""
            return self.at_s

        def other_s(self) -> float:
            """The same."""
            return self.at_s

        def wait_until(self, when_s: float) -> None:
            """Never asked."""

        def wake(self) -> None:
            """Never asked."""

    clock = Clock()
    clock.at_s = 500.0
    time_s = served_time(clock, 60.0)
    assert time_s() == 0.0
    clock.at_s = 501.5
    assert time_s() == 90.0
