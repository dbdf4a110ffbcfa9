"""The rows that block a start: each is what its proof found wanting, with what to do.

Responsible for what is said and done of it; not for the proof (start_proof), nor for the rest of
the table (interlocks).
"""

from controller.core import thresholds as th
from controller.core.interlock_rows import (
    Cause,
    Interlock,
    Need,
    Priority,
    after,
    at_once,
    guard_c,
)
from controller.core.proof import Step

START_ROWS: tuple[Interlock, ...] = (
    Interlock(
        cause=Cause.KIND_WRONG,
        safe=lambda e: not e.proof.mistaken,
        trip_after_s=at_once,
        what=lambda e: (
            f"The bowl holds {e.proof.mistaken} chocolate, which this profile is not for."
        ),
        action="Choose a profile for what is in the bowl, or fill the bowl anew, then start again.",
        compares="what somebody says is in the bowl with the profile",
        limit="another kind",
    ),
    Interlock(
        cause=Cause.PROBES_APART_COLD,
        safe=lambda e: -th.COLD_APART_K <= e.proof.apart_k <= th.COLD_APART_K,
        trip_after_s=at_once,
        what=lambda e: (
            f"Before any heat, in the same water, the guard's thermometer says {guard_c(e):.1f} °C "
            f"and the bath probe {guard_c(e) - e.proof.apart_k:.1f} °C."
        ),
        action=(
            "Unplug; stir the water, see that both hang in it; hold a third thermometer beside "
            "them, replace the wrong one, then start again."
        ),
        compares="the guard's thermometer with the bath probe, before any heat",
        limit=f"{th.COLD_APART_K:g} K",
        needs=Need.GUARD,
    ),
    Interlock(
        cause=Cause.BOWL_TOO_COLD,
        safe=lambda e: e.proof.colder_k <= th.COLD_BOWL_K,
        trip_after_s=at_once,
        what=lambda e: (
            f"Before any heat the bowl's thermometer says {e.bowl.value_c:.1f} °C, and the bath, "
            f"as warm as the room, is at {e.bath.value_c:.1f} °C."
        ),
        action=(
            "Let cold chocolate warm to the room, covered, or it draws water; if it is not cold, "
            "replace the bowl's probe, then start again."
        ),
        compares="the bowl with a bath as warm as the room, before any heat",
        limit=f"{th.COLD_BOWL_K:g} K under it",
        needs=Need.BOWL,
    ),
    Interlock(
        cause=Cause.FIRST_SWITCH_STUCK,
        safe=lambda e: e.proof.stuck != 1,
        trip_after_s=at_once,
        what=lambda _: (
            "The heater was live with only its second switch closed: the first is stuck closed."
        ),
        action="Unplug the machine now; replace the first switch (`guard.main`) before it heats.",
        compares="the heater with its second switch closed alone",
        limit="voltage or current",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.SECOND_SWITCH_STUCK,
        safe=lambda e: e.proof.stuck != 2,  # noqa: PLR2004 - the second
        trip_after_s=at_once,
        what=lambda _: (
            "The heater was live with only its first switch closed: the second is stuck closed."
        ),
        action=(
            "Unplug the machine now; replace the second switch (`guard.second`) before it heats."
        ),
        compares="the heater with its first switch closed alone",
        limit="voltage or current",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.HEATER_UNSEEN,
        safe=lambda e: e.proof.step is not Step.OFF or e.heater.blind_s <= th.START_WAIT_S,
        trip_after_s=at_once,
        what=lambda _: "The mains-live input or the heater's current sensor gives no value.",
        action=(
            "Unplug; check the wires of the sensor that watches the heater and its lines in the "
            "machine file, then start again."
        ),
        compares="whether what sees the heater gives a value, before any heat",
        limit=f"{th.START_WAIT_S:g} s without one",
    ),
    Interlock(
        cause=Cause.HEAT_WITHOUT_EFFECT,
        safe=lambda e: e.proof.step is not Step.HEAT or e.unverified_s <= th.PULSE_S,
        trip_after_s=at_once,
        what=lambda e: (
            f"The first {e.unverified_s:.0f} s of heat have not warmed the bath "
            f"({e.bath.raw_c:.1f} °C)."
        ),
        action=(
            "Unplug; see that water covers probe and heater (let a dry one cool); check fuse, "
            "switches, tripped cut-out, then start again."
        ),
        compares="the bath's rise and losses with the first heat",
        limit=f"{th.PULSE_S:g} s of full power without {th.VERIFIED_FRACTION:.0%} seen",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.BOWL_NOT_WARMED,
        safe=lambda e: (
            e.proof.bowl_due_k <= th.BOWL_DUE_K or e.proof.bowl_rise_k >= th.BOWL_FOLLOWED_K
        ),
        trip_after_s=after(th.START_WAIT_S),
        what=lambda e: (
            f"The bath has been warm for long ({e.bath.raw_c:.1f} °C), and the bowl is still at "
            f"{e.bowl.raw_c:.1f} °C."
        ),
        action=(
            "Unplug; see that the bowl is in the bath and its probe in the chocolate, "
            "then start again."
        ),
        compares="the bowl's first rise with what the slowest bowl must show",
        limit=f"{th.BOWL_FOLLOWED_K:g} K where {th.BOWL_DUE_K:g} K are due",
        needs=Need.BOWL,
    ),
    Interlock(
        cause=Cause.STIRRER_STOPPED,
        safe=lambda e: e.turning_w >= th.LOAD_LEAST_W,
        trip_after_s=after(th.SHAFT_TRIP_S),
        what=lambda _: (
            "The stirrer was told to turn for the first time, and its load shows nothing."
        ),
        action=(
            "Unplug before you touch the stirrer; look for plug, belt, coupling and paddle, "
            "then start again."
        ),
        compares="the stirrer's load in its first minute of turning",
        limit=f"{th.LOAD_LEAST_W:g} W",
        needs=Need.LOAD,
    ),
)
