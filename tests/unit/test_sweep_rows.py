"""Finished rows on the disk: kept, torn, of another sweep, and in use."""

import fcntl
import math
import os
from pathlib import Path

import pytest

from controller.errors import AccessError, BusyError, UsageError
from controller.report.table import Row
from controller.trials.sweep_rows import KeptRows, kept_rows, rows_path

PURPOSE = {"profile": "dark", "seed": "1", "faults": "none", "build": "0.1.0 abc"}
ROW: Row = {"machine": "drawn-1-1", "exit": "done", "ready_s": 3600.1234567890123, "switches": 7}


def test_rows_come_back_as_they_were_given_to_the_last_bit(tmp_path: Path) -> None:
    never = {**ROW, "ready_s": math.nan}
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        kept.add({1: ROW})
        kept.add({4: never, 2: ROW})
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        assert kept.rows[1] == ROW
        assert [type(cell) for cell in kept.rows[1].values()] == [str, str, float, int]
        assert math.isnan(float(kept.rows[4]["ready_s"]))
        assert sorted(kept.rows) == [1, 2, 4]


@pytest.mark.parametrize("tear", [1, 5, 40, 110])
def test_a_row_that_a_power_cut_tore_is_cut_off_and_run_again(tmp_path: Path, tear: int) -> None:
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        kept.add({1: ROW})
        kept.add({2: ROW})
    path = rows_path(tmp_path / "t.csv")
    path.write_bytes(path.read_bytes()[:-tear])
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        assert sorted(kept.rows) == [1]
        kept.add({2: ROW})
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        assert sorted(kept.rows) == [1, 2]


def test_a_row_that_the_disk_changed_is_not_believed(tmp_path: Path) -> None:
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        kept.add({1: ROW})
    path = rows_path(tmp_path / "t.csv")
    path.write_bytes(path.read_bytes().replace(b"3600", b"3601"))
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        assert kept.rows == {}


@pytest.mark.parametrize("content", [b"my own notes\nline two\n", b"notes", b'{"purpose":x\n'])
def test_a_file_of_something_else_is_left_alone(tmp_path: Path, content: bytes) -> None:
    path = rows_path(tmp_path / "t.csv")
    path.write_bytes(content)
    with (
        pytest.raises(UsageError, match=r"does not begin as the rows of a sweep do.*left alone"),
        kept_rows(tmp_path / "t.csv", PURPOSE),
    ):
        pass
    assert path.read_bytes() == content


@pytest.mark.parametrize("left", [b'{"purpose":{"prof', b'{"pur', b""])
def test_a_file_torn_in_its_first_line_is_begun_anew(tmp_path: Path, left: bytes) -> None:
    rows_path(tmp_path / "t.csv").write_bytes(left)
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        kept.add({1: ROW})
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        assert sorted(kept.rows) == [1]


@pytest.mark.parametrize("name", list(PURPOSE))
def test_rows_of_another_sweep_are_refused_with_what_differs(tmp_path: Path, name: str) -> None:
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        kept.add({1: ROW})
    before = rows_path(tmp_path / "t.csv").read_bytes()
    with (
        pytest.raises(UsageError, match=rf"another sweep.*\({name}: {PURPOSE[name]}; now other\)"),
        kept_rows(tmp_path / "t.csv", {**PURPOSE, name: "other"}),
    ):
        pass
    assert rows_path(tmp_path / "t.csv").read_bytes() == before


def test_a_sweep_that_finished_nothing_stands_in_nobody_s_way(tmp_path: Path) -> None:
    with kept_rows(tmp_path / "t.csv", PURPOSE):
        pass  # no scheduler answered, say
    other = {**PURPOSE, "seed": "other"}
    with kept_rows(tmp_path / "t.csv", other) as kept:
        kept.add({1: ROW})
    with kept_rows(tmp_path / "t.csv", other) as kept:
        assert kept.rows == {1: ROW}


def test_two_sweeps_never_write_the_same_table(tmp_path: Path) -> None:
    with (
        kept_rows(tmp_path / "t.csv", PURPOSE),
        pytest.raises(BusyError, match="Another sweep is writing"),
        kept_rows(tmp_path / "t.csv", PURPOSE),
    ):
        pass


def test_a_place_that_cant_be_written_is_said_in_one_sentence(tmp_path: Path) -> None:
    with (
        pytest.raises(AccessError, match=r"can't be kept in .*No such file or directory"),
        kept_rows(tmp_path / "nowhere" / "t.csv", PURPOSE),
    ):
        pass


def test_a_full_disk_is_said_in_one_sentence() -> None:
    handle = os.open("/dev/full", os.O_WRONLY)
    try:
        with pytest.raises(AccessError, match="No space left on device"):
            KeptRows(Path("t.csv.rows"), handle, {}).add({1: ROW})
    finally:
        os.close(handle)


def test_rows_never_go_into_a_file_that_a_sweep_just_ended_took_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, lock = rows_path(tmp_path / "t.csv"), fcntl.flock

    def late(handle: int, how: int) -> None:
        monkeypatch.setattr(fcntl, "flock", lock)
        path.unlink()
        lock(handle, how)

    monkeypatch.setattr(fcntl, "flock", late)
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        kept.add({1: ROW})
    with kept_rows(tmp_path / "t.csv", PURPOSE) as kept:
        assert sorted(kept.rows) == [1]
