"""The plan of one batch: from a wish, a profile and a machine to all that the sheet says.

Responsible for putting the parts together; not for their physics nor for words (sheet).
"""

from msgspec import Struct

from controller.core.chocolate import form_v_melts_c
from controller.core.machine import COLD_WATER_C, Machine
from controller.core.profile import Action, Profile
from controller.core.records import replace
from controller.core.rescuing import topped_most_c
from controller.core.thermal import WALL_SHARE
from controller.planning.amounts import ROUND_KG, Use, batch_kg, best_order
from controller.planning.heat import FIRST_PORTION, latent_j_per_kg, mixed_c, seed_kg, top_up_kg
from controller.planning.room import Air, air_of
from controller.planning.times import Course, Leg, Swap, course_of, done_s
from controller.planning.water import ice_in_kg, swapped_kg
from controller.planning.wish import Wish

# Own engineering values, not published: what a cook's hands take, and what setting takes.
DIP_S, SHELL_S, SET_S = 30.0, 300.0, 1200.0
ICE_FROM_C = 20.0  # a tap warmer than this hardly cools a bath to where chocolate cools
TOP_UP_C = 40.0  # of melt kept ready beside the machine: common practice, no source


class Portion(Struct, frozen=True, kw_only=True):
    """Seed that the profile asks for."""

    mass_kg: float
    bowl_c: float | None  # not before the bowl is as cool as that


class Seed(Struct, frozen=True, kw_only=True):
    """Seed by heat balance: enough to cool melt and bowl by itself, without cold water."""

    all_kg: float
    first_kg: float
    late_kg: float
    after_first_c: float
    at_most_c: float  # the bowl, before the late portion goes in
    at_once_c: float  # where it would end if all were given at once and melted


class ColdWater(Struct, frozen=True, kw_only=True):
    """One swap that the profile asks for, and how to come by it from this tap."""

    phase: str
    swap: Swap
    ice_kg: float  # in it, where the tap is warmer
    by_tap_kg: float  # the same effect with tap water as it comes; more than the bath: impossible


class Plan(Struct, frozen=True, kw_only=True):
    """The answers."""

    wish: Wish
    profile: Profile
    machine: Machine  # as it must be told to be for this batch
    usual_kg: float  # the batch in the machine's own file
    batch_kg: float
    needed_kg: float  # by what is to be made; 0 where only a batch was told
    better: tuple[Use, ...]  # a better order of use; empty where there is none
    better_kg: float
    portions: tuple[Portion, ...]
    seed: Seed
    cold: tuple[ColdWater, ...]
    top_up_kg: float
    course: Course
    work_s: float
    done_s: float  # from the beginning until all is set, likely
    done_p90_s: float
    air: Air


def batch_for(wish: Wish) -> float:
    """The batch, kg: as told, or as what is to be made needs."""
    return wish.batch_kg if wish.batch_kg is not None else batch_kg(wish.uses)


def machine_for(wish: Wish, machine: Machine) -> Machine:
    """The machine in this room with this batch, as its file should say."""
    return replace(carrying(wish, machine), room_c=wish.room_c)


def carrying(wish: Wish, machine: Machine) -> Machine:
    """The machine with this batch and cold water, in the room of its own file.

    A tap too warm is helped with ice.
    """
    cold_c = wish.tap_c if wish.tap_c <= ICE_FROM_C else COLD_WATER_C
    return replace(machine, batch_kg=batch_for(wish), cold_water_c=cold_c)


def plan_of(wish: Wish, profile: Profile, machine: Machine, usual_kg: float) -> Plan:
    """Everything; `profile` and `machine` are for this batch already (`machine_for`)."""
    batch = machine.batch_kg
    order = best_order(wish.uses)
    better_kg = batch_kg(order) if order else 0.0
    needed_kg = batch_kg(wish.uses) if wish.uses else 0.0
    is_better = better_kg < needed_kg - ROUND_KG / 2.0
    course = course_of(profile, machine, wish.humidity)
    cold = tuple(_cold(wish, leg, swap, machine) for leg in course.legs for swap in leg.cold)
    work = work_s(wish)
    likely, late = done_s(course, work)
    target_c = profile.phases[-1].bowl_target_c
    return Plan(
        wish=wish,
        profile=profile,
        machine=machine,
        usual_kg=usual_kg,
        batch_kg=batch,
        needed_kg=needed_kg,
        better=order if is_better else (),
        better_kg=better_kg,
        portions=_portions(profile, batch),
        seed=_seed(wish, profile, machine),
        cold=cold,
        top_up_kg=top_up_kg(
            batch,
            bowl_c=target_c,
            melt_c=TOP_UP_C,
            most_c=topped_most_c(profile.phases[-1]),
            bowl_j_per_k=_bowl_j_per_k(machine),
        ),
        course=course,
        work_s=work,
        done_s=likely,
        done_p90_s=late,
        air=air_of(wish, profile, min((one.swap.bath_to_c for one in cold), default=wish.room_c)),
    )


def work_s(wish: Wish) -> float:
    """Dipping or moulding all of it and letting it set; 0 where nothing was told."""
    hands_s = sum(use.count * (SHELL_S if use.is_shell else DIP_S) for use in wish.uses)
    if wish.work_s is not None:
        hands_s = wish.work_s
    return hands_s + SET_S if hands_s else 0.0


def _cold(wish: Wish, leg: Leg, swap: Swap, machine: Machine) -> ColdWater:
    return ColdWater(
        phase=leg.name,
        swap=swap,
        ice_kg=ice_in_kg(swap.swap_kg, tap_c=wish.tap_c, to_c=swap.water_c),
        by_tap_kg=swapped_kg(
            machine.bath_j_per_k,
            from_c=swap.bath_from_c,
            to_c=swap.bath_to_c,
            water_c=wish.tap_c,
        ),
    )


def _portions(profile: Profile, batch: float) -> tuple[Portion, ...]:
    return tuple(
        Portion(mass_kg=(one.share or 0.0) * batch, bowl_c=one.bowl_c)
        for phase in profile.phases
        for one in phase.questions
        if one.action is Action.ADD_SEED
    )


def _bowl_j_per_k(machine: Machine) -> float:
    return WALL_SHARE * machine.vessel_j_per_k


def _seed(wish: Wish, profile: Profile, machine: Machine) -> Seed:
    """From the profile's melt straight to its working temperature, bowl and all."""
    melt_c, work_c = profile.phases[0].bowl_target_c, profile.phases[-1].bowl_target_c
    latent = latent_j_per_kg(wish.kind, wish.fat, wish.seed_c)
    bowl_j_per_k = _bowl_j_per_k(machine)
    batch = machine.batch_kg
    all_kg = seed_kg(
        batch,
        melt_c=melt_c,
        work_c=work_c,
        seed_c=wish.seed_c,
        latent=latent,
        bowl_j_per_k=bowl_j_per_k,
    )
    first_kg = FIRST_PORTION * all_kg

    def after_c(given_kg: float) -> float:
        return mixed_c(
            batch - all_kg,
            melt_c,
            seed_kg=given_kg,
            seed_c=wish.seed_c,
            latent=latent,
            bowl_j_per_k=bowl_j_per_k,
        )

    return Seed(
        all_kg=all_kg,
        first_kg=first_kg,
        late_kg=all_kg - first_kg,
        after_first_c=after_c(first_kg),
        at_most_c=form_v_melts_c(wish.kind),
        at_once_c=after_c(all_kg),
    )
