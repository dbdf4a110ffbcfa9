"""The rows that hold what is seen of the heater against what it was told.

Responsible for what is said and done when they disagree; not for looking (heater_sight), nor for
the rest of the table (interlocks).
"""

from controller.core import thresholds as th
from controller.core.interlock_rows import Cause, Interlock, Need, Priority, at_once, never

HEATER_ROWS: tuple[Interlock, ...] = (
    Interlock(
        cause=Cause.HEATER_LIVE_WHEN_OFF,
        safe=lambda e: e.heater.live_s < th.HEATER_TELLS_S,
        trip_after_s=at_once,
        what=lambda _: "There is voltage on the heater though its switches are told to be open.",
        action=(
            "Unplug now: a switch is stuck closed, or the mains-live input is: find which, and "
            "replace it before it heats."
        ),
        compares="the mains-live input with a heater told to be off",
        limit=f"{th.HEATER_TELLS_S:g} s live",
        needs=Need.MAINS,
        sees="the first minutes of a switch that stays closed or open",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.HEATER_DEAD_WHEN_ON,
        safe=lambda e: e.heater.dead_s < th.HEATER_TELLS_S,
        trip_after_s=at_once,
        what=lambda _: "There is no voltage on the heater though its switches are told to close.",
        action=(
            "Unplug; check plug, fuse, switches, the mains-live input's wire; has the cut-out "
            "tripped, find what overheated, then start again."
        ),
        compares="the mains-live input with a heater told to be on",
        limit=f"{th.HEATER_TELLS_S:g} s of that dead",
        needs=Need.MAINS,
    ),
    Interlock(
        cause=Cause.HEATER_LIVE_WHEN_OFF,
        safe=lambda e: e.heater.flowing_s < th.HEATER_TELLS_S,
        trip_after_s=at_once,
        what=lambda _: "Current flows through the heater though its switches are told to be open.",
        action=(
            "Unplug now: a switch is stuck closed, or the current sensor is stuck: find which, and "
            "replace it before it heats."
        ),
        compares="the heater's current with a heater told to be off",
        limit=f"{th.HEATER_TELLS_S:g} s over {th.CURRENT_FLOWS:.0%} of its own",
        needs=Need.CURRENT,
        sees="the first minutes of a heater that is dead or of another power",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.HEATER_DEAD_WHEN_ON,
        safe=lambda e: e.heater.still_s < th.HEATER_TELLS_S,
        trip_after_s=at_once,
        what=lambda _: "No current flows through the heater though it is told to be on.",
        action=(
            "Unplug; check heater, fuse, switches, the current sensor's place; has the cut-out "
            "tripped, find what overheated, then start again."
        ),
        compares="the heater's current with a heater told to be on",
        limit=f"{th.HEATER_TELLS_S:g} s of that under {th.CURRENT_FLOWS:.0%} of its own",
        needs=Need.CURRENT,
    ),
    Interlock(
        cause=Cause.HEATER_POWER_WRONG,
        safe=lambda e: e.heater.unlike_s < th.HEATER_TELLS_S,
        trip_after_s=at_once,
        what=lambda e: f"The heater draws {e.heater.share:.0%} of the current that it should.",
        action=(
            "Unplug; compare the watts on the heater's plate with the machine file, correct the "
            "file or replace the heater, then start again."
        ),
        compares="the heater's current with what its power takes",
        limit=f"{th.CURRENT_LESS:.0%} to {th.CURRENT_MORE:.0%}",
        needs=Need.CURRENT,
    ),
    Interlock(
        cause=Cause.HEATER_UNSEEN,
        advice=True,
        safe=lambda e: e.heater.blind_s <= th.HEATER_BLIND_S,
        trip_after_s=never,
        what=lambda _: (
            "Nothing shows any more whether the heater is on: its sensor gives no value."
        ),
        action="Let the batch end; then unplug and check that sensor's wires and its machine file.",
        compares="whether what sees the heater gives a value",
        limit=f"{th.HEATER_BLIND_S:g} s without one",
    ),
)
