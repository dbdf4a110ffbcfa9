"""Which computer a proof was shown with."""

from pathlib import Path

from controller.commissioning.computer import computer_id


def test_a_board_is_known_by_its_own_number_and_by_nothing_else_of_it(tmp_path: Path) -> None:
    board, system = tmp_path / "serial-number", tmp_path / "machine-id"
    places = (board, system)
    assert computer_id(places) == ""
    system.write_text("b0a2d0a1\n", encoding="ascii")
    by_system = computer_id(places)
    board.write_bytes(b"100000003d1219c7\0")
    by_board = computer_id(places)
    system.write_text("another card\n", encoding="ascii")
    assert computer_id(places) == by_board != by_system
    assert len(by_board) == 16
    assert "3d1219c7" not in by_board


def test_a_number_of_noughts_tells_no_board_from_others(tmp_path: Path) -> None:
    board, system = tmp_path / "serial-number", tmp_path / "machine-id"
    board.write_bytes(b"0000000000000000\0")
    system.write_text("b0a2d0a1\n", encoding="ascii")
    assert computer_id((board, system)) == computer_id((system,)) != ""


def test_this_computer_stays_itself() -> None:
    assert computer_id() == computer_id()
