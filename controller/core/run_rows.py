"""The rows that judge the run itself: its ticks, its clocks, its time, its limits and its guard.

Responsible for what is said and done when one of them is not shown safe; not for what the computer
is found wanting by a look of its own (self_rows), nor for judging by the table (interlocks).
"""

import math

from controller.core import thresholds as th
from controller.core.evidence import Evidence
from controller.core.interlock_rows import (
    AGAIN,
    GUARD_REARM,
    Cause,
    Interlock,
    Need,
    Priority,
    after,
    at_once,
    never,
)
from controller.core.signals import NOT_LATCHED

# How the guard ends what it says to do: a run that trips ends it in its own way.
_REARMED = f". {GUARD_REARM}"


def _guard_permits(e: Evidence) -> bool:
    return e.permit is not None and e.permit.latched == NOT_LATCHED


def _guard_speaks(e: Evidence) -> bool:
    return e.permit is not None and e.permit.age_s <= th.GUARD_SILENT_S


def _guard_reads(e: Evidence) -> bool:
    return e.permit is not None and math.isfinite(e.permit.bath_c)


def _guard_says(e: Evidence) -> str:
    cause = "says nothing" if e.permit is None else e.permit.latched.replace("-", " ")
    said = e.permit.what if e.permit is not None and e.permit.what else cause
    return f"The guard forbids heat: {said}."


def _guard_tells(e: Evidence) -> str:
    action = "" if e.permit is None else e.permit.action
    return action.replace(_REARMED, f", {AGAIN}")


def _took_too_long(e: Evidence) -> str:
    bowl = f"is at {e.bowl.value_c:.1f} °C and " if math.isfinite(e.bowl.value_c) else ""
    return (
        f"Phase {e.phase.name} has lasted {e.phase_s / 60:.0f} min, longer than its profile "
        f"allows; the bowl {bowl}should be at {e.phase.bowl_target_c:.1f} °C."
    )


RUN_ROWS: tuple[Interlock, ...] = (
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
        what=_took_too_long,
        action=(
            "Too warm: get colder water or a colder room; too cold: see to amount, lid, water and, "
            "unplugged, the heater, then start again."
        ),
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
        action="If you want to stay for more of it look at the batch, then start again.",
        compares="the run's time",
        limit=f"{th.RUN_MAX_S / 3600:g} h",
    ),
    Interlock(
        cause=Cause.CLOCKS_DISAGREE,
        safe=lambda e: -th.CLOCK_AHEAD_S <= e.clock_ahead_s <= th.CLOCK_AHEAD_S,
        trip_after_s=never,
        what=lambda e: f"The computer missed {abs(e.clock_ahead_s):.1f} s of the last minute.",
        action=(
            "Stay: heat comes back within a minute; after the run forbid sleep: "
            "`sudo systemctl mask sleep.target suspend.target`."
        ),
        compares="the computer's two clocks",
        limit=f"{th.CLOCK_AHEAD_S:g} s in {th.CLOCK_WINDOW_S:g} s",
    ),
    Interlock(
        cause=Cause.LIMITS_CHANGED,
        safe=lambda e: e.limits_intact,
        trip_after_s=at_once,
        what=lambda _: "A safety limit is no longer what it was when the run began.",
        action=(
            "Unplug the machine; restart the computer, or use another one if this comes back, "
            "then start again."
        ),
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
        action="See to what the guard says, then start again.",
        told=_guard_tells,
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
        action=(
            "Unplug; look at `systemctl status 'bainward*'`, or where you typed `bainward guard`; "
            "start it, plug in, then start again."
        ),
        compares="the age of the guard's last word",
        limit=f"{th.GUARD_SILENT_S:g} s",
        priority=Priority.HIGH,
    ),
    # The guard withholds heat by then: whoever watches is to know, and what is told of the heater
    # to be true. In a run that was heated it latches first; before any heat it has nothing to
    # latch for, and the run would wait for ever.
    Interlock(
        cause=Cause.GUARD_PROBE_MISSING,
        needs=Need.GUARD,
        safe=_guard_reads,
        trip_after_s=after(th.GUARD_PROBE_TRIP_S),
        what=lambda _: "The guard's thermometer gives no value.",
        action=f"Unplug; check its plug and wire; replace it if that does not help, {AGAIN}",
        compares="whether the guard's thermometer gives a value",
        limit="no value",
    ),
    Interlock(
        cause=Cause.BATCH_SETTING,
        advice=True,
        safe=lambda e: e.set_share <= th.SETTING_SHARE,
        trip_after_s=never,
        what=lambda e: f"By the estimate {e.set_share:.0%} or more of the fat has set by now.",
        action=(
            "If it is thin make a set test, and check thermometers later; if thick and the run "
            "does nothing, stop and melt it again."
        ),
        compares="form V, by an estimate that is sure of too much",
        limit=f"{th.SETTING_SHARE:.0%} of the fat",
    ),
)
