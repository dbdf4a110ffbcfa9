"""A sweep's table as a file: CSV for every program, Parquet for those that ask for it.

Responsible for the same rows always giving the same bytes, and for a file being whole or not
there, and never over what is no table; not for reading one (controller.report) or for what is in
a row.
"""

import csv
import importlib.util
import io
import math
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from controller.errors import AccessError, TableError, UsageError
from controller.report.table import Cell, Row
from controller.report.table_file import read_table
from controller.report.target import check_target

CSV, PARQUET = ".csv", ".parquet"
NO_PYARROW = (
    "A Parquet table needs pyarrow, which is not installed; install bainward with its extra: "
    "pip install '.[parquet]', or give the table a name that ends in .csv."
)


def check_table(path: Path) -> None:
    """See before a sweep whether its table can be.

    Raises:
        UsageError: another suffix, pyarrow is not installed, or the file there is something else.
        AccessError: it can't be written.
    """
    if path.suffix not in (CSV, PARQUET):
        raise UsageError(f"The table {path} must end in {CSV} or {PARQUET}; give it such a name.")
    if path.suffix == PARQUET and importlib.util.find_spec("pyarrow") is None:
        raise UsageError(NO_PYARROW)
    check_target(path, "table")
    if path.exists() and path.stat().st_size:  # an older table is replaced, anything else kept
        try:
            read_table(path)
        except TableError as error:
            raise UsageError(
                f"{path} is there already and is no table of a sweep, so it is not overwritten; "
                "give another --table."
            ) from error


def write_table(path: Path, rows: Sequence[Row], about: Mapping[str, str]) -> None:
    """Write the rows into `path`; it is replaced as a whole or not at all.

    Args:
        path: ends in .csv or .parquet.
        rows: with the same columns each (`filled`).
        about: what the table is of; only Parquet has a place for it.

    Raises:
        AccessError: it can't be written.
    """
    data = _parquet(rows, about) if path.suffix == PARQUET else _csv(rows)
    beside = path.with_name(f".{path.name}.new")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise AccessError(
            f"The table {path} can't be written ({error.strerror}); make room, or make its folder "
            "writable, and give the same command again: finished machines are kept."
        ) from error


def filled(rows: Sequence[Row]) -> list[Row]:
    """The rows with the same columns each: first those of the fullest row, in its order.

    What a row lacks is NaN in a column of numbers and empty in a column of words.
    """
    fullest_first = sorted(rows, key=len, reverse=True)  # stable: the first of the fullest leads
    columns = dict.fromkeys(column for row in fullest_first for column in row)
    words = {column for row in rows for column, cell in row.items() if isinstance(cell, str)}
    missing: dict[str, Cell] = {column: "" if column in words else math.nan for column in columns}
    return [{column: row.get(column, missing[column]) for column in columns} for row in rows]


def _csv(rows: Sequence[Row]) -> bytes:
    """RFC 4180 but for line ends, which are those of Linux; numbers as Python writes them."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode("utf-8")


def _parquet(rows: Sequence[Row], about: Mapping[str, str]) -> bytes:
    import pyarrow as pa  # noqa: PLC0415 - an extra, and slow to import
    from pyarrow import parquet  # noqa: PLC0415 - the same

    columns = {name: _alike([row[name] for row in rows]) for name in rows[0]}
    file = io.BytesIO()
    parquet.write_table(pa.table(columns, metadata=dict(about)), file)
    return file.getvalue()


def _alike(cells: Sequence[Cell]) -> list[Cell]:
    """A column of one type: words if there is one among them, whole numbers if all are."""
    if any(isinstance(cell, str) for cell in cells):
        return [str(cell) for cell in cells]
    if all(isinstance(cell, int) for cell in cells):
        return list(cells)
    return [float(cell) for cell in cells]
