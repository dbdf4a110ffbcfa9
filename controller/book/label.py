"""The label for what is left over: kind, date, remelts, allergens.

Responsible for its words and its HTML; no food law, only what a cook noted.
"""

from html import escape

from controller.book.story import Told
from controller.core.scales import retold
from controller.core.words import mass_text
from controller.journal.records import Run
from controller.report.words import times_text

KEEP = "Keep dark, dry and airtight at 15 to 18 °C."  # common practice, no source


def label_rows(told: Told) -> tuple[tuple[str, str], ...]:
    """What stands on it, a pair a line."""
    notes, summary = told.notes, told.summary
    traces = ", ".join(notes.traces)
    left = "" if notes.left_kg is None else mass_text(notes.left_kg)
    rows = (
        ("Made", f"{told.began:%d %B %Y}".lstrip("0")),
        ("Mass", left or "________"),
        ("Melted so far", times_text(max(1, notes.remelts))),
        ("Contains", told.contains),
        ("May contain traces of", traces),
        ("Batch", summary.run_id),
    )
    return tuple(row for row in rows if row[1])


def break_text(run: Run) -> str:
    """Why a label knows less than it might, for whoever sticks it on; empty for a whole run.

    What stands on it is from the record's first line and from the notes, which are whole.
    """
    if run.closing is not None and not run.torn:
        return ""
    known = "the label has only what its beginning and your notes say; check kind and allergens."
    if run.torn:
        return f"The record of {run.header.run_id} is damaged part of the way: {known}"
    return (
        f"The record of {run.header.run_id} has no end (the run goes on, or was cut off): {known}"
    )


def label_html(told: Told) -> str:
    """One label as a `section`, to be printed and cut out."""
    rows = "".join(
        f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in label_rows(told)
    )
    return (
        f'<section class="label"><h3>{escape(told.chocolate.capitalize())}, left over</h3>'
        f'<dl>{rows}</dl><p class="quiet">{_keep(told)}</p></section>'
    )


def label_text(told: Told) -> str:
    """The same for a terminal or a label printer."""
    head = f"{told.chocolate.capitalize()}, left over"
    rows = [f"{name}: {text}" for name, text in label_rows(told)]
    return "\n".join([head, *rows, _keep(told)]) + "\n"


def _keep(told: Told) -> str:
    return retold(KEEP, fahrenheit=told.fahrenheit)
