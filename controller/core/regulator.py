"""Bowl target to duty: which law is in force, and the handing over from one to the other.

Responsible for what the heater should average to; not for whether it may (interlocks) or how the
relay does it (relay). On the way to another temperature heat is full until the bowl will arrive by
itself (transition); on the way down there is none until full heat just catches it (catching); near
the target a cascade holds (hold). All work from the same belief, so that there is no bump between
them. The bath's ceiling binds them all.
"""

import math

from controller.core.catching import is_falling, must_catch, trough_sd_k
from controller.core.estimate import Belief
from controller.core.hold import (
    Numbers,
    bath_setpoint,
    duty,
    inner_s,
    numbers,
    pulse_s,
    sway_k,
)
from controller.core.machine import Machine
from controller.core.profile import Phase
from controller.core.stand_in import bath_of
from controller.core.state import Regulation, State
from controller.core.thermal import LOSS, loss_k_per_s
from controller.core.transition import peak_c, peak_sd_k

# Own engineering values, tuned on the bench, not published.
AIM_K = 0.06  # over the target that the predicted peak may be
SURE_SD = 2.3  # deviations of the prediction that are kept free under the aim
SURE_SD_NEAR = 2.0  # the same at the target itself,
SURE_FROM_K = 2.0  # and between them on the last of the way
SURE_SD_MELTING = 3.0  # the same before the chocolate has melted: latent heat is a rough picture
TIMING_S = 1.0
TIMING_SHOWS_K = 1.0
MOVES_FROM_K = 0.4
HOLDS_FROM_K = 0.12
WITHIN_REACH_K = 0.1  # a peak so near under the target is left to the cascade
UNDER_CEILING_K = 0.03
LIMITED_FROM_K = 0.03  # this far under the target the cascade, too, may not overshoot it


def bowl_setpoint(phase: Phase, start_bowl_c: float, phase_s: float) -> float:
    """The phase's target, approached no faster than its rate limit, in °C."""
    rate = phase.rate_limit_k_per_min
    if rate is None or not math.isfinite(start_bowl_c):
        return phase.bowl_target_c
    reach_k = rate * phase_s / 60.0
    gap_k = phase.bowl_target_c - start_bowl_c
    return start_bowl_c + math.copysign(min(abs(gap_k), reach_k), gap_k)


def regulate(
    state: State,
    belief: Belief,
    *,
    setpoint_c: float,
    ceiling_c: float,
    machine: Machine,
    dt_s: float,
) -> Regulation:
    """One step: the bath set-point (never above `ceiling_c`) and the duty (0 to 1)."""
    memory = state.regulation
    least_s = max(machine.min_on_s, dt_s)
    more_s = max(0.0, least_s - state.relay.held_s) if state.relay.on else least_s
    now = numbers(belief, setpoint_c)
    peak = peak_c(belief, belief.mean, setpoint_c, more_s)
    lacks_k = setpoint_c - now.bowl_c
    is_moving = not now.is_resting and _is_moving(memory, lacks_k, setpoint_c - peak)
    falls = not (is_moving or now.is_resting) and is_falling(-lacks_k, was=memory.is_falling)
    sd_k = _sd_k(memory, belief, setpoint_c, is_moving=is_moving, falls=falls)
    closes_s, top_c, trim_k = inner_s(least_s), ceiling_c - UNDER_CEILING_K, memory.trim_k
    if is_moving:
        is_heating = peak + _unsure_k(now, belief, sd_k, lacks_k) <= setpoint_c + AIM_K
        wanted_c = top_c if is_heating else min(top_c, setpoint_c + now.stands_k)
        asked = _full(now, belief, top_c, closes_s, dt_s) if is_heating else 0.0
    elif falls:
        wanted_c, asked = min(top_c, setpoint_c + now.stands_k), 0.0
        if must_catch(belief, setpoint_c, sd_k):
            asked = duty(now, wanted_c, now.holds_share, closes_s, dt_s)
    else:
        wanted_c, trim_k = bath_setpoint(now, setpoint_c, top_c, trim_k, closes_s, dt_s)
        wanted_c = min(top_c, wanted_c + sway_k(state.watch.memory.bath.unchanged_s, state.run_s))
        asked = duty(now, wanted_c, now.holds_share, closes_s, dt_s)
        if lacks_k > LIMITED_FROM_K and peak > setpoint_c + _may_go_over_k(now, least_s):
            asked = 0.0
    return Regulation(
        bowl_setpoint_c=setpoint_c,
        bath_setpoint_c=wanted_c,
        duty=asked if max(bath_of(state, machine), now.bath_c) < ceiling_c else 0.0,
        is_moving=is_moving,
        is_falling=falls,
        peak_c=peak,
        peak_c_sd=sd_k,
        trim_k=trim_k,
        pulse_s=pulse_s(now, least_s),
    )


def _sd_k(
    memory: Regulation, belief: Belief, setpoint_c: float, *, is_moving: bool, falls: bool
) -> float:
    """Standard deviation of the peak or trough ahead, looked at with each correction."""
    if is_moving and (belief.since_s == 0.0 or not memory.is_moving):
        return peak_sd_k(belief, setpoint_c)
    if falls and (belief.since_s == 0.0 or not memory.is_falling):
        return trough_sd_k(belief, setpoint_c)
    return memory.peak_c_sd


def _is_moving(memory: Regulation, lacks_k: float, peak_lacks_k: float) -> bool:
    """Whether the bowl is on its way up; with some hysteresis."""
    if memory.is_moving:
        return lacks_k > HOLDS_FROM_K
    return lacks_k > MOVES_FROM_K and peak_lacks_k > WITHIN_REACH_K


def _unsure_k(now: Numbers, belief: Belief, sd_k: float, lacks_k: float) -> float:
    """What is kept free under the aim, K: less near the target, where errors are all of a kind."""
    sure_sd = SURE_SD_MELTING
    if belief.has_melted:
        share = min(1.0, max(0.0, lacks_k) / SURE_FROM_K)
        sure_sd = SURE_SD_NEAR + (SURE_SD - SURE_SD_NEAR) * share
    return sure_sd * math.hypot(sd_k, _timing_k(now, lacks_k))


def _may_go_over_k(now: Numbers, least_s: float) -> float:
    """How far over the target the cascade may take the bowl, K.

    A pulse that can't be shorter may take it as far over as it was under.
    """
    return max(AIM_K, 0.5 * now.p_k_per_s * _bowl_share(now) * least_s)


def _bowl_share(now: Numbers) -> float:
    """How much of what the bath is warmer the bowl is in the end."""
    return now.kr_per_s / (now.k_per_s + now.kr_per_s)


def _timing_k(now: Numbers, lacks_k: float) -> float:
    """What a little in the moment of cutting off is worth at the peak, K: more than filters know.

    It shows on the way, so that near the target nothing is left of it.
    """
    shows = min(1.0, max(0.0, lacks_k) / TIMING_SHOWS_K)
    return TIMING_S * now.p_k_per_s * _bowl_share(now) * shows


def _full(now: Numbers, belief: Belief, top_c: float, closes_s: float, dt_s: float) -> float:
    """All the heat that the bath's ceiling allows."""
    taken = now.k_per_s * (now.bath_c + now.apart_k - now.bowl_c)
    lost = belief.mean[LOSS] * loss_k_per_s(belief.prior, now.bath_c)
    steady = min(max((taken + lost) / now.p_k_per_s, 0.0), 1.0)
    return duty(now, top_c, steady, closes_s, dt_s)
