"""How long a batch will take, from cold to ready, and what heat: the forecast, before it begins.

Responsible for hours and energy of a run that has not begun; the course itself is the forecast's
(core.forecast). What work with the chocolate takes is an assumption of ours.
"""

import math

from msgspec import Struct

from controller.core.asking import Cooling
from controller.core.course import Pot, at_rest, rates_of, swapped
from controller.core.estimate import Belief
from controller.core.forecast import foresee
from controller.core.machine import Machine
from controller.core.outlook import Outlook
from controller.core.profile import Action, Phase, Profile, Question, When
from controller.core.records import replace
from controller.core.state import Mode, Progress, State
from controller.core.thermal import (
    BATH,
    BOWL,
    BOWL_LOSS_W_PER_K,
    LN_K,
    ROOM_HUMIDITY,
    SURFACE_M2,
    VAPOUR_W_PER_M2_KPA,
    begin,
    filled_at,
    loss_k_per_s,
    prior_of,
    saturated_kpa,
)
from controller.core.waits import NINE_IN_TEN_SD, WAIT_S

# Own engineering values, not published.
WORK_SPREAD = 0.25  # how much longer or shorter work with the chocolate takes, one deviation
BEYOND_BALANCE = 1.1  # what drawn machines of the bench took over the balance, in the median
SOON = 0.7  # share of a leg's change that is over on average
VAPOUR_J_PER_KG = 2.4e6  # IAPWS: 2382 kJ/kg at 50 °C, 2430 at 30 °C


class Swap(Struct, frozen=True, kw_only=True):
    """Bath water to be replaced by colder."""

    swap_kg: float
    water_c: float
    bath_from_c: float
    bath_to_c: float
    is_computed: bool  # by the run, from what it has learned by then


class Leg(Struct, frozen=True, kw_only=True):
    """One phase as it is expected to go, in run time."""

    name: str
    begins_s: float
    reached_s: float
    ends_s: float  # of the last phase, when its target is reached
    cold: tuple[Swap, ...]
    bath_from_c: float  # after any of them
    bath_to_c: float
    bath_most_c: float  # on the way, where it heats
    bowl_from_c: float
    bowl_to_c: float


class Course(Struct, frozen=True, kw_only=True):
    """What is expected of a whole run up to working temperature."""

    legs: tuple[Leg, ...]
    outlook: Outlook
    ready_s: float
    ready_p90_s: float  # ready by then nine times in ten
    heat_j: float  # asked of the heater until then
    hold_w: float  # and after that
    vapour_kg: float  # of bath water that evaporates until then


def first_belief(profile: Profile, machine: Machine, humidity: float) -> Belief:
    """What is believed of a machine that stands at the room's temperature, never seen running."""
    in_bowl = filled_at(profile, 0, frozenset())
    prior = prior_of(machine, profile.kind, in_bowl)
    air_kpa = prior.air_kpa * humidity / ROOM_HUMIDITY
    return begin(replace(prior, air_kpa=air_kpa), machine.room_c, machine.room_c, in_bowl=in_bowl)


def course_of(profile: Profile, machine: Machine, humidity: float) -> Course:
    """The run from cold; where a phase is out of reach, `outlook` says why and times are NaN."""
    belief = first_belief(profile, machine, humidity)
    state = State(mode=Mode.RUNNING, belief=belief, bath_c=machine.room_c, bowl_c=machine.room_c)
    outlooks = [
        foresee(state, replace(profile, phases=profile.phases[: count + 1]), machine)
        for count in range(len(profile.phases))
    ]
    outlook = outlooks[-1]
    legs = _legs(profile, machine, belief, [one.likely_s for one in outlooks])
    return Course(
        legs=legs,
        outlook=outlook,
        ready_s=outlook.likely_s,
        ready_p90_s=outlook.late_s,
        heat_j=BEYOND_BALANCE * (sum(_heat_j(leg, belief) for leg in legs) + _melting_j(belief)),
        hold_w=_loss_w(belief, legs[-1].bath_to_c),
        vapour_kg=sum(_vapour_kg(leg, belief) for leg in legs),
    )


def done_s(course: Course, work_s: float) -> tuple[float, float]:
    """When work that takes so long is over, likely and nine times in ten, s from the beginning."""
    ready_sd_s = (course.ready_p90_s - course.ready_s) / NINE_IN_TEN_SD
    sd_s = math.hypot(ready_sd_s, WORK_SPREAD * work_s)
    likely_s = course.ready_s + work_s
    return likely_s, likely_s + NINE_IN_TEN_SD * sd_s


def _legs(
    profile: Profile, machine: Machine, belief: Belief, reached_s: list[float]
) -> tuple[Leg, ...]:
    legs = list[Leg]()
    begins_s, bath_c, bowl_c = 0.0, belief.mean[BATH], belief.mean[BOWL]
    for phase, at_s in zip(profile.phases, reached_s, strict=True):
        # As the forecast counts them: a phase's first questions before its target, others after.
        waits = [one for one in phase.questions if one.when is not When.START]
        after_s = 0.0 if phase is profile.phases[-1] else phase.dwell_s + WAIT_S * len(waits)
        cold = _swaps(phase, machine, belief, bath_c, bowl_c)
        leg = Leg(
            name=phase.name,
            begins_s=begins_s,
            reached_s=at_s,
            ends_s=at_s + after_s,
            cold=cold,
            bath_from_c=cold[-1].bath_to_c if cold else bath_c,
            bath_to_c=_resting_bath_c(phase, machine, belief),
            bath_most_c=phase.bath_ceiling_c,
            bowl_from_c=bowl_c,
            bowl_to_c=phase.bowl_target_c,
        )
        legs.append(leg)
        begins_s, bath_c, bowl_c = leg.ends_s, leg.bath_to_c, leg.bowl_to_c
    return tuple(legs)


def _heat_j(leg: Leg, belief: Belief) -> float:
    """The balance of the pot over a leg; a pot that gives heat away asks for none."""
    prior = belief.prior
    held_j = prior.bath_j_per_k * (leg.bath_to_c - leg.bath_from_c)
    held_j += prior.bowl_j_per_k * (leg.bowl_to_c - leg.bowl_from_c)
    return max(0.0, held_j + _loss_w(belief, _mean_bath_c(leg)) * (leg.ends_s - leg.begins_s))


def _melting_j(belief: Belief) -> float:
    content = belief.prior.content
    return belief.solid * belief.prior.bowl_j_per_k * content.latent_k


def _mean_bath_c(leg: Leg) -> float:
    """Over a leg: the bath is soon as warm as it may be, or where it stays."""
    is_heating = leg.bowl_to_c > leg.bowl_from_c
    there_c = leg.bath_most_c if is_heating else leg.bath_to_c
    return leg.bath_from_c + SOON * (there_c - leg.bath_from_c)


def _loss_w(belief: Belief, bath_c: float) -> float:
    prior = belief.prior
    over_k = bath_c - prior.room_c
    pot_w = loss_k_per_s(prior, bath_c) * prior.bath_j_per_k if over_k > 0.0 else 0.0
    return max(0.0, pot_w + BOWL_LOSS_W_PER_K * over_k)


def _vapour_kg(leg: Leg, belief: Belief) -> float:
    over_kpa = saturated_kpa(_mean_bath_c(leg)) - belief.prior.air_kpa
    vapour_w = SURFACE_M2 * VAPOUR_W_PER_M2_KPA * max(0.0, over_kpa)
    return vapour_w / VAPOUR_J_PER_KG * (leg.ends_s - leg.begins_s)


def _resting_bath_c(phase: Phase, machine: Machine, belief: Belief) -> float:
    """The bath that keeps the bowl at the phase's target."""
    rates = rates_of(belief, machine, phase.bowl_target_c, 0.0)
    return at_rest(rates, phase.bowl_target_c).bath_c


def _swaps(
    phase: Phase, machine: Machine, belief: Belief, bath_c: float, bowl_c: float
) -> tuple[Swap, ...]:
    """The cold water that a phase asks for, worked out where the run would do so."""
    found = list[Swap]()
    for question in phase.questions:
        asked = _put(question, phase, machine, belief, bath_c, bowl_c)
        if asked is None or asked.share is None or asked.water_c is None:
            continue
        to_c = swapped(Pot(bath_c, bowl_c), machine, asked.share, asked.water_c).bath_c
        found.append(
            Swap(
                swap_kg=asked.share * machine.water_kg,
                water_c=asked.water_c,
                bath_from_c=bath_c,
                bath_to_c=to_c,
                is_computed=question.is_computed,
            )
        )
        bath_c = to_c
    return tuple(found)


def _put(
    question: Question,
    phase: Phase,
    machine: Machine,
    belief: Belief,
    bath_c: float,
    bowl_c: float,
) -> Question | None:
    """A swap with its share; None for anything else, and where it isn't worth a swap."""
    if question.action is not Action.SWAP_WATER:
        return None
    mean = list(belief.mean)
    mean[BATH], mean[BOWL], mean[LN_K] = bath_c, bowl_c, belief.other_transfer[0]
    stirred = replace(belief, mean=tuple(mean), solid=0.0, is_stirred=True)
    return Cooling(stirred, machine, phase).put(question, Progress())
