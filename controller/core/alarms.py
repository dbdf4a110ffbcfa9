"""Alarms that are no trips: what is told to somebody, and what became of it.

Responsible for the states an alarm goes through, in the words of IEC 62682: normal (not kept),
unacknowledged, acknowledged, returned-unacknowledged. A trip is its latched alarm and lives in
`State.trips`. None can be shelved, suppressed or put out of service. Not for what is unsafe
(interlocks) or where it is shown. What a record has of every alarm, trips as well, stands here too.
"""

from collections.abc import Mapping

from controller.core.interlock_rows import Interlock, Priority, without_again
from controller.core.interlocks import PRIORITIES
from controller.core.reasons import why
from controller.core.records import replace
from controller.core.state import Alarm, Event, EventName, Notice, Trip

# Own engineering value, not published: what comes and goes within it is one alarm.
RETURNS_AFTER_S = 30.0

_RANK = {Priority.HIGH: 0, Priority.MEDIUM: 1, Priority.LOW: 2}
Active = Mapping[str, tuple[Interlock, str]]  # by cause: its row, and what was seen
Facts = Mapping[str, str | float | bool]


def noticed(
    notices: tuple[Notice, ...],
    trips: tuple[Trip, ...],
    active: Active,
    now_s: float,
    *,
    is_steered: bool,
) -> tuple[tuple[Notice, ...], tuple[Event, ...]]:
    """The alarms after this tick. What a machine does once it has tripped is no news.

    But an alarm whose reason is still there has not returned: that would be false news. Nor is
    advice of any use then, or in a run that is over; what was raised of it returns.
    """
    if trips:
        latched = {trip.cause for trip in trips}
        notices = tuple(notice for notice in notices if notice.cause not in latched)
        still = {notice.cause for notice in notices if is_present(notice)}
        active = {cause: seen for cause, seen in active.items() if cause in still}
    told: tuple[Event, ...] = ()
    if trips or not is_steered:
        told = tuple(_returned(one) for one in notices if one.is_advice and is_present(one))
        notices = tuple(notice for notice in notices if not notice.is_advice)
        active = {cause: seen for cause, seen in active.items() if not seen[0].advice}
    notices, changes = followed(notices, active, now_s)
    return notices, told + changes


def followed(
    notices: tuple[Notice, ...], active: Active, now_s: float
) -> tuple[tuple[Notice, ...], tuple[Event, ...]]:
    """The alarms after this tick, most pressing first, and the events that say what changed."""
    kept: list[Notice] = []
    events: list[Event] = []
    known: set[str] = set()
    for notice in notices:
        known.add(notice.cause)
        after = _after(notice, active.get(notice.cause), now_s)
        if after is None or after.alarm is Alarm.RETURNED is not notice.alarm:
            events.append(_returned(notice))
        elif notice.alarm is Alarm.RETURNED is not after.alarm:
            events.append(_told(after))
        if after is not None:
            kept.append(after)
    for cause, (row, what) in active.items():
        if cause not in known:
            kept.append(_raised(row, what, now_s))
            events.append(_told(kept[-1]))
    if events:
        kept.sort(key=lambda notice: _RANK[Priority(notice.priority)])
    return tuple(kept), tuple(events)


def is_present(notice: Notice) -> bool:
    """Whether its reason is still there."""
    return notice.alarm is not Alarm.RETURNED


def latched(trip: Trip) -> Event:
    """The event that a trip is recorded by."""
    facts: dict[str, str | float | bool] = {
        "cause": trip.cause,
        "priority": PRIORITIES[trip.cause],
        "what": trip.what,
        "why": why(trip.cause),
        "action": trip.action,
    }
    return Event(name=EventName.TRIP_LATCHED, facts=facts)


def trip_of(facts: Facts, at_s: float) -> Trip:
    """A trip from the facts of its event. Older records know no why."""
    return Trip(
        cause=str(facts.get("cause", "")),
        at_s=at_s,
        what=str(facts.get("what", "")),
        action=str(facts.get("action", "")),
        why=str(facts.get("why", "")),
    )


def notice_of(facts: Facts, at_s: float) -> Notice:
    """An alarm that is no trip from the facts of its event. Older records know no why."""
    return Notice(
        cause=str(facts.get("cause", "")),
        priority=str(facts.get("priority", Priority.HIGH)),
        at_s=at_s,
        seen_s=at_s,
        what=str(facts.get("what", "")),
        action=str(facts.get("action", "")),
        is_advice=facts.get("heat_withheld") is False,
        why=str(facts.get("why", "")),
    )


def acknowledged(notices: tuple[Notice, ...]) -> tuple[Notice, ...]:
    """The alarms once somebody has said that they know; what has returned is over."""
    return tuple(
        replace(notice, alarm=Alarm.ACKNOWLEDGED)
        for notice in notices
        if notice.alarm is not Alarm.RETURNED
    )


def _after(notice: Notice, seen: tuple[Interlock, str] | None, now_s: float) -> Notice | None:
    """One alarm a tick later, by what is `seen` of it now; None once it is normal again."""
    if seen is not None:
        if notice.alarm is Alarm.RETURNED:  # what was seen the last time may long be otherwise
            return replace(_raised(*seen, now_s), at_s=notice.at_s)
        return replace(notice, seen_s=now_s)
    if now_s - notice.seen_s < RETURNS_AFTER_S or notice.alarm is Alarm.RETURNED:
        return notice
    return None if notice.alarm is Alarm.ACKNOWLEDGED else replace(notice, alarm=Alarm.RETURNED)


def _raised(row: Interlock, what: str, now_s: float) -> Notice:
    return Notice(
        cause=row.cause,
        priority=row.priority,
        at_s=now_s,
        seen_s=now_s,
        what=what,
        action=without_again(row.action),  # the run has not ended
        is_advice=row.advice,
    )


def _told(notice: Notice) -> Event:
    facts: dict[str, str | float | bool] = {
        "cause": notice.cause,
        "priority": notice.priority,
        "what": notice.what,
        "why": why(notice.cause),
        "action": notice.action,
        "heat_withheld": not notice.is_advice,
    }
    return Event(name=EventName.ALARM_RAISED, facts=facts)


def _returned(notice: Notice) -> Event:
    return Event(name=EventName.ALARM_RETURNED, facts={"cause": notice.cause})
