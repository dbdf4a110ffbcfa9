"""The wished hour, as people say it, on a local clock.

Responsible for reading it; not for what the clock says (handed in) or for time zones (commands).
"""

import re
from datetime import datetime, timedelta

from controller.planning.quantities import quoted

_HOUR = re.compile(
    r"(?:(?P<day>today|tomorrow|\d{4}-\d\d-\d\d)[ T]+)?(?P<hour>\d{1,2})(?:[:.](?P<minute>\d\d))?"
    r"\s*(?P<half>am|pm|h)?",
    re.IGNORECASE,
)
_NOON = 12
_LATEST_DAYS = 30  # own choice: who plans further ahead has mistyped the date
EXAMPLE = '"15:00", "tomorrow 15:00" or "3 pm"'


def wished_hour(text: str, now: datetime) -> datetime:
    """The moment meant, local and without a zone, like `now`; without a day, the next such hour.

    Raises:
        ValueError: it is no hour, is over, or lies far ahead; the sentence says what to write.
    """
    found = _HOUR.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{quoted(text)} is no hour; write {EXAMPLE}")
    day, half = (found["day"] or "").lower(), (found["half"] or "").lower()
    hour, minute = int(found["hour"]), int(found["minute"] or 0)
    if half in {"am", "pm"}:
        if not 1 <= hour <= _NOON:
            raise ValueError(f"{quoted(text)} is no hour; write {EXAMPLE}")
        hour = hour % _NOON + (_NOON if half == "pm" else 0)
    try:
        meant = _day(day, now).replace(hour=hour, minute=minute, second=0, microsecond=0)
    except ValueError:
        raise ValueError(f"{quoted(text)} is no hour of a day; write {EXAMPLE}") from None
    if not day and meant <= now:
        meant += timedelta(days=1)
    if meant <= now:
        raise ValueError(f"{quoted(text)} is over; write an hour to come, or tomorrow")
    if meant > now + timedelta(days=_LATEST_DAYS):
        raise ValueError(f"{quoted(text)} is more than {_LATEST_DAYS} days ahead; check the date")
    return meant


def _day(day: str, now: datetime) -> datetime:
    if day in {"", "today"}:
        return now
    if day == "tomorrow":
        return now + timedelta(days=1)
    return datetime.fromisoformat(day).replace(tzinfo=now.tzinfo)


def hour_text(moment: datetime, now: datetime) -> str:
    """A moment on the local clock: "15:00", with the day where it is another than `now`'s."""
    days = (moment.date() - now.date()).days
    hour = f"{moment:%H:%M}"
    if days == 0:
        return hour
    if days == 1:
        return f"{hour} tomorrow"
    return f"{hour} on {moment:%Y-%m-%d}"
