"""A log that tests can read.

Responsible for a real structlog logger whose lines end in a list; not for any expectation.
"""

from collections.abc import MutableMapping
from typing import Any

import structlog
from structlog.typing import FilteringBoundLogger


def listening_log() -> tuple[FilteringBoundLogger, list[MutableMapping[str, Any]]]:
    """A logger, and the list that its lines go to."""
    lines: list[MutableMapping[str, Any]] = []

    def keep(
        _logger: object, method: str, event: MutableMapping[str, Any]
    ) -> MutableMapping[str, Any]:
        lines.append({**event, "level": method})
        raise structlog.DropEvent

    log: FilteringBoundLogger = structlog.wrap_logger(
        None, processors=[keep], wrapper_class=structlog.make_filtering_bound_logger(0)
    )
    return log, lines
