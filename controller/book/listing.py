"""The book as text, CSV and JSON.

Responsible for what stands in a line, a row or a column; not for which runs there are (shelf).
"""

import csv
import json
import math
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import TextIO

from controller.book.notes import Notes
from controller.book.shelf import Entry, set_test_of
from controller.core.words import mass_text
from controller.journal.records import Run
from controller.report.compare_layout import columns_text
from controller.report.summary import summarise
from controller.report.words import duration_text, times_text, wall_text

BLOOM_LOOK_S = 7 * 86_400.0  # bloom takes days to show: a week later (common practice, no source)
NOTHING = "-"
HEAD = ("Run", "Begun", "Batch", "Ended", "After", "Set test", "Gloss", "Snap", "Bloom")


def list_text(found: Sequence[Entry], now: datetime) -> str:
    """A line a run, newest first, and which of them want their look for bloom."""
    lines = [HEAD, *(_line(entry, now) for entry in found)]
    return columns_text(lines)


def _line(entry: Entry, now: datetime) -> tuple[str, ...]:
    notes = entry.notes
    told = ("can't be read", NOTHING, NOTHING) if notes is None else _looks(entry, notes, now)
    return (
        entry.path.stem,
        wall_text(entry.header.began_utc),
        mass_text(entry.header.batch_kg),
        (entry.outcome or "broke off").replace("-", " "),
        duration_text(entry.lasted_s),
        str(set_test_of(entry.verdict, notes) or NOTHING).replace("-", " "),
        *told,
    )


def _looks(entry: Entry, notes: Notes, now: datetime) -> tuple[str, str, str]:
    bloom = "look now" if bloom_is_due(entry.header.began_utc, notes, now) else NOTHING
    return (notes.gloss or NOTHING, notes.snap or NOTHING, notes.bloom or bloom)


def bloom_is_due(began_utc: str, notes: Notes, now: datetime) -> bool:
    """Whether pieces of this batch are a week old, shone once, and nobody looked again."""
    if notes.bloom is not None or notes.gloss is None:
        return False
    try:
        began = datetime.fromisoformat(began_utc)
    except ValueError:
        return False
    began = began if began.tzinfo else began.replace(tzinfo=UTC)
    return (now - began).total_seconds() >= BLOOM_LOOK_S


def notes_text(notes: Notes) -> str:
    """All that was noted, a fact a line; nothing for nothing."""
    left = "" if notes.left_kg is None else f"{mass_text(notes.left_kg)} left over"
    melted = f", melted {times_text(notes.remelts)}" if notes.remelts else ""
    rows = [
        ("Chocolate", notes.chocolate),
        ("Contains", ", ".join(notes.contains)),
        ("Traces", ", ".join(notes.traces)),
        ("Made", notes.made),
        ("Set test", _said(notes.set_test)),
        ("Gloss", _said(notes.gloss)),
        ("Snap", _said(notes.snap)),
        ("Bloom", _said(notes.bloom) + (f", {wall_text(notes.bloom_utc)}" if notes.bloom else "")),
        ("Left", f"{left}{melted}"),
        *((wall_text(one.at_utc), one.text) for one in notes.remarks),
    ]
    told = [row for row in rows if row[1]]
    return columns_text(told) if told else ""


def _said(word: str | None) -> str:
    return "" if word is None else word.replace("-", " ")


def row_of(run: Run, notes: Notes) -> dict[str, object]:
    """One run as figures and notes; None where something did not happen or is not known."""
    summary = summarise(run)
    band = summary.hold_band
    return {
        "run_id": summary.run_id,
        "began_utc": summary.began_utc,
        "machine": summary.machine_name,
        "profile": run.header.profile_name,
        "kind": summary.profile_kind,
        "chocolate": notes.chocolate or None,
        "batch_kg": summary.batch_kg,
        "outcome": summary.outcome,
        "lasted_s": summary.lasted_s,
        "ready_s": summary.ready_s,
        "hold_min_k": band.min_k if band else None,
        "hold_max_k": band.max_k if band else None,
        "heat_kwh": summary.heat_asked_kwh,
        "trips": [trip.cause for trip in summary.trips],
        "set_test": str(set_test_of(summary.verdict, notes)) or None,
        "contains": list(notes.contains),
        "traces": list(notes.traces),
        "made": notes.made or None,
        "gloss": notes.gloss,
        "snap": notes.snap,
        "bloom": notes.bloom,
        "bloom_utc": notes.bloom_utc or None,
        "left_kg": notes.left_kg,
        "remelts": notes.remelts,
        "remarks": [f"{one.at_utc} {one.text}" for one in notes.remarks],
    }


def write_csv(rows: Iterable[dict[str, object]], out: TextIO) -> None:
    """One row a run (RFC 4180), the names of the columns first; several values with "; "."""
    writer: csv.DictWriter[str] | None = None
    for row in rows:
        if writer is None:
            writer = csv.DictWriter(out, list(row))
            writer.writeheader()
        writer.writerow({key: _cell(value) for key, value in row.items()})


def write_json(rows: Iterable[dict[str, object]], out: TextIO) -> None:
    """All runs as one JSON list; no value is null."""
    plain = [{key: _plain(value) for key, value in row.items()} for row in rows]
    json.dump(plain, out, ensure_ascii=False, allow_nan=False, indent=1)
    out.write("\n")


def _plain(value: object) -> object:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _cell(value: object) -> object:
    plain = _plain(value)
    if isinstance(plain, list):
        return "; ".join(map(str, plain))
    return "" if plain is None else plain
