"""A run for other programs: its samples as CSV, or all of it as JSON.

Responsible for the shapes of both; not for where they are written.
"""

import csv
import json
import math
from collections.abc import Iterable
from dataclasses import asdict, fields
from typing import TextIO

from controller.journal.records import Run, Sample

COLUMNS = tuple(field.name for field in fields(Sample))


def write_csv(run: Run, out: TextIO) -> None:
    """One row a sample (RFC 4180), the names of the columns first; no value is an empty cell."""
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for sample in run.samples:
        writer.writerow(_cell(getattr(sample, name)) for name in COLUMNS)


def write_json(run: Run, out: TextIO) -> None:
    """The whole run as one JSON object; no value is null."""
    json.dump(_plain(asdict(run)), out, ensure_ascii=False, allow_nan=False, indent=1)
    out.write("\n")


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return int(value)
    return "" if value is None or (isinstance(value, float) and math.isnan(value)) else value


def _plain(value: object) -> object:
    """`value` with null for what JSON has no number for."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, Iterable) and not isinstance(value, str):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
