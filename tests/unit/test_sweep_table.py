"""The table of a sweep as bytes."""

import importlib.util
import math
from pathlib import Path

import pyarrow.parquet
import pytest

from controller.errors import AccessError, UsageError
from controller.report.table import Row
from controller.trials.sweep_table import check_table, filled, write_table

ABOUT = {"profile": "dark", "seed": "1"}
FULL: Row = {"machine": "drawn-1-2", "exit": "done", "trip": "", "ready_s": 0.1, "switches": 3}
FAILED: Row = {"machine": "drawn-1-1", "exit": "failed", "failure": "ValueError: no, never"}


def test_a_machine_without_a_figure_gets_nan_and_without_a_word_nothing(tmp_path: Path) -> None:
    write_table(tmp_path / "t.csv", filled([FAILED, FULL]), ABOUT)
    assert (tmp_path / "t.csv").read_text(encoding="utf-8") == (
        "machine,exit,trip,ready_s,switches,failure\n"
        'drawn-1-1,failed,,nan,nan,"ValueError: no, never"\n'
        "drawn-1-2,done,,0.1,3,\n"
    )


def test_a_figure_keeps_its_last_bit(tmp_path: Path) -> None:
    value = math.pi * 1000.0
    write_table(tmp_path / "t.csv", [{**FULL, "ready_s": value}], ABOUT)
    cell = (tmp_path / "t.csv").read_text(encoding="utf-8").splitlines()[1].split(",")[3]
    assert float(cell) == value


def test_parquet_holds_the_same_and_what_it_is_of(tmp_path: Path) -> None:
    rows = filled([FAILED, FULL])
    write_table(tmp_path / "t.parquet", rows, ABOUT)
    table = pyarrow.parquet.read_table(tmp_path / "t.parquet")
    assert table.column_names == list(rows[0])
    assert table.column("failure").to_pylist() == ["ValueError: no, never", ""]
    assert table.column("ready_s").to_pylist()[1] == 0.1
    assert math.isnan(table.column("switches").to_pylist()[0])
    assert table.schema.metadata[b"profile"] == b"dark"


def test_parquet_gives_the_same_bytes_twice(tmp_path: Path) -> None:
    for name in ("a.parquet", "b.parquet"):
        write_table(tmp_path / name, filled([FAILED, FULL]), ABOUT)
    assert (tmp_path / "a.parquet").read_bytes() == (tmp_path / "b.parquet").read_bytes()


def test_a_table_that_cant_be_written_leaves_the_old_one_and_nothing_beside(tmp_path: Path) -> None:
    table = tmp_path / "t.csv"
    table.mkdir()
    with pytest.raises(AccessError, match="finished machines are kept"):
        write_table(table, [FULL], ABOUT)
    assert [path.name for path in tmp_path.iterdir()] == ["t.csv"]


def test_another_suffix_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"must end in \.csv or \.parquet"):
        check_table(tmp_path / "t.xlsx")


def test_a_missing_folder_is_refused_before_anything_runs(tmp_path: Path) -> None:
    with pytest.raises(AccessError, match="there is no folder"):
        check_table(tmp_path / "nowhere" / "t.csv")


def test_parquet_without_its_library_is_refused_and_names_the_extra(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: None)
    check_table(tmp_path / "t.csv")
    with pytest.raises(UsageError, match=r"pip install '\.\[parquet\]'"):
        check_table(tmp_path / "t.parquet")


def test_a_folder_of_the_table_s_name_is_refused_before_anything_runs(tmp_path: Path) -> None:
    (tmp_path / "t.csv").mkdir()
    with pytest.raises(AccessError, match="it is a folder"):
        check_table(tmp_path / "t.csv")


@pytest.mark.parametrize("name", ["t.csv", "t.parquet"])
@pytest.mark.parametrize("held", [b"day,who\n1,nobody\n", b"PAR1 and no more", b"\xff\xfe"])
def test_a_file_that_is_no_table_is_never_overwritten(
    name: str, held: bytes, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(held)
    with pytest.raises(UsageError, match="is no table of a sweep, so it is not overwritten"):
        check_table(path)
    assert path.read_bytes() == held


@pytest.mark.parametrize("name", ["t.csv", "t.parquet"])
def test_an_older_table_and_an_empty_file_may_be_replaced(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.touch()
    check_table(path)
    write_table(path, [FULL], ABOUT)
    check_table(path)
