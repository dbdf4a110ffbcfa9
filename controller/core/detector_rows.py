"""The rows that hold sensors against each other and against the machine as it was learned.

Responsible for what is said and done when they disagree; not for the arithmetic (consistency), nor
for the rest of the table (interlocks).
"""

from controller.core import thresholds as th
from controller.core.evidence import Evidence
from controller.core.interlock_rows import (
    Cause,
    Interlock,
    Need,
    Priority,
    after,
    at_once,
    guard_c,
    never,
)

_S_PER_MIN = 60.0


def _when_cold(e: Evidence) -> str:
    """The end of a sentence: by how much less they differed before any heat, where that matters."""
    if not e.seen.crept_k > th.CREPT_K:
        return "."
    return f"; in cold water they differed by {e.seen.apart_k - e.seen.crept_k:+.1f} K."


DETECTOR_ROWS: tuple[Interlock, ...] = (
    Interlock(
        cause=Cause.BATH_PROBES_DISAGREE,
        safe=lambda e: -th.APART_K <= e.seen.apart_k <= th.APART_K and e.seen.crept_k <= th.CREPT_K,
        trip_after_s=after(th.APART_TRIP_S),
        what=lambda e: (
            f"In the same water the guard's thermometer says {guard_c(e):.1f} °C and the bath "
            f"probe {guard_c(e) - e.seen.apart_k:.1f} °C" + _when_cold(e)
        ),
        action=(
            "Unplug; see that both hang in the water; hold a third thermometer beside them, "
            "replace the one that is wrong, then start again."
        ),
        compares="the guard's thermometer with the bath probe",
        limit=f"{th.APART_K:g} K, or the guard's by {th.CREPT_K:g} K more than in cold water",
        needs=Need.GUARD,
        sees="a bath probe that creeps away, hangs in the air or follows late",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.GUARD_PROBE_FROZEN,
        safe=lambda e: e.seen.guard_frozen_s <= th.GUARD_FROZEN_S,
        trip_after_s=at_once,
        what=lambda e: (
            "The guard's thermometer has said the same for "
            f"{e.seen.guard_frozen_s / _S_PER_MIN:.0f} min while the bath was heated."
        ),
        action=(
            "Unplug; check the guard's thermometer, its plug and wire; replace it if that does not "
            "help, then start again."
        ),
        compares="the guard's thermometer with itself, while the bath is heated",
        limit=f"{th.GUARD_FROZEN_S:g} s without a step",
        needs=Need.GUARD,
        sees="a frozen thermometer of the guard",
    ),
    Interlock(
        cause=Cause.PROBES_CROSSED,
        safe=lambda e: e.seen.crossed_k <= th.CROSSED_K,
        trip_after_s=after(th.START_WAIT_S),
        what=lambda e: (
            f"At the first heat the bowl's thermometer warmed {e.seen.crossed_k:.1f} K more than "
            "the bath's, so the two seem to be swapped."
        ),
        action=(
            "Unplug; wipe and dry the one that hung in water before it goes into chocolate, swap "
            "them, then start again."
        ),
        compares="which thermometer answers the first heat",
        limit=f"the bowl by {th.CROSSED_K:g} K over all that the bath was",
    ),
    Interlock(
        cause=Cause.BOWL_UNLIKE_BATH,
        safe=lambda e: e.seen.unlike_least_k <= e.seen.unlike_k <= e.seen.unlike_most_k,
        trip_after_s=after(th.UNLIKE_TRIP_S),
        what=lambda e: (
            f"With a bowl at {e.bowl.raw_c:.1f} °C the bath should be at about "
            f"{e.bath.raw_c - e.seen.unlike_k:.1f} °C, and it is at {e.bath.raw_c:.1f} °C."
        ),
        action=(
            "Unplug; see that bowl and probes are in place; hold another thermometer beside each, "
            "replace the wrong one, then start again."
        ),
        compares="the bath's lead over the bowl with the machine as learned",
        limit=f"{th.UNLIKE_K:g} K over or under ({th.UNLIKE_COLD_K:g} K under chocolate below "
        f"{th.SETS_BELOW_C:g} °C, which may set, until all of it must have), and what an open lid "
        "takes",
    ),
    Interlock(
        cause=Cause.BOWL_FELL_ALONE,
        safe=lambda e: e.seen.fell_k <= 0.0,
        trip_after_s=after(th.FELL_TRIP_S),
        what=lambda e: (
            f"The bowl's thermometer fell by {e.seen.fell_k:.1f} K within a minute and stays "
            "there, though the bath is warmer."
        ),
        action=(
            "Unplug; see that its probe is in the chocolate, its plug dry; hold another beside it, "
            "replace the wrong one, then start again."
        ),
        compares="the bowl's fall in a minute with the bath",
        limit=f"{th.FELL_K:g} K while the bath is warmer",
    ),
    Interlock(
        cause=Cause.BOWL_DISTURBED,
        advice=True,
        safe=lambda e: -th.DIPPED_K <= e.seen.moved_k <= th.ROSE_K,
        trip_after_s=never,
        what=lambda e: (
            f"The bowl {'rose' if e.seen.moved_k > 0.0 else 'fell'} by "
            f"{abs(e.seen.moved_k):.1f} K within a minute, which the bath does not explain."
        ),
        action=(
            "If you added something, `bainward announce added 200 g at 20 C`; else look at stirrer "
            "and probe; to touch them stop and unplug."
        ),
        compares="the bowl's way in a minute with the bath",
        limit=f"{th.DIPPED_K:g} K down, {th.ROSE_K:g} K up",
        priority=Priority.LOW,
    ),
    Interlock(
        cause=Cause.STIRRER_UNLOADED,
        safe=lambda e: e.seen.load_share >= th.UNLOADED_SHARE,
        trip_after_s=after(th.UNLOADED_TRIP_S),
        what=lambda e: (
            f"The stirrer turns, but within seconds its load fell to {e.seen.load_share:.0%}."
        ),
        action=(
            "Unplug before you touch the stirrer; see to belt, coupling, paddle and direction, "
            "then start again."
        ),
        compares="the stirrer's load with that of 10 s before",
        limit=f"{th.UNLOADED_SHARE:.0%} of it, or under {th.LOAD_LEAST_W:g} W",
        needs=Need.LOAD,
        sees="a belt or paddle that came off, a stirrer that turns backwards",
    ),
    Interlock(
        cause=Cause.LOAD_JUMPED,
        advice=True,
        safe=lambda e: e.seen.load_share <= th.LOAD_JUMP,
        trip_after_s=never,
        what=lambda e: f"Within seconds the stirrer labours {e.seen.load_share:.1f} times as hard.",
        action=(
            "If you added it, `bainward announce added 200 g at 20 C`; else stop, unplug; take out "
            "a lump; grainy is good for ganache only."
        ),
        compares="the stirrer's load with that of 10 s before",
        limit=f"{th.LOAD_JUMP:g} times",
        needs=Need.LOAD,
        sees="water in the chocolate",
    ),
    Interlock(
        cause=Cause.HEAT_DEMAND_CHANGED,
        advice=True,
        safe=lambda e: th.DEMAND_LESS <= e.seen.demand_share <= th.DEMAND_MORE,
        trip_after_s=never,
        what=lambda e: (
            f"The bath needs {e.seen.demand_share:.1f} times the heat that it needed before."
        ),
        action=(
            "Look at the water's level, at lid and draughts; if all are as before, have the heater "
            "checked once the run is over."
        ),
        compares="the bath's losses with those learned",
        limit=f"{th.DEMAND_LESS:g} to {th.DEMAND_MORE:g} times",
        priority=Priority.LOW,
    ),
    Interlock(
        cause=Cause.AMOUNT_UNLIKELY,
        advice=True,
        safe=lambda e: th.AMOUNT_LESS <= e.seen.amount_share <= th.AMOUNT_MORE,
        trip_after_s=never,
        what=lambda e: (
            f"The bowl warms as if it held {e.seen.amount_share:.1f} times the batch "
            "of the machine file."
        ),
        action=(
            "When the run is over weigh what was in the bowl, and write it into the machine file."
        ),
        compares="the bowl's size as learned in the first phase with the machine file",
        limit=f"{th.AMOUNT_LESS:g} to {th.AMOUNT_MORE:g} times",
        priority=Priority.LOW,
    ),
)
