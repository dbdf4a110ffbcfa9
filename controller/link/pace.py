"""Which values are due to be sent now, from what was sent before.

Responsible for the pacing, as a pure function; not for the values (tree) nor for sending.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from controller.link.homie import Property
from controller.ports import Moment

_FIGURES = re.compile(r"[0-9]+(\.[0-9]+)?")
CLEARED = ""  # an empty retained payload takes the value off the broker


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What was last sent on a topic, and when."""

    payload: str
    at_s: float


def due(
    properties: Iterable[Property],
    moment: Moment,
    sent: Mapping[str, Sent],
    now_s: float,
    *,
    all_of_them: bool = False,
) -> Iterator[tuple[Property, str]]:
    """The properties to send now, each with its payload.

    A value that is gone is cleared at once, so that nobody reads an old one as new.
    `all_of_them` leaves the intervals aside: for a new connection and for the last snapshot.
    """
    for row in properties:
        if not row.retained:
            continue
        payload = row.value(moment)
        last = sent.get(row.path)
        if payload is None:
            if (all_of_them and last is None) or (last is not None and last.payload != CLEARED):
                yield row, CLEARED
        elif all_of_them or last is None or _ripe(row, payload, last, now_s):
            yield row, payload


def _ripe(row: Property, payload: str, last: Sent, now_s: float) -> bool:
    waited_s = now_s - last.at_s
    if waited_s >= row.rhythm.most_s or last.payload == CLEARED:
        return True
    if payload == last.payload:
        return False
    if waited_s < row.rhythm.gap_s:
        return row.rhythm.words_at_once and _words(payload) != _words(last.payload)
    if not row.rhythm.step:
        return True
    # A hair of slack: 40.05 - 40.00 is a little less than 0.05 in binary.
    return abs(float(payload) - float(last.payload)) >= row.rhythm.step * 0.999


def _words(text: str) -> str:
    """A text without its figures."""
    return _FIGURES.sub("0", text)
