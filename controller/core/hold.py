"""Holding: a cascade of two simple-pids with gains and feed-forward from the estimate.

Responsible for bowl target to bath set-point to duty near the target; not for getting there
(transition) or for ceilings of phases. The PID objects live for one call: their memory is in the
state handed in, so a tick stays a pure function. Known pitfalls of simple-pid are met by an
explicit `dt`, no sample time, finite inputs only and integral gains of 0 wherever integrating would
wind up.
"""

import math

from msgspec import Struct
from simple_pid import PID

from controller.core.estimate import Belief
from controller.core.thermal import (
    APART,
    BATH,
    BOWL,
    DRIFT,
    LN_H,
    LN_K,
    LN_P,
    LN_R,
    LOSS,
    Q,
    bowl_loss_k_per_s,
    loss_k_per_s,
)

# Own engineering values, tuned on the bench, not published, unless a source is named.
# Inner loop: the bath, whose element's heat to come is counted as there already, is to close in
# with this time constant, or with so many of the relay's shortest pulses.
INNER_S = 25.0
INNER_PULSES = 12.0
# Outer loop: Skogestad's SIMC rule for a first-order lag of 1/(k r) s behind the inner loop, Kc =
# lag / (tau_c + delay) with tau_c = delay (J. Process Control 13:291, 2003), within these bounds.
OUTER_MIN = 0.3
OUTER_MAX = 2.25
# SIMC's 8 and some more, for the estimate integrates as well.
TRIM_TI = 12.0  # over the inner loop's time constant
TRIM_WITHIN_K = 0.2
GATHERS_K = 0.05  # what comes from further below would overshoot by what it gathers on its way
FOLLOWS_K = 0.1  # nothing cools a bath that is so much too warm: trim would wind up
TRIM_MAX_K = 0.5
LAG_MAX_K = 30.0  # how far below the target the bath set-point may go
# While a stirrer only pauses, the bath waits for it where it was: what it gave to still chocolate
# would be too much once that is stirred.
RESTS_WITHIN_K = 2.0
# A relay whose shortest times are so long is one with contacts. It is spared by pulses that are
# longer, by so much at most, as long as the bowl hardly sways.
WEARS_FROM_S = 4.0
SPARES_TIMES = 1.4
SPARES_K = 0.01
SHARE_MIN = 0.02
# Where the bath's probe has not changed for long, the bath sways a little: a dead one shows then.
SWAY_K = 0.15
SWAY_PERIOD_S = 300.0
SWAY_AFTER_S = 120.0


class Numbers(Struct, frozen=True, kw_only=True):
    """What the belief says of the machine, worked out once a tick."""

    bath_c: float
    bowl_c: float
    coming_c: float  # the bath once the element has given what it holds
    apart_k: float  # bath's scale below the bowl's
    k_per_s: float  # bath to bowl, over the bath
    kr_per_s: float  # the same over the bowl
    p_k_per_s: float  # full power over the bath
    lag_s: float  # of the element
    stands_k: float  # how far a steady bath stands over a bowl at the target, on its own scale
    holds_share: float  # duty that keeps it there
    is_resting: bool = False  # the stirrer has paused: what the bowl lacks now it gets after it


def numbers(belief: Belief, setpoint_c: float) -> Numbers:
    """The machine about a target."""
    prior, mean = belief.prior, belief.mean
    is_near = abs(setpoint_c - mean[BOWL]) < RESTS_WITHIN_K
    is_resting = is_near and belief.is_pausing
    k = math.exp(belief.other_transfer[0] if is_resting else mean[LN_K])
    drift = belief.stirred_drift[0] if is_resting else mean[DRIFT]
    p = math.exp(mean[LN_P])
    kr, lag_s = k * math.exp(mean[LN_R]), math.exp(mean[LN_H])
    loss_bowl = bowl_loss_k_per_s(prior, setpoint_c) - drift
    lead_k = loss_bowl / kr
    stands_k = lead_k - mean[APART]
    holds = (mean[LOSS] * loss_k_per_s(prior, setpoint_c + stands_k) + k * lead_k) / p
    return Numbers(
        bath_c=mean[BATH],
        bowl_c=mean[BOWL],
        coming_c=mean[BATH] + p * mean[Q] * lag_s,
        apart_k=mean[APART],
        k_per_s=k,
        kr_per_s=kr,
        p_k_per_s=p,
        lag_s=lag_s,
        stands_k=stands_k,
        holds_share=min(max(holds, 0.0), 1.0),
        is_resting=is_resting,
    )


def _zero() -> float:
    """Stand in for a clock: simple-pid must never read one."""
    return 0.0


def _pid(
    gain: float, integral_gain: float, setpoint: float, limits: tuple[float, float], start: float
) -> PID:
    return PID(
        gain,
        integral_gain,
        0.0,
        setpoint=setpoint,
        sample_time=None,
        output_limits=limits,
        time_fn=_zero,
        starting_output=start,
    )


def inner_s(least_s: float) -> float:
    """Time constant of the inner loop for a relay whose shortest pulse is `least_s`, s."""
    return max(INNER_S, INNER_PULSES * least_s)


def pulse_s(now: Numbers, least_s: float) -> float:
    """How long the pulses of a relay may be that wears out, s; at least its shortest, `least_s`.

    Pulses of t seconds saw the bath by p t. A bowl behind it sways by the integral of that: half of
    it is k r p t² / (16 duty), small as long as a period is short beside the bowl's lag.
    """
    if least_s < WEARS_FROM_S:
        return least_s
    sways_k_per_s2 = now.kr_per_s * now.p_k_per_s / (16.0 * max(now.holds_share, SHARE_MIN))
    return max(least_s, min(math.sqrt(SPARES_K / sways_k_per_s2), SPARES_TIMES * least_s))


def bath_setpoint(
    now: Numbers, setpoint_c: float, top_c: float, trim_k: float, closes_s: float, dt_s: float
) -> tuple[float, float]:
    """Outer loop: where the bath is to be, °C, and the trim, K."""
    gain = min(max(1.0 / (2.0 * now.kr_per_s * closes_s), OUTER_MIN), OUTER_MAX)
    lacks_k = setpoint_c - now.bowl_c
    rest_c = setpoint_c + now.stands_k
    if now.is_resting:
        return rest_c + trim_k, trim_k
    if lacks_k > 0.0:
        is_free = lacks_k <= GATHERS_K or trim_k < 0.0
    else:
        is_free = now.coming_c <= rest_c + gain * lacks_k + trim_k + FOLLOWS_K
    is_free = is_free and abs(lacks_k) <= TRIM_WITHIN_K
    limits = (-LAG_MAX_K, max(-LAG_MAX_K, top_c - rest_c))
    trim_k = min(max(trim_k, -TRIM_MAX_K), TRIM_MAX_K)
    pid = _pid(gain, gain / (TRIM_TI * closes_s) if is_free else 0.0, setpoint_c, limits, trim_k)
    offset_k = float(pid(now.bowl_c, dt=dt_s) or 0.0)
    # Where the ceiling binds, simple-pid would cut the integral down to what is left under it.
    return rest_c + offset_k, float(pid.components[1]) if is_free else trim_k


def duty(now: Numbers, wanted_c: float, steady: float, closes_s: float, dt_s: float) -> float:
    """Inner loop: what brings the bath to `wanted_c`, about a `steady` duty; 0 to 1."""
    coming_c = now.coming_c - now.p_k_per_s * now.lag_s * steady
    pid = _pid(1.0 / (now.p_k_per_s * closes_s), 0.0, wanted_c, (-steady, 1.0 - steady), 0.0)
    asked = steady + float(pid(coming_c, dt=dt_s) or 0.0)
    return min(max(asked, 0.0), 1.0)


def sway_k(unchanged_s: float, run_s: float) -> float:
    """How far the bath is to sway now, by how long its probe has said the same, K."""
    size_k = SWAY_K * min(1.0, max(0.0, unchanged_s / SWAY_AFTER_S - 1.0))
    return size_k * math.sin(2.0 * math.pi * run_s / SWAY_PERIOD_S)
