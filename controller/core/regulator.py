"""Bowl target to bath set-point to duty: a cascade of two simple-pid loops with feed-forward.

Responsible for what the heater should average to; not for whether it may (interlocks) or how the
relay does it (relay). The PID objects live for one call: their memory is in the state handed in,
so a tick stays a pure function. Known pitfalls of simple-pid are met by an explicit `dt`, no
sample time, finite inputs only and integral gains of 0 wherever integrating would wind up.
"""

import math

from simple_pid import PID

from controller.core.machine import Machine
from controller.core.profile import Phase
from controller.core.state import Regulation

CHOCOLATE_J_PER_KG_K = 1600.0  # Beckett, 4th ed., pp. 667-668: 1590 to 1670
# What follows, unless a source is named: own engineering values, tuned on the bench, not published.
# A bath warmer than the target gives its surplus to the bowl long after the heater is off, and only
# losses cool it. It may lead the target by no more than it can give back on the way (`_lead_up`).
LEAD_MAX = 3.0  # K of lead per K that the bowl still lacks
TAKE_BACK = 1.0  # how much of the losses is counted on
TRANSFER_W_PER_K = 15.0  # bath to bowl: a brisk machine, since a slow one only takes longer
# A bath that is too cold can be warmed at once, so it may lag further.
LEAD_DOWN = 1.2
LAG_MAX_K = 30.0  # how far below the target the bath set-point may go
# The bowl loses heat to the air, so a steady bath stands over it by a share of the difference to
# the room. The share is learned wherever the bowl is steady, and carried from phase to phase.
OFFSET_SHARE = 0.03
OFFSET_SHARE_MAX = 0.1
OFFSET_SHARE_MIN = -0.1  # chocolate that sets warms itself, stirred thick chocolate even more
OFFSET_TI_S = 400.0
LEARN_WITHIN_K = 2.0
STEADY_WITHIN_K = 0.1
SLOW_S = 120.0
OFFSET_ROOM_MIN_K = 2.0  # nearer to the room's temperature a share says nothing
# Skogestad's SIMC rule for an integrating bath: Kc = C / (P (tau_c + delay)), Ti = 8 delay with
# tau_c = delay (J. Process Control 13:291, 2003). The delay is element and probe lag together.
DELAY_S = 25.0
INNER_TI_S = 8 * DELAY_S
INNER_WITHIN_K = 0.5
INNER_INTEGRAL = 0.15  # duty
# The bath set-point sways a little so that a probe which has stopped measuring shows it.
DITHER_K = 0.15
DITHER_PERIOD_S = 300.0


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


def bowl_setpoint(phase: Phase, start_bowl_c: float, phase_s: float) -> float:
    """The phase's target, approached no faster than its rate limit, in °C."""
    rate = phase.rate_limit_k_per_min
    if rate is None or not math.isfinite(start_bowl_c):
        return phase.bowl_target_c
    reach_k = rate * phase_s / 60.0
    gap_k = phase.bowl_target_c - start_bowl_c
    return start_bowl_c + math.copysign(min(abs(gap_k), reach_k), gap_k)


def regulate(
    memory: Regulation,
    *,
    setpoint_c: float,
    ceiling_c: float,
    bowl_c: float,
    bath_c: float,
    run_s: float,
    machine: Machine,
    dt_s: float,
) -> Regulation:
    """One step of the cascade; temperatures must be finite.

    Returns the bath set-point (never above `ceiling_c`) and the duty (0 to 1).
    """
    bath_setpoint_c, share = _outer(
        memory,
        setpoint_c=setpoint_c,
        ceiling_c=ceiling_c,
        bowl_c=bowl_c,
        bath_c=bath_c,
        machine=machine,
        dt_s=dt_s,
    )
    slow_c = bowl_c if math.isnan(memory.slow_bowl_c) else memory.slow_bowl_c
    sway_k = DITHER_K * math.sin(2.0 * math.pi * run_s / DITHER_PERIOD_S)
    wanted_c = min(ceiling_c, bath_setpoint_c + sway_k)
    duty, inner = _inner(memory, wanted_c, bath_c, machine, dt_s)
    return Regulation(
        bowl_setpoint_c=setpoint_c,
        bath_setpoint_c=wanted_c,
        duty=duty,
        offset_share=share,
        slow_bowl_c=slow_c + (bowl_c - slow_c) * min(1.0, dt_s / SLOW_S),
        inner_integral=inner,
    )


def _outer(
    memory: Regulation,
    *,
    setpoint_c: float,
    ceiling_c: float,
    bowl_c: float,
    bath_c: float,
    machine: Machine,
    dt_s: float,
) -> tuple[float, float]:
    """Bath set-point, °C, and the learned share by which it stands over the bowl."""
    error_k = setpoint_c - bowl_c
    gain = _lead_up(error_k, setpoint_c, machine) if error_k > 0.0 else LEAD_DOWN
    steady = (
        abs(error_k) <= LEARN_WITHIN_K
        and abs(bowl_c - memory.slow_bowl_c) <= STEADY_WITHIN_K
        and abs(bath_c - memory.bath_setpoint_c) <= INNER_WITHIN_K
    )
    share = OFFSET_SHARE if memory.offset_share is None else memory.offset_share
    # The integral is kept as a share of the distance to the room, so that what the melt taught
    # fits the working temperature too.
    over_room_k = max(setpoint_c - machine.room_c, OFFSET_ROOM_MIN_K)
    limits = (-LAG_MAX_K, max(-LAG_MAX_K, ceiling_c - setpoint_c))
    learning = 1.0 / OFFSET_TI_S if steady else 0.0
    pid = _pid(gain, learning, setpoint_c, limits, share * over_room_k)
    offset_k = float(pid(bowl_c, dt=dt_s) or 0.0)
    learned = pid.components[1] / over_room_k if steady else share
    return setpoint_c + offset_k, min(max(learned, OFFSET_SHARE_MIN), OFFSET_SHARE_MAX)


def _lead_up(error_k: float, setpoint_c: float, machine: Machine) -> float:
    """How far the bath may lead the target, K per K that the bowl still lacks.

    With gain G the bowl closes in as (1 + G) e / tau, so the bath must come down by G (1 + G) e /
    tau. What takes its heat is the bowl, r (1 + G) e / tau with r the capacity ratio, and the
    losses, loss / C. Equal, that is (G - r) (1 + G) = loss tau / (C e), solved for G.
    """
    bowl_j_per_k = machine.batch_kg * CHOCOLATE_J_PER_KG_K
    ratio = bowl_j_per_k / machine.bath_j_per_k
    loss_w = max(0.0, machine.loss_w_per_k * (setpoint_c - machine.room_c))
    tau_s = bowl_j_per_k / TRANSFER_W_PER_K
    give_k = TAKE_BACK * loss_w * tau_s / machine.bath_j_per_k
    half = (1.0 - ratio) / 2.0
    gain = math.sqrt(half * half + ratio + give_k / max(error_k, 1e-6)) - half
    return min(gain, LEAD_MAX)


def _inner(
    memory: Regulation, wanted_c: float, bath_c: float, machine: Machine, dt_s: float
) -> tuple[float, float]:
    """Duty, 0 to 1, and the inner integral, duty."""
    steady = machine.loss_w_per_k * (wanted_c - machine.room_c) / machine.heater_w
    steady = min(max(steady, 0.0), 1.0)
    gain = machine.bath_j_per_k / (machine.heater_w * 2.0 * DELAY_S)
    near = abs(wanted_c - bath_c) <= INNER_WITHIN_K
    integral = min(max(memory.inner_integral, -INNER_INTEGRAL), INNER_INTEGRAL)
    limits = (-steady, 1.0 - steady)
    pid = _pid(gain, gain / INNER_TI_S if near else 0.0, wanted_c, limits, integral)
    duty = steady + float(pid(bath_c, dt=dt_s) or 0.0)
    return min(max(duty, 0.0), 1.0), float(pid.components[1])
