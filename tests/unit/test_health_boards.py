"""The command `health` on a machine of boards: what each must be is asked of the board itself."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from hardware.bench.board import RUN_UNIT, Board, boards_of
from tests.helpers.served_board import Hand, tcp_boards, water_bench
from tests.helpers.well import Well

FILE = Path(__file__).resolve().parents[1] / "helpers" / "board_machine.toml"


class Boards:
    """A machine whose health is sound, on boards that are served over TCP."""

    def __init__(self, folder: Path, at: str, run: Board) -> None:
        """All proven, with units of its own."""
        self.run, self.well = run, Well(folder)
        text = FILE.read_text(encoding="utf-8").replace("127.0.0.1:1502", at)
        self.well.path.write_text(text, encoding="utf-8")
        self.well.prove()
        self.well.install()

    def found(self) -> dict[str, list[str]]:
        """What each check that isn't content says."""
        return {what: [one.says for one in many] for what, many in self.well.found().items()}


@pytest.fixture
def boards(tmp_path: Path) -> Iterator[Boards]:
    """Sound ones."""
    units = boards_of(water_bench(), Hand())
    with tcp_boards(units) as at:
        yield Boards(tmp_path, at, units[RUN_UNIT])


def test_boards_that_open_without_their_host_are_well(boards: Boards) -> None:
    assert boards.found() == {}


@pytest.mark.parametrize(
    ("host_loss_s", "said"),
    [
        (0.0, "has none set of the time after which it opens its outputs without its host"),
        (9.0, "keeps its outputs for 9 s without its host"),
    ],
)
def test_a_board_that_would_hold_its_last_state_is_a_fault(
    boards: Boards, host_loss_s: float, said: str
) -> None:
    boards.run.host_loss_s = host_loss_s
    (told,) = boards.found()["thermometers"]
    assert said in told
    assert "2 to 5 s on the board" in told
