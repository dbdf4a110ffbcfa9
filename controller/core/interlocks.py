"""The interlocks as a table: what must be shown safe before heat may be on.

Responsible for withholding heat and latching trips, with a cause, a sentence and what to do; not
for reading probes (evidence) or driving anything. Each rule is written "unsafe unless shown
safe", so that a missing, stale or not-a-number value fails it. No mode may skip one. Only the
self-watch's warnings, which withhold no heat, take no word at all for safe (self_rows).
"""

import math
from collections.abc import Callable, Mapping
from operator import is_

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.detector_rows import DETECTOR_ROWS
from controller.core.evidence import Evidence
from controller.core.heater_rows import HEATER_ROWS
from controller.core.interlock_rows import Cause, Interlock, Priority
from controller.core.machine import Machine
from controller.core.machine_rows import MACHINE_ROWS
from controller.core.profile import Profile
from controller.core.run_rows import RUN_ROWS
from controller.core.self_rows import WARNINGS
from controller.core.start_rows import START_ROWS
from controller.core.state import Trip

__all__ = ["INTERLOCKS", "PRIORITIES", "Cause", "Interlock", "Judgement", "judge"]

INTERLOCKS: tuple[Interlock, ...] = (
    *MACHINE_ROWS,
    *RUN_ROWS,
    *START_ROWS,
    *HEATER_ROWS,  # from here on each table looks at one record alone: see `_RECORDS`
    *DETECTOR_ROWS,
    *WARNINGS,
)


# Of each cause the most pressing of its rows.
PRIORITIES: dict[str, Priority] = {}
for _row in INTERLOCKS:
    _known = PRIORITIES.get(_row.cause, Priority.LOW)
    PRIORITIES[str(_row.cause)] = min(_known, _row.priority, key=tuple(Priority).index)


Sound = tuple[object, ...]  # of each of `_RECORDS` the one by which its whole table was shown safe


class Judgement(Struct, frozen=True, kw_only=True):
    """What the table said in one tick."""

    unsafe_s: tuple[float, ...]
    withheld: tuple[str, ...]
    new_trips: tuple[Trip, ...]
    active: Mapping[str, tuple[Interlock, str]] = {}  # alarms that are no trips: row, what was seen
    sound: Sound = ()


_NONE_UNSAFE = (0.0,) * len(INTERLOCKS)


def _rules_of(rows: tuple[Interlock, ...]) -> tuple[tuple[int, Callable[[Evidence], bool]], ...]:
    """Each row's place in the whole table, and its rule."""
    places = {id(row): index for index, row in enumerate(INTERLOCKS)}
    return tuple((places[id(row)], row.safe) for row in rows)


# Tables that look at one record of the evidence alone: heater, seen, vitals.
_RECORDS = (HEATER_ROWS, DETECTOR_ROWS, WARNINGS)
_RECORD_RULES = tuple(map(_rules_of, _RECORDS))
_OWN_RULES = _rules_of(INTERLOCKS[: -sum(map(len, _RECORDS))])
_NEVER_SEEN: Sound = (math.nan,) * len(_RECORDS)  # no record is that


def judge(
    unsafe_s: tuple[float, ...],
    evidence: Evidence,
    *,
    machine: Machine,
    profile: Profile,
    latched: frozenset[str],
    now_s: float,
    dt_s: float,
    sound: Sound = (),
) -> Judgement:
    """Go through the table once.

    `unsafe_s` and `sound` are the last judgement's (empty at first); `latched` are causes already
    tripped.
    """
    before = unsafe_s or _NONE_UNSAFE
    unsafe, sound = _unsafe(evidence, sound or _NEVER_SEEN)
    failing = [index for index in unsafe if INTERLOCKS[index].fitted(machine)]
    if not failing and before == _NONE_UNSAFE:
        return Judgement(unsafe_s=_NONE_UNSAFE, withheld=(), new_trips=(), sound=sound)
    # Being safe for a moment does not undo having been unsafe: a loose contact adds up.
    after = [max(0.0, seconds - th.FORGIVEN_PER_S * dt_s) for seconds in before]
    trips: list[Trip] = []
    active: dict[str, tuple[Interlock, str]] = {}
    for index in failing:
        row = INTERLOCKS[index]
        # A row that has just become unsafe has been so for no time yet.
        after[index] = before[index] + dt_s if before[index] > 0.0 else _JUST_NOW_S
        known = latched | {trip.cause for trip in trips}
        if row.cause in known:
            continue
        if after[index] >= _wait_s(row, profile, now_s):
            what, action = row.says(evidence), row.after_trip(machine, evidence)
            trips.append(Trip(cause=row.cause, at_s=now_s, what=what, action=action))
        elif after[index] >= th.TELL_AFTER_S:
            active.setdefault(str(row.cause), (row, row.says(evidence)))
    withheld = (str(INTERLOCKS[index].cause) for index in failing if not INTERLOCKS[index].advice)
    return Judgement(
        unsafe_s=tuple(after),
        withheld=tuple(dict.fromkeys(withheld)),
        new_trips=tuple(trips),
        active=active,
        sound=sound,
    )


def _unsafe(evidence: Evidence, sound: Sound) -> tuple[list[int], Sound]:
    """The rows that are not shown safe, and the records by which whole tables are.

    Most records change seldom. One that was found sound can't have changed since, for it is frozen:
    while the very same one lies before it, its table is safe still.
    """
    unsafe = [index for index, is_safe in _OWN_RULES if not is_safe(evidence)]
    records = (evidence.heater, evidence.seen, evidence.vitals)
    if all(map(is_, records, sound)):
        return unsafe, sound
    found: list[object] = []
    for rules, record, before in zip(_RECORD_RULES, records, sound, strict=True):
        failing = []
        if record is not before:
            failing = [index for index, is_safe in rules if not is_safe(evidence)]
        unsafe += failing
        found.append(None if failing else record)
    return unsafe, tuple(found)


_JUST_NOW_S = 1e-9


def _wait_s(row: Interlock, profile: Profile, now_s: float) -> float:
    """How long a row may be unsafe before it trips, s: as a run begins a defect soon ends it."""
    wait_s = row.trip_after_s(profile)
    return min(wait_s, th.START_WAIT_S) if now_s <= th.START_S and wait_s < math.inf else wait_s
