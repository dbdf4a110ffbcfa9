"""What a run asked, what was answered, and what was announced, in their order.

Responsible for reading it out of a record; not for wording (page) or drawing (curve).
"""

from dataclasses import dataclass, replace

from controller.core.profile import Action
from controller.core.state import EventName
from controller.journal.records import Run


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One question. `took_s` and `choice` are None while it is open; `by` says who answered."""

    id: str
    text: str
    at_s: float
    phase: str
    took_s: float | None = None
    choice: str | None = None
    by: str = ""
    action: str = ""
    is_soon: bool = False  # answered before what was asked for had had its time


def questions(run: Run) -> tuple[Asked, ...]:
    """Every question as it was put; one put anew with another amount, while open, counts once."""
    found: list[Asked] = []
    for note in run.events:
        ask_id = str(note.facts.get("id", ""))
        is_open = bool(found) and found[-1].id == ask_id and found[-1].choice is None
        if note.name == EventName.QUESTION_ASKED:
            text = str(note.facts.get("text", ""))
            if is_open:
                found[-1] = replace(found[-1], text=text)
            else:
                found.append(Asked(id=ask_id, text=text, at_s=note.t_s, phase=note.phase))
        elif note.name == EventName.QUESTION_ANSWERED and is_open:
            found[-1] = replace(
                found[-1],
                took_s=note.t_s - found[-1].at_s,
                choice=str(note.facts.get("choice", "")),
                by=str(note.facts.get("by", "")),
                action=str(note.facts.get("action", "")),
                is_soon=note.facts.get("soon") is True,
            )
    return tuple(found)


def set_tests(asked: tuple[Asked, ...]) -> tuple[Asked, ...]:
    """The set tests that were answered."""
    return tuple(one for one in asked if one.action == Action.SET_TEST)
