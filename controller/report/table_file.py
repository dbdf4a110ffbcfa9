"""Reading a sweep's table back, from CSV or Parquet.

Responsible for refusing what is torn or no table, in one sentence; not for what the columns mean.
"""

import csv
import io
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from controller.errors import AccessError, TableError, UsageError
from controller.report.table import MACHINE, Cell, Row, Table, table_of

PARQUET_BEGINS = b"PAR1"  # Apache Parquet file format: the magic number at both ends
MAKE_AGAIN = "make it again with bainward sweep"


def read_table(path: Path) -> Table:
    """The table in `path`: CSV, or Parquet where its bytes say so.

    Raises:
        AccessError: the file can't be read.
        TableError: it is torn, damaged, or no table of a sweep.
        UsageError: it is Parquet, and pyarrow is not installed.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise AccessError(
            f"The table {path} can't be read ({error.strerror}); name one that exists and is"
            " readable."
        ) from error
    parquet = data.startswith(PARQUET_BEGINS)
    columns, rows = _parquet(data, path) if parquet else _csv(data, path)
    return _checked(columns, rows, path)


def _csv(data: bytes, path: Path) -> tuple[list[str], list[list[Cell]]]:
    try:
        text = data.decode("utf-8")
        lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except (ValueError, csv.Error) as error:
        raise TableError(f"The table {path} is damaged ({error}); {MAKE_AGAIN}.") from error
    if MACHINE not in (lines[0] if lines else []):
        raise _no_table(path)
    columns, *rows = lines
    if not text.endswith("\n"):
        raise TableError(f"The table {path} breaks off within its last line; {MAKE_AGAIN}.")
    for number, row in enumerate(rows, start=2):
        if len(row) != len(columns):
            raise TableError(
                f"Row {number} of the table {path} has {len(row)} cells where its first row has"
                f" {len(columns)}; {MAKE_AGAIN}."
            )
    return columns, [[*row] for row in rows]


def _parquet(data: bytes, path: Path) -> tuple[list[str], list[list[Cell]]]:
    try:
        import pyarrow as pa  # noqa: PLC0415 - an extra, and slow to import
        from pyarrow import parquet  # noqa: PLC0415 - the same
    except ImportError as error:
        raise UsageError(
            f"To read {path} bainward needs pyarrow, which is not installed; install bainward with"
            " its extra: pip install '.[parquet]', or sweep into a .csv file."
        ) from error
    try:
        found = parquet.read_table(io.BytesIO(data))
        columns = [str(name) for name in found.column_names]
        cells = [column.to_pylist() for column in found.itercolumns()]
    except (OSError, ValueError, pa.ArrowException) as error:
        why = str(error).splitlines()[0].rstrip(".")
        raise TableError(f"The table {path} is torn or damaged ({why}); {MAKE_AGAIN}.") from error
    for name, column in zip(columns, cells, strict=True):
        if not all(cell is None or isinstance(cell, str | int | float) for cell in column):
            raise TableError(
                f"The table {path} is damaged (its column {name} is neither of words nor of"
                f" numbers); {MAKE_AGAIN}."
            )
    rows = zip(*cells, strict=True)
    return columns, [["" if cell is None else cell for cell in row] for row in rows]


def _checked(columns: Sequence[str], cells: Sequence[Sequence[Cell]], path: Path) -> Table:
    """The table, if every column and every machine is there once."""
    if MACHINE not in columns:
        raise _no_table(path)
    if not cells:
        raise TableError(f"The table {path} has no rows; {MAKE_AGAIN}.")
    rows: list[Row] = [dict(zip(columns, row, strict=True)) for row in cells]
    table = table_of(rows)
    for what, names in (("column", columns), ("machine", table.machines)):
        name, times = Counter(names).most_common(1)[0]
        if times > 1:
            raise TableError(f"The table {path} has the {what} {name} twice; {MAKE_AGAIN}.")
    return table


def _no_table(path: Path) -> TableError:
    return TableError(
        f"{path} is no table of a sweep: it has no column {MACHINE}; name a .csv or .parquet file"
        " that bainward sweep has written."
    )
