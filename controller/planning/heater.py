"""Heaters for a pot: how soon each melts a batch, what it draws, what it does when it stays on.

Responsible for figures before anything is bought; the melt is the forecast's (times), on a machine
that nobody has seen run. What stays on is worked out with two lumps and full power.
"""

import math
from itertools import pairwise

from msgspec import Struct

from controller.core.chocolate import form_v_melts_c
from controller.core.course import at_rest, rates_of
from controller.core.estimate import Belief
from controller.core.machine import WATER_J_PER_KG_K, Machine
from controller.core.profile import Profile
from controller.core.records import replace
from controller.core.thermal import LN_R, bowl_loss_k_per_s, loss_k_per_s
from controller.planning.times import course_of, first_belief

# Sizes of elements that are sold (common practice, no source).
SIZES_W = (100.0, 150.0, 200.0, 300.0, 400.0, 500.0, 600.0, 800.0, 1000.0, 1200.0, 1500.0, 2000.0)
MAINS_HIGH = 1.1  # times its nominal voltage: IEC 60038 allows 10 % (from memory, not checked)
HUMIDITY = 0.5
# Own engineering values, not published.
MOST_A = 10.0  # for a whole evening from one socket of a kitchen
SOON_S = 3600.0  # a melt within the hour, nine times in ten, is soon enough
SAVES = 0.25  # else twice the power is worth it as long as it saves so much of the melt's time
MOST_DUTY = 0.5  # to hold: the other half is for cold pieces, a lid off, a cold room
PULSE_K = 1.0  # as files/machine_file.py refuses more
STEP_S = 5.0
HORIZON_S = 6 * 3600.0
# Batch kg, water kg, vessel J/K, loss W/K: the bench's small, reference and large machine.
POTS = ((0.5, 1.5, 410.0, 1.8), (1.5, 3.0, 700.0, 2.5), (3.0, 6.0, 1400.0, 4.5))


class Stuck(Struct, frozen=True, kw_only=True):
    """What comes of a heater that stays on while chocolate is held; infinite: never."""

    spoils_s: float  # until form V, the good crystal, melts
    boils_s: float


class Heater(Struct, frozen=True, kw_only=True):
    """One size of element in this pot."""

    power_w: float
    draws_a: float
    draws_high_a: float  # with the mains at their highest
    melts_s: float  # until melted and settled, likely; infinite where it is out of reach
    melts_p90_s: float
    melt_duty: float  # to keep it as warm as it is melted
    hold_duty: float
    pulse_k: float  # what the relay's shortest pulse warms the bath by
    dry_k_per_min: float  # a pot without water
    stuck: Stuck


def pot_for(batch_kg: float) -> tuple[float, float, float]:
    """Water kg, vessel J/K and loss W/K of a usual pot for a batch."""
    if batch_kg <= POTS[0][0]:
        return POTS[0][1:]
    if batch_kg >= POTS[-1][0]:
        water, vessel, loss = POTS[-1][1:]
        times = batch_kg / POTS[-1][0]
        return water * times, vessel * times, loss * math.pow(times, 2.0 / 3.0)  # as its surface
    for low, high in pairwise(POTS):
        if batch_kg <= high[0]:
            part = (batch_kg - low[0]) / (high[0] - low[0])
            water, vessel, loss = (
                a + part * (b - a) for a, b in zip(low[1:], high[1:], strict=True)
            )
            break
    return water, vessel, loss


def heater(power_w: float, machine: Machine, profile: Profile, boils_c: float) -> Heater:
    """All figures of an element of this power; mains, pot and relay are the machine's."""
    machine = replace(machine, heater_w=power_w)
    melt = replace(profile, phases=profile.phases[:1])
    course = course_of(melt, machine, HUMIDITY)
    held = first_belief(profile, machine, HUMIDITY)
    work_c = profile.phases[-1].bowl_target_c
    return Heater(
        power_w=power_w,
        draws_a=machine.heater_a,
        draws_high_a=MAINS_HIGH * machine.heater_a,
        melts_s=_known(course.ready_s),
        melts_p90_s=_known(course.ready_p90_s),
        melt_duty=min(1.0, hold_w(held, machine, melt.phases[0].bowl_target_c) / power_w),
        hold_duty=hold_w(held, machine, work_c) / power_w,
        pulse_k=power_w * machine.min_on_s / machine.bath_j_per_k,
        dry_k_per_min=60.0 * MAINS_HIGH**2 * power_w / machine.vessel_j_per_k,
        stuck=stuck_on(held, machine, profile, boils_c),
    )


def hold_w(belief: Belief, machine: Machine, target_c: float) -> float:
    """What keeps the bowl at a target, W."""
    prior = belief.prior
    bath_c = at_rest(rates_of(belief, machine, target_c, 0.0), target_c).bath_c
    from_bath_w = loss_k_per_s(prior, bath_c) * prior.bath_j_per_k
    return max(0.0, from_bath_w + bowl_loss_k_per_s(prior, target_c) * prior.bowl_j_per_k)


def stuck_on(belief: Belief, machine: Machine, profile: Profile, boils_c: float) -> Stuck:
    """Full power, mains high, from the hold on; the stirrer turns, and nobody does anything."""
    prior, work_c = belief.prior, profile.phases[-1].bowl_target_c
    spoils_c = form_v_melts_c(profile.kind)
    k = math.exp(belief.other_transfer[0])
    kr = k * math.exp(belief.mean[LN_R])
    heats_k_per_s = MAINS_HIGH**2 * machine.heater_w / prior.bath_j_per_k
    bath_c, bowl_c = at_rest(rates_of(belief, machine, work_c, 0.0), work_c).bath_c, work_c
    spoils_s = boils_s = math.inf
    for step in range(int(HORIZON_S / STEP_S)):
        if bowl_c >= spoils_c:
            spoils_s = min(spoils_s, step * STEP_S)
        if bath_c >= boils_c:
            boils_s = step * STEP_S
            break
        to_bowl_k = bath_c - bowl_c
        bath_c += STEP_S * (heats_k_per_s - k * to_bowl_k - loss_k_per_s(prior, bath_c))
        bowl_c += STEP_S * (kr * to_bowl_k - bowl_loss_k_per_s(prior, bowl_c))
    return Stuck(spoils_s=spoils_s, boils_s=boils_s)


def chosen(sizes: tuple[Heater, ...]) -> Heater | None:
    """The least that is soon enough, or beyond which more hardly helps; None where none will do.

    The less power, the longer it takes to spoil anything.
    """
    fit = [one for one in sizes if not lacks_of(one)]
    soon = [one for one in fit if one.melts_p90_s <= SOON_S]
    helped_little = [one for one in fit if not _is_helped(one, fit)]
    return min((*soon, *helped_little), key=lambda one: one.power_w, default=None)


def _is_helped(one: Heater, fit: list[Heater]) -> bool:
    """Whether twice the power, or as much as there is, melts much sooner."""
    twice = [more for more in fit if more.power_w >= 2.0 * one.power_w] or fit[-1:]
    return twice[0].melts_s < (1.0 - SAVES) * one.melts_s


def lacks_of(one: Heater) -> tuple[str, ...]:
    """Why a size won't do."""
    found = {
        f"draws {one.draws_high_a:.1f} A with the mains high": one.draws_high_a > MOST_A,
        "never melts it": math.isinf(one.melts_s),
        f"holds with {100.0 * one.hold_duty:.0f} % of its power": one.hold_duty > MOST_DUTY,
        f"one pulse warms the bath by {one.pulse_k:.1f} K": one.pulse_k > PULSE_K,
    }
    return tuple(words for words, is_so in found.items() if is_so)


def water_kg_for(power_w: float, machine: Machine) -> float:
    """Water that a pulse of this heater warms by no more than it may, kg."""
    least_j_per_k = power_w * machine.min_on_s / PULSE_K
    return max(0.0, (least_j_per_k - machine.vessel_j_per_k) / WATER_J_PER_KG_K)


def _known(seconds: float) -> float:
    return seconds if math.isfinite(seconds) else math.inf
