"""Logging: the one list of event names, and structlog set up for people or for machines.

Responsible for how a log line looks and what is bound to it; not for what is worth logging.
"""

import logging
import sys
from collections.abc import Callable, MutableMapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TextIO

import structlog

from controller.core.state import EventName
from controller.ports import Moment

LOG_EVENTS = frozenset(
    {
        *(name.value for name in EventName),
        "broker_connected",
        "broker_lost",
        "journal_failed",
        "loop_failed",
        "message_refused",
        "run_ended",
        "run_started",
        "subscription_refused",
    }
)

LOUD = {
    EventName.BUTTON_PRESSED: logging.WARNING,
    EventName.HEAT_WITHHELD: logging.WARNING,
    EventName.OBSTACLE_FOUND: logging.WARNING,
    EventName.PHASE_OVERRAN: logging.WARNING,
    EventName.REQUEST_REFUSED: logging.WARNING,
    EventName.TRIP_LATCHED: logging.ERROR,
}  # every other event of a tick is news, not trouble


def on_screen(asked: str | None) -> frozenset[EventName]:
    """The events that need no log line: on a terminal the screen says them in its own sentences.

    Where a log was `asked` for, or either goes into a pipe or a file, all are logged.
    """
    is_enough = asked is None and sys.stdout.isatty() and sys.stderr.isatty()
    return frozenset({EventName.TRIP_LATCHED}) if is_enough else frozenset()


@dataclass(slots=True)
class Bound:
    """What every log line carries, from whichever thread it comes."""

    run_id: str = ""
    phase: str = ""

    def __call__(
        self, _logger: object, _method: str, event: MutableMapping[str, Any]
    ) -> MutableMapping[str, Any]:
        """Add what is known, as a structlog processor."""
        if self.run_id:
            event.setdefault("run_id", self.run_id)
        if self.phase:
            event.setdefault("phase", self.phase)
        return event


def set_up(
    stream: TextIO,
    *,
    json_lines: bool,
    wall_time: Callable[[], datetime],
    least: int = logging.INFO,
) -> Bound:
    """Send all log lines of `least` level and above to `stream`.

    Args:
        stream: usually stderr.
        json_lines: one JSON object a line; otherwise text for a person.
        wall_time: the time that each line is stamped with.
        least: a level of the standard library's logging.

    Returns:
        What is bound to every line: set its run id and phase as they become known.
    """
    bound = Bound()

    def stamp(
        _logger: object, _method: str, event: MutableMapping[str, Any]
    ) -> MutableMapping[str, Any]:
        event["at"] = wall_time().isoformat(timespec="milliseconds")
        return event

    renderer: structlog.types.Processor = (
        structlog.processors.JSONRenderer(sort_keys=True)
        if json_lines
        else structlog.dev.ConsoleRenderer(colors=stream.isatty(), timestamp_key="at")
    )
    structlog.configure(
        processors=[
            bound,
            structlog.processors.add_log_level,
            stamp,
            structlog.processors.format_exc_info,
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(least),
        logger_factory=lambda *_: Forgiving(stream),
        cache_logger_on_first_use=False,
    )
    return bound


class Forgiving(structlog.PrintLogger):
    """Prints lines, and drops those that nobody takes: a closed terminal never ends a batch."""

    def msg(self, message: str) -> None:
        """Print one line if it can be printed."""
        with suppress(OSError, ValueError):  # ValueError: its file is closed
            super().msg(message)

    log = debug = info = warn = warning = msg
    fatal = failure = err = error = critical = exception = msg


class EventLog:
    """Logs the events of each tick, and keeps the bound phase up to date."""

    def __init__(
        self,
        log: structlog.typing.FilteringBoundLogger,
        bound: Bound,
        phases: tuple[str, ...],
        *,
        shown: frozenset[EventName] = frozenset(),
    ) -> None:
        """Log to `log`; `phases` are the names in the profile's order.

        `shown` are the events that whoever would read the log is told of already.
        """
        self._log = log
        self._shown = shown
        self._bound = bound
        self._phases = phases

    def tell(self, moment: Moment) -> None:
        """Log what happened in this tick, if anything did."""
        if not moment.events:
            return
        self._bound.phase = self._phases[min(moment.state.progress.phase, len(self._phases) - 1)]
        for event in moment.events:
            if event.name in self._shown:
                continue
            # Bound, not passed: a fact named like a parameter must not break the call.
            self._log.bind(**event.facts).log(
                LOUD.get(event.name, logging.INFO),
                event.name.value,
                run_s=round(moment.state.run_s, 3),
            )
