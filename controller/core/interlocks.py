"""The interlocks as a table: what must be shown safe before heat may be on.

Responsible for withholding heat and latching trips, with a cause, a sentence and what to do; not
for reading probes (evidence) or driving anything. Each rule is written "unsafe unless shown
safe", so that a missing, stale or not-a-number value fails it. No mode may skip one.
"""

import math
from collections.abc import Callable, Mapping
from operator import is_

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.detector_rows import DETECTOR_ROWS
from controller.core.evidence import Evidence
from controller.core.heater_rows import HEATER_ROWS
from controller.core.interlock_rows import (
    Cause,
    Interlock,
    Need,
    Priority,
    after,
    at_once,
    never,
    probe_rows,
)
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.self_rows import WARNINGS
from controller.core.signals import NOT_LATCHED, Quality
from controller.core.start_rows import START_ROWS
from controller.core.state import Trip

__all__ = ["INTERLOCKS", "PRIORITIES", "Cause", "Interlock", "Judgement", "judge"]

_GOOD = Quality.GOOD  # looking up a member of an enumeration takes longer than all the rest


def _shaft_turns(e: Evidence) -> bool:
    if e.wanted_rpm <= 0.0 or e.stirring_s <= th.SHAFT_GRACE_S:
        return True
    shaft = e.shaft
    return (
        shaft is not None
        and shaft.quality is _GOOD
        and shaft.value >= th.SHAFT_FRACTION * e.wanted_rpm
    )


def _heat_shows(e: Evidence) -> bool:
    """Whether the bath has answered the heat, or little is given at a time and less than a lot."""
    times = 1.0 if e.given_share >= th.GIVEN_SHARE else th.UNVERIFIED_AT_MOST
    return e.unverified_s <= times * th.UNVERIFIED_BUDGET_S


def _guard_permits(e: Evidence) -> bool:
    return e.permit is not None and e.permit.latched == NOT_LATCHED


def _guard_speaks(e: Evidence) -> bool:
    return e.permit is not None and e.permit.age_s <= th.GUARD_SILENT_S


def _guard_says(e: Evidence) -> str:
    cause = "says nothing" if e.permit is None else e.permit.latched.replace("-", " ")
    return f"The guard keeps the heater off: {(e.permit.what if e.permit else '') or cause}."


def _water_covers(e: Evidence) -> bool:
    level = e.level
    return level is not None and level.quality is _GOOD and level.value >= 1.0


def _bath_moves(e: Evidence) -> bool:
    if not e.bath.is_plausible:  # while the probe says nothing, its other rows say why
        return True
    keeps_up = e.bath.unchanged_s <= th.FROZEN_MIN_S or abs(e.frozen_model_k) <= th.FROZEN_MODEL_K
    awake = e.bath.unchanged_s <= th.FROZEN_BATH_S or e.heat_since_change_s <= th.FROZEN_HEAT_S
    return keeps_up and awake


def _bowl_moves(e: Evidence) -> bool:
    if not e.bowl.is_plausible:
        return True
    awake = e.bowl.unchanged_s <= th.FROZEN_BOWL_S or e.bowl_heat_since_change_s <= th.FROZEN_HEAT_S
    follows = (
        e.bowl.unchanged_s <= th.FROZEN_BOWL_MIN_S or abs(e.bowl_model_k) <= th.FROZEN_BOWL_MODEL_K
    )
    return awake and follows


INTERLOCKS: tuple[Interlock, ...] = (
    Interlock(
        cause=Cause.RELAY_STUCK_ON,
        safe=lambda e: e.stuck_hits < th.STUCK_HITS,
        trip_after_s=at_once,
        what=lambda e: (
            f"The bath ({e.bath.raw_c:.1f} °C) warms as if the heater were on, "
            "though it is told to be off."
        ),
        action="Unplug the machine now; its relay may be welded: replace it before anything heats.",
        compares="the bath's rise in a minute with the heat asked for",
        limit=f"{th.STUCK_RISE_FRACTION:.0%} of full power, {th.STUCK_HITS} times",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.BATH_OVER_LIMIT,
        # A probe that says nothing has rows of its own; its last word no longer counts here.
        safe=lambda e: not math.isfinite(e.bath.value_c) or e.bath.value_c <= e.bath_cut_c,
        trip_after_s=after(th.OVER_LIMIT_TRIP_S),
        what=lambda e: (
            f"The bath is at {e.bath.value_c:.1f} °C, over this phase's limit of "
            f"{e.bath_cut_c:.1f} °C."
        ),
        action=(
            "Unplug the machine, let it cool, and look for a welded switch or a misplaced probe "
            "before it heats again."
        ),
        compares="the bath's temperature with its limit",
        limit="the phase's cut-off",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.BOWL_OVER_LIMIT,
        safe=lambda e: not math.isfinite(e.bowl.value_c) or e.bowl.value_c <= e.bowl_limit_c,
        trip_after_s=after(th.OVER_LIMIT_TRIP_S),
        what=lambda e: (
            f"The bowl is at {e.bowl.value_c:.1f} °C, over its limit of {e.bowl_limit_c:.1f} °C."
        ),
        action=(
            "Unplug, lift the bowl out with dry gloves, throw away what smells burnt, and find out "
            "why before it heats again."
        ),
        compares="the bowl's temperature with its limit",
        limit="the profile's and machine's",
        priority=Priority.HIGH,
    ),
    *probe_rows(
        "bath",
        Need.BATH,
        (
            Cause.BATH_PROBE_MISSING,
            Cause.BATH_PROBE_NOT_A_NUMBER,
            Cause.BATH_PROBE_STALE,
            Cause.BATH_PROBE_OUT_OF_RANGE,
            Cause.BATH_PROBE_JUMPING,
        ),
    ),
    Interlock(
        cause=Cause.BATH_PROBE_FROZEN,
        safe=_bath_moves,
        trip_after_s=at_once,
        what=lambda e: (
            f"The bath probe has said exactly {e.bath.raw_c:.2f} °C for "
            f"{e.bath.unchanged_s:.0f} s while the bath was heated or cooled."
        ),
        action="See that the bath probe hangs in water with its wire whole, then start again.",
        compares="the bath probe's steps with the machine's picture",
        limit=f"{th.FROZEN_MODEL_K:g} K without a step; heated, {th.FROZEN_BATH_S:g} s",
    ),
    *probe_rows(
        "bowl",
        Need.BOWL,
        (
            Cause.BOWL_PROBE_MISSING,
            Cause.BOWL_PROBE_NOT_A_NUMBER,
            Cause.BOWL_PROBE_STALE,
            Cause.BOWL_PROBE_OUT_OF_RANGE,
            Cause.BOWL_PROBE_JUMPING,
        ),
    ),
    Interlock(
        cause=Cause.BOWL_PROBE_FROZEN,
        safe=_bowl_moves,
        trip_after_s=at_once,
        what=lambda e: (
            f"The bowl probe has said exactly {e.bowl.raw_c:.2f} °C for "
            f"{e.bowl.unchanged_s / 60:.0f} min while the bath was warmer or colder."
        ),
        action="See that the bowl probe stands in chocolate with its wire whole, then start again.",
        compares="the bowl probe's steps with the bath's lead",
        limit=f"{th.FROZEN_BOWL_MODEL_K:g} K without a step; heated, {th.FROZEN_BOWL_S:g} s",
    ),
    Interlock(
        cause=Cause.HEAT_WITHOUT_EFFECT,
        safe=_heat_shows,
        trip_after_s=at_once,
        what=lambda e: (
            f"Heat for {e.unverified_s:.0f} s at full power has not warmed the bath "
            f"({e.bath.raw_c:.1f} °C)."
        ),
        action=(
            "Unplug the machine; see to water, lid, heater, fuse, switches and the bath probe's "
            "place, then start again."
        ),
        compares="the bath's rise and losses with the heat given",
        limit=f"{th.UNVERIFIED_BUDGET_S:g} s of full power without {th.VERIFIED_FRACTION:.0%} seen",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.LEVEL_LOST,
        needs=Need.LEVEL,
        sees="low or lost water",
        safe=_water_covers,
        trip_after_s=after(th.LEVEL_TRIP_S),
        what=lambda _: "The level switch sees no water over the heater.",
        action="Unplug, let the heater cool, fill the bath to its mark, then start again.",
        compares="whether water covers the element",
        limit="it does not",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.STIRRER_STOPPED,
        needs=Need.SHAFT,
        sees="a stirrer that stands",
        safe=_shaft_turns,
        trip_after_s=after(th.SHAFT_TRIP_S),
        what=lambda e: f"The stirrer should turn at {e.wanted_rpm:.0f} rpm and its shaft does not.",
        action=(
            "Unplug before you touch the stirrer; look for set chocolate, belt and coupling, "
            "then start again."
        ),
        compares="the shaft's speed with the one asked for",
        limit=f"{th.SHAFT_FRACTION:.0%} of it",
    ),
    Interlock(
        cause=Cause.TICK_LATE,
        safe=lambda e: e.late_s <= e.period_s,
        trip_after_s=never,
        what=lambda e: f"The computer came {e.late_s:.1f} s late to look at the machine.",
        action="Do nothing if it stays rare; else end other programs on the computer.",
        compares="each look at the machine with its schedule",
        limit="a period late",
        priority=Priority.LOW,
    ),
    Interlock(
        cause=Cause.TICK_LATE,
        safe=lambda e: e.late_ticks <= th.LATE_TICKS_MAX,
        trip_after_s=at_once,
        what=lambda e: (
            f"The computer came late to look at the machine {e.late_ticks} times within "
            f"{th.LATE_WINDOW_S:.0f} s."
        ),
        action="End other programs on the computer, then start again.",
        compares=f"late looks in {th.LATE_WINDOW_S:g} s",
        limit=f"{th.LATE_TICKS_MAX}",
    ),
    Interlock(
        cause=Cause.PHASE_LATE,
        safe=lambda e: not e.phase_is_overdue,
        trip_after_s=at_once,
        what=lambda e: (
            f"This phase has lasted {e.phase_s / 60:.0f} min, longer than its profile allows."
        ),
        action="Check amount, water, heater and lid, then start again.",
        compares="the phase's time with the profile's",
        limit="the profile's `late_after`, where that trips",
    ),
    Interlock(
        cause=Cause.RUN_TOO_LONG,
        safe=lambda e: e.run_s <= th.RUN_MAX_S,
        trip_after_s=at_once,
        what=lambda e: (
            f"The run has lasted {e.run_s / 3600:.0f} h, longer than anybody attends it."
        ),
        action="Look at the batch and whether you want to stay for more of it, then start again.",
        compares="the run's time",
        limit=f"{th.RUN_MAX_S / 3600:g} h",
    ),
    Interlock(
        cause=Cause.CLOCKS_DISAGREE,
        safe=lambda e: -th.CLOCK_AHEAD_S <= e.clock_ahead_s <= th.CLOCK_AHEAD_S,
        trip_after_s=never,
        what=lambda e: f"The computer missed {abs(e.clock_ahead_s):.1f} s of the last minute.",
        action="Set the computer so that it never sleeps, and stay with the machine.",
        compares="the computer's two clocks",
        limit=f"{th.CLOCK_AHEAD_S:g} s in {th.CLOCK_WINDOW_S:g} s",
    ),
    Interlock(
        cause=Cause.LIMITS_CHANGED,
        safe=lambda e: e.limits_intact,
        trip_after_s=at_once,
        what=lambda _: "A safety limit is no longer what it was when the run began.",
        action="Restart the computer, take another one if this comes back, then start again.",
        compares="the limits with a copy and its reciprocal",
        limit="any difference",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.GUARD_LATCHED,
        needs=Need.GUARD,
        safe=_guard_permits,
        trip_after_s=at_once,
        what=_guard_says,
        action="Type `bainward rearm` at the machine, do what it says, and start again.",
        compares="what the guard says",
        limit="it keeps the heater off",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.GUARD_SILENT,
        needs=Need.GUARD,
        safe=_guard_speaks,
        trip_after_s=after(th.GUARD_SILENT_TRIP_S),
        what=lambda e: (
            f"The guard, which switches the heater, has said nothing for {e.permit.age_s:.0f} s."
            if e.permit and math.isfinite(e.permit.age_s)
            else "The guard, which switches the heater, says nothing."
        ),
        action="See whether `bainward guard` runs, start it if it does not, then start again.",
        compares="the age of the guard's last word",
        limit=f"{th.GUARD_SILENT_S:g} s",
    ),
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
            what, action = row.says(evidence), row.after_trip(machine)
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
