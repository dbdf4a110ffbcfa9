"""Reading a sweep's table back: the same from CSV and Parquet, one sentence where it is torn."""

import math
import sys
from pathlib import Path

import pyarrow as pa
import pytest
from pyarrow import parquet

from controller.errors import AccessError, Exit, TableError, UsageError
from controller.report.table import figure_columns, word_columns
from controller.report.table_file import read_table
from tests.helpers.sweeps import a_later_sweep, a_sweep, write_table


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A table as CSV."""
    path = tmp_path / "sweep.csv"
    write_table(path, a_later_sweep())
    return path


@pytest.fixture
def other(tmp_path: Path) -> Path:
    """The same as Parquet."""
    path = tmp_path / "sweep.parquet"
    rows = a_later_sweep()
    parquet.write_table(pa.table({name: [row[name] for row in rows] for name in rows[0]}), path)
    return path


@pytest.mark.parametrize("kind", ["path", "other"])
def test_columns_are_figures_or_words(kind: str, request: pytest.FixtureRequest) -> None:
    table = read_table(request.getfixturevalue(kind))
    assert table.machines[:2] == ("drawn-1-1", "drawn-1-2")
    assert word_columns(table) == ("exit", "trips")
    assert figure_columns(table) == (
        "ready_s",
        "working_overshoot_k",
        "bath_max_c",
        "switches",
        "form_v",
    )
    assert table.figures("ready_s")[:2] == (6660.0, 6720.0)
    assert math.isnan(table.figures("ready_s")[4])
    assert table.words("trips")[3:5] == ("none", "level-lost")


def test_what_parquet_calls_null_did_not_happen(tmp_path: Path) -> None:
    path = tmp_path / "sweep.parquet"
    columns = {"machine": ["a", "b"], "exit": ["done", None], "ready_s": [1.0, None]}
    parquet.write_table(pa.table(columns), path)
    table = read_table(path)
    assert math.isnan(table.figures("ready_s")[1])
    assert table.words("exit") == ("done", "none")


def test_a_parquet_table_is_known_by_its_bytes(other: Path, tmp_path: Path) -> None:
    renamed = other.rename(tmp_path / "sweep.table")
    assert len(read_table(renamed).rows) == len(a_sweep())


TORN = [
    (lambda data: data[:-1], "breaks off within its last line"),
    (lambda data: data[: data.rindex(b",")] + b"\n", "Row 22 .* has 7 cells where .* has 8"),
    (lambda data: data[: data.index(b"\n") + 1], "has no rows"),
    (lambda data: data + data.splitlines(keepends=True)[3], "has the machine drawn-1-3 twice"),
    (lambda data: data.replace(b"trips", b"exit"), "has the column exit twice"),
    (lambda data: data.replace(b"level", b"l\xff"), "is damaged .*can't decode"),
    (lambda data: data.replace(b"level-lost", b'"level'), "is damaged .*unexpected end of data"),
    (lambda data: data.replace(b"machine", b"engine"), "no table of a sweep: it has no column"),
    (lambda _: b"", "no table of a sweep"),
    (lambda _: b"\0" * 512, "no table of a sweep"),
]


@pytest.mark.parametrize(("damage", "words"), TORN)
def test_a_torn_table_is_refused_in_one_sentence(path: Path, damage: object, words: str) -> None:
    assert callable(damage)
    path.write_bytes(damage(path.read_bytes()))
    with pytest.raises(TableError, match=words) as caught:
        read_table(path)
    assert caught.value.exit_code == Exit.BAD_FILE
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("share", [0.5, 0.99])
def test_a_torn_parquet_table_is_refused_in_one_sentence(other: Path, share: float) -> None:
    data = other.read_bytes()
    other.write_bytes(data[: int(len(data) * share)])
    with pytest.raises(TableError, match="is torn or damaged") as caught:
        read_table(other)
    assert "\n" not in str(caught.value)


def test_a_parquet_table_with_a_word_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "sweep.parquet"
    parquet.write_table(pa.table({"machine": ["drawn-1-1"], "exit": ["qqqq"]}), path)
    path.write_bytes(path.read_bytes().replace(b"qqqq", b"qq\xffq"))
    with pytest.raises(TableError, match=r"is torn or damaged .*can't decode"):
        read_table(path)


@pytest.mark.parametrize("cell", [b"done", [1.0]])
def test_a_parquet_table_of_neither_words_nor_numbers_is_refused(
    tmp_path: Path, cell: object
) -> None:
    path = tmp_path / "sweep.parquet"
    parquet.write_table(pa.table({"machine": ["drawn-1-1"], "exit": [cell]}), path)
    with pytest.raises(TableError, match="its column exit is neither of words nor of numbers"):
        read_table(path)


def test_a_parquet_table_of_something_else_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "cakes.parquet"
    parquet.write_table(pa.table({"cake": ["one"]}), path)
    with pytest.raises(TableError, match="it has no column machine"):
        read_table(path)


def test_a_table_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(AccessError, match=r"nowhere.csv can't be read \(No such file"):
        read_table(tmp_path / "nowhere.csv")


def test_without_pyarrow_a_parquet_table_says_how_to_get_it(
    other: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(UsageError, match=r"needs pyarrow.*pip install '\.\[parquet\]'"):
        read_table(other)
