"""The rows that judge bath, bowl, heater, water and stirrer by their own readings.

Responsible for what is said and done when one of them is not shown safe; not for rows that hold
sensors against each other (detector_rows), nor for judging by the table (interlocks).
"""

import math

from controller.core import thresholds as th
from controller.core.evidence import Evidence
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
from controller.core.signals import Quality

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


def _water_covers(e: Evidence) -> bool:
    level = e.level
    return level is not None and level.quality is _GOOD and level.value >= 1.0


def _bath_moves(e: Evidence) -> bool:
    if not e.bath.is_plausible:  # while the probe says nothing, its other rows say why
        return True
    hidden_k = min(th.FROZEN_STEPS * e.bath.step_k, th.FROZEN_COARSE_K)
    most_k = max(th.FROZEN_MODEL_K, hidden_k)
    keeps_up = e.bath.unchanged_s <= th.FROZEN_MIN_S or abs(e.frozen_model_k) <= most_k
    awake = e.bath.unchanged_s <= th.FROZEN_BATH_S or e.heat_since_change_s <= th.FROZEN_HEAT_S
    return keeps_up and awake


def _too_coarse(e: Evidence) -> str:
    """The end of a sentence: what else may be the matter with a bath probe that does not move."""
    if not th.FROZEN_MODEL_K < th.FROZEN_STEPS * e.bath.step_k < math.inf:
        return "."
    return (
        f"; its steps of {e.bath.step_k:.2g} K are coarse, so if it is whole, put one of 0.1 K or "
        "less in its place."
    )


def _bowl_moves(e: Evidence) -> bool:
    if not e.bowl.is_plausible:
        return True
    apart_k = max(th.FROZEN_LEAD_K, th.FROZEN_STEPS * e.bowl.step_k)
    rests = e.bowl_heat_since_change_s <= th.FROZEN_HEAT_S and abs(e.bowl_lead_k) <= apart_k
    awake = e.bowl.unchanged_s <= th.FROZEN_BOWL_S or rests
    follows = (
        e.bowl.unchanged_s <= th.FROZEN_BOWL_MIN_S or abs(e.bowl_model_k) <= th.FROZEN_BOWL_MODEL_K
    )
    return awake and follows


MACHINE_ROWS: tuple[Interlock, ...] = (
    Interlock(
        cause=Cause.RELAY_STUCK_ON,
        safe=lambda e: e.stuck_hits < th.STUCK_HITS,
        trip_after_s=at_once,
        what=lambda e: (
            f"The bath ({e.bath.raw_c:.1f} °C) warms as if the heater were on, "
            "though it is told to be off."
        ),
        action=(
            "Unplug now; let a nearly dry bath cool and fill it; if full, a switch is stuck "
            "closed: replace it before it heats."
        ),
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
            "Unplug; lift the bowl out with dry gloves; once the bath is cool see to water, "
            "switches and probes before it heats."
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
            "Unplug; lift the bowl out with dry gloves; throw away what smells burnt; see to "
            "switches and probes before it heats."
        ),
        compares="the bowl's temperature with its limit",
        limit="the profile's and machine's",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.BOWL_TOO_WARM,
        safe=lambda e: (
            not math.isfinite(e.bowl.value_c) or e.bowl_ahead_c <= e.bowl_most_c + th.OVER_TARGET_K
        ),
        trip_after_s=never,
        what=lambda e: (
            f"The bowl is at {e.bowl.value_c:.1f} °C, and it should have {e.bowl_most_c:.1f} °C at "
            "most; heat waits until it has come down."
        ),
        action=(
            "If you added warm chocolate, wait; else see that each probe is where it belongs; "
            "before you reach in, stop the run and unplug."
        ),
        compares="the bowl's temperature with its target, once it was no warmer than that",
        limit=f"{th.OVER_TARGET_K:g} K over it, in {th.CAUGHT_WITHIN_S:g} s if it falls",
        needs=Need.BOWL,
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
            f"{e.bath.unchanged_s:.0f} s while the bath was heated or cooled" + _too_coarse(e)
        ),
        action=(
            "Unplug; see that the bath probe hangs in water, its wire whole; replace it if that "
            "does not help, then start again."
        ),
        compares="the bath probe's steps with the machine's picture",
        limit=(
            f"{th.FROZEN_MODEL_K:g} K (coarse: {th.FROZEN_COARSE_K:g} K) without a step; heated, "
            f"{th.FROZEN_BATH_S:g} s"
        ),
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
        action=(
            "Unplug; see that the bowl probe is in chocolate, its wire whole; replace it if that "
            "does not help, then start again."
        ),
        compares="the bowl probe's steps with the bath's lead",
        limit=f"{th.FROZEN_BOWL_MODEL_K:g} K without a step; {th.FROZEN_BOWL_S:g} s, heated or "
        f"{th.FROZEN_LEAD_K:g} K from its bath (coarse: {th.FROZEN_STEPS:g} steps)",
    ),
    Interlock(
        cause=Cause.HEAT_WITHOUT_EFFECT,
        safe=lambda e: e.held_back_s < 0.0,
        trip_after_s=never,
        what=lambda e: (
            f"Heat for {e.unverified_s:.0f} s at full power has not warmed the bath "
            f"({e.bath.raw_c:.1f} °C); heat now waits for a minute, as a test."
        ),
        action=(
            "Put the lid on and look at the water; if it is low, stop the run, unplug, and let "
            "the heater cool before you fill it."
        ),
        compares="the bath's rise and losses with the heat given",
        limit=(
            f"{th.UNVERIFIED_BUDGET_S:g} s of full power without {th.VERIFIED_FRACTION:.0%} seen; "
            f"{th.UNVERIFIED_AT_MOST * th.UNVERIFIED_BUDGET_S:g} s where less than "
            f"{th.GIVEN_SHARE:.0%} of it was given of late"
        ),
    ),
    Interlock(
        cause=Cause.HEAT_WITHOUT_EFFECT,
        safe=lambda e: e.held_back_s < th.HELD_BACK_S,
        trip_after_s=at_once,
        what=lambda e: (
            f"Heat for {e.unverified_s:.0f} s at full power has not warmed the bath "
            f"({e.bath.raw_c:.1f} °C), and without it the bath got no colder."
        ),
        action=(
            "Unplug; see to water (let a dry heater cool), lid, probe, heater, fuse, "
            "switches, and why a cut-out tripped, then start again."
        ),
        compares="the bath's fall without that heat with its way of the minute before",
        limit=f"{th.HELD_BACK_S:g} s without {th.MISSED_SHARE:.0%} of what it gave missed, "
        f"or {th.MISSED_LEAST_K:g} K",
        priority=Priority.HIGH,
    ),
    Interlock(
        cause=Cause.LEVEL_LOST,
        needs=Need.LEVEL,
        sees="low or lost water",
        safe=_water_covers,
        trip_after_s=after(th.LEVEL_TRIP_S),
        what=lambda _: "The level switch sees no water over the heater.",
        action=(
            "Unplug, let the heater cool, fill the bath to its mark; if it is full, free the "
            "switch's float, check its wire, then start again."
        ),
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
            "Unplug before you touch the stirrer; if it turned, see to its pulse sensor, else to "
            "supply, belt, set chocolate, then start again."
        ),
        compares="the shaft's speed with the one asked for",
        limit=f"{th.SHAFT_FRACTION:.0%} of it",
    ),
)
