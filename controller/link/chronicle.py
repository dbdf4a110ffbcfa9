"""What happened in the run, as lines for `$log`: nothing kept, nothing repeated.

Responsible for wording and for bounded memory; not for what is worth an alert (tree).
"""

from collections import deque
from collections.abc import Iterable

from controller.core.state import EventName
from controller.ports import Event

WAITING = 64  # lines on their way out; own engineering value, not published

# Levels of the Homie 5 convention; what isn't named here is information.
LEVELS = {
    EventName.BUTTON_PRESSED: "warn",
    EventName.HEAT_WITHHELD: "warn",
    EventName.PHASE_OVERRAN: "warn",
    EventName.REQUEST_REFUSED: "warn",
    EventName.TRIP_LATCHED: "error",
}


class Chronicle:
    """Filled by the control loop, emptied by the link's thread; the oldest lines give way."""

    def __init__(self) -> None:
        """Nothing has happened yet."""
        self._lines: deque[tuple[str, str]] = deque(maxlen=WAITING)

    def note(self, events: Iterable[Event]) -> None:
        """Keep what happened in one tick."""
        for event in events:
            self._lines.append((LEVELS.get(event.name, "info"), line(event)))

    def next(self) -> tuple[str, str] | None:
        """The oldest level and line not yet taken."""
        try:
            return self._lines.popleft()
        except IndexError:
            return None

    def forget(self) -> None:
        """Drop what nobody was there to hear: a log is no history."""
        self._lines.clear()


def line(event: Event) -> str:
    """One event in words: "question answered: id set-test, choice yes"."""
    facts = ", ".join(f"{key} {_shown(value)}" for key, value in event.facts.items() if value != "")
    words = event.name.value.replace("_", " ")
    return f"{words}: {facts}" if facts else words


def _shown(value: str | float | bool) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)
