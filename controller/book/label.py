"""The label for what is left over: kind, date, remelts, allergens.

Responsible for its words and its HTML; no food law, only what a cook noted.
"""

from html import escape

from controller.book.story import Told
from controller.core.words import mass_text

KEEP = "Keep dark, dry and airtight at 15 to 18 °C."  # common practice, no source


def label_rows(told: Told) -> tuple[tuple[str, str], ...]:
    """What stands on it, a pair a line."""
    notes, summary = told.notes, told.summary
    traces = ", ".join(notes.traces)
    left = "" if notes.left_kg is None else mass_text(notes.left_kg)
    rows = (
        ("Made", f"{told.began:%d %B %Y}".lstrip("0")),
        ("Mass", left or "________"),
        ("Melted before", _times(notes.remelts)),
        ("Contains", told.contains),
        ("May contain traces of", traces),
        ("Batch", summary.run_id),
    )
    return tuple(row for row in rows if row[1])


def label_html(told: Told) -> str:
    """One label as a `section`, to be printed and cut out."""
    rows = "".join(
        f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in label_rows(told)
    )
    return (
        f'<section class="label"><h3>{escape(told.chocolate.capitalize())}, left over</h3>'
        f'<dl>{rows}</dl><p class="quiet">{KEEP}</p></section>'
    )


def label_text(told: Told) -> str:
    """The same for a terminal or a label printer."""
    head = f"{told.chocolate.capitalize()}, left over"
    rows = [f"{name}: {text}" for name, text in label_rows(told)]
    return "\n".join([head, *rows, KEEP]) + "\n"


def _times(count: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")
