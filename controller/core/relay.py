"""Duty to relay: sigma-delta with minimum times, no window.

Responsible for making a relay average to a duty without ever switching faster than it may; not
for whether heat is permitted, which overrules every minimum time.
"""

import math

from controller.core import thresholds as th
from controller.core.state import RelayMemory

DEBT_HALVES = 4.0  # half switching steps that may be owed; own engineering value, not published


def shape(
    memory: RelayMemory,
    duty: float,
    *,
    dt_s: float,
    min_on_s: float,
    min_off_s: float,
    pulse_s: float = 0.0,
) -> RelayMemory:
    """Choose on or off for the coming tick; a `pulse_s` over the minimum times spares the relay.

    The debt is the on-time asked for (duty, 0 to 1) and not yet given. The relay closes when the
    debt has grown by half a switching step and opens when it is overpaid by as much: at 6 % duty
    that gives short pulses far apart, where a time window would have a dead band.
    """
    held_s = memory.held_s + dt_s
    owed_s = memory.owed_s + duty * dt_s - (dt_s if memory.on else 0.0)
    half_s = max(min_on_s, min_off_s, dt_s, pulse_s) / 2
    # Debt beyond a few steps is history: paying it back would be wind-up. The bound must leave room
    # for a whole tick past either threshold, or the average would drift.
    owed_s = min(max(owed_s, -DEBT_HALVES * half_s), DEBT_HALVES * half_s)
    if memory.on:
        switch = held_s >= min_on_s and duty < 1.0 and (owed_s <= -half_s or duty <= 0.0)
    else:
        switch = held_s >= min_off_s and duty > 0.0 and (owed_s >= half_s or duty >= 1.0)
    if switch:
        return RelayMemory(on=not memory.on, held_s=0.0, owed_s=owed_s)
    return RelayMemory(on=memory.on, held_s=held_s, owed_s=owed_s)


def opened_to_look(before: RelayMemory, after: RelayMemory, period_s: float) -> RelayMemory:
    """Full heat broken off now and then, where something sees whether the heater obeys.

    A switch that has stuck closed changes nothing for as long as heat is asked without a break.
    `after` is what comes of `before` otherwise, a tick of `period_s` later.
    """
    held_s, lasts_s = before.held_s + period_s, _look_s(period_s)
    begins = before.on and after.on and held_s >= th.LOOK_CLOSED_S
    if begins or (before.is_look and held_s < lasts_s):
        held_s = 0.0 if begins else held_s
        return RelayMemory(on=False, held_s=held_s, owed_s=after.owed_s, is_look=True)
    return after


def least_off_s(memory: RelayMemory, min_off_s: float, period_s: float) -> float:
    """How long an open relay stays open; one that only opened to be looked at, no longer than that.

    So rare a look wears no relay, and a long time each two minutes would cost much of full heat.
    """
    return min(min_off_s, _look_s(period_s)) if memory.is_look else min_off_s


def _look_s(period_s: float) -> float:
    return max(th.LOOK_OPEN_S, th.LOOK_OPEN_TICKS * period_s)


def force_off(memory: RelayMemory, dt_s: float) -> RelayMemory:
    """Open at once, whatever the minimum times: safety overrules the relay's life."""
    if memory.on:
        return RelayMemory(on=False, held_s=0.0, owed_s=0.0)
    return RelayMemory(on=False, held_s=min(memory.held_s + dt_s, math.inf), owed_s=0.0)
