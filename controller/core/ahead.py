"""A batch fast-forwarded: the believed machine and the possible batches, led from here to there.

Responsible for what becomes of temperatures and crystals when a bowl is led somewhere, kept, seeded
or topped up; not for what to do (rescuing, leaving) nor for how a real run gets there (regulator).
"""

import math
from typing import NamedTuple

from msgspec import Struct

from controller.core.batches import TRAITS
from controller.core.chocolate import Content, solid_share
from controller.core.course import lacking, melting_curve, pot_of, rates_of, shown
from controller.core.crystallising import Crystals, grown, joined
from controller.core.estimate import Belief
from controller.core.machine import WATER_J_PER_KG_K, Machine

# Own engineering values, not published.
STEP_S = 30.0
NEAR_K = 0.3  # so near to where it is led the bowl has arrived
GAIN = 2.0  # of the bath's lead over the bowl's way still to go
COLDER_K, COLDER_MOST_K = 2.0, 10.0  # a bath for the way down: so much and the way itself, at most
WARM_LEAD_K = 2.0  # a bath may be so much warmer than a working temperature
MELT_LEAD_K = 6.0  # and so much over a bowl that melts
MELT_FROM_C = 38.0  # above, nothing is tempered that a hot bath could spoil
SWAP_FROM_K = 0.6  # a shorter way down is left to the room
STEPS_MOST = 360  # three hours


class Kitchen(Struct, frozen=True, kw_only=True):
    """Machine, room and tap as a fast-forward needs them."""

    kr_per_s: float  # bath to bowl over the bowl, stirred
    still_kr_per_s: float
    bath_over_bowl_share: float  # of the bath's heat capacity to the bowl's
    p_k_per_s: float  # full power over the bath
    loss_per_s: float
    bowl_loss_per_s: float
    room_c: float
    water_c: float  # of the water that the bath's may be swapped for
    water_kg: float
    water_share: float  # of the bath's heat capacity that is water
    batch_kg: float  # in the bowl
    bowl_k_share: float  # of the bowl's heat capacity that is chocolate
    content: Content


class Batch(NamedTuple):
    """A batch on its way: bath and bowl, °C, its possible crystals, and what it has cost."""

    bath_c: float
    bowl_c: float
    bank: tuple[Crystals, ...]
    spent_s: float = 0.0
    swapped_kg: float = 0.0
    added_kg: float = 0.0
    is_set: bool = False  # set solid: it takes all its latent heat to melt again


def kitchen_of(belief: Belief, machine: Machine, about_c: float) -> Kitchen:
    """The machine as it is believed to be, near a temperature, with its stirrer turning."""
    rates = rates_of(belief, machine, about_c, 0.0)
    prior = belief.prior
    ratio = rates.kr_per_s / rates.k_per_s
    stirred = max(rates.k_per_s, rates.still_k_per_s)
    still = min(rates.k_per_s, rates.still_k_per_s)
    batch_kg = machine.batch_kg * belief.in_bowl
    bowl_j_per_k = prior.bath_j_per_k / ratio
    chocolate = batch_kg * prior.content.j_per_kg_k / bowl_j_per_k
    return Kitchen(
        kr_per_s=stirred * ratio,
        still_kr_per_s=still * ratio,
        bath_over_bowl_share=ratio,
        p_k_per_s=rates.p_k_per_s,
        loss_per_s=rates.loss_per_s,
        bowl_loss_per_s=rates.bowl_loss_per_s,
        room_c=prior.room_c,
        water_c=machine.cold_water_c,
        water_kg=machine.water_kg,
        water_share=machine.water_kg * WATER_J_PER_KG_K / machine.bath_j_per_k,
        batch_kg=batch_kg,
        bowl_k_share=min(1.0, chocolate),
        content=prior.content,
    )


def batch_of(belief: Belief, bank: tuple[Crystals, ...]) -> Batch:
    """The batch as it is believed to be now."""
    pot = pot_of(belief)
    return Batch(pot.bath_c, pot.bowl_c, bank)


def kept(batch: Batch, kitchen: Kitchen, span_s: float, *, is_stirred: bool = True) -> Batch:
    """The batch after a span in which the bowl stays as warm as it is."""
    dark_c = batch.bowl_c + kitchen.content.softer_k
    bank = batch.bank
    steps = max(1, math.ceil(span_s / STEP_S))
    if span_s > 0.0:
        for _ in range(steps):
            bank = followed(bank, dark_c, span_s / steps, is_stirred=is_stirred)
    return batch._replace(bank=bank, spent_s=batch.spent_s + span_s)


def led(batch: Batch, kitchen: Kitchen, to_c: float) -> Batch:
    """The batch once its bowl has come to a temperature, with colder water where that helps.

    `spent_s` is infinite where it does not come there within three hours.
    """
    if to_c < batch.bowl_c - SWAP_FROM_K:
        batch = _swapped(batch, kitchen, to_c)
    curve = melting_curve(kitchen.content, 1.0) if batch.is_set else ()
    bath_c, bowl_c, bank = batch.bath_c, lacking(curve, batch.bowl_c), batch.bank
    softer_k, spent_s = kitchen.content.softer_k, 0.0
    seen_c = batch.bowl_c
    for _ in range(STEPS_MOST):
        if abs(seen_c - to_c) <= NEAR_K:
            break
        bath_c, bowl_c = _step(bath_c, bowl_c, seen_c, to_c, kitchen, is_set=batch.is_set)
        before_c, seen_c = seen_c, shown(curve, bowl_c)[0]
        bank = followed(bank, 0.5 * (before_c + seen_c) + softer_k, STEP_S, is_stirred=True)
        spent_s += STEP_S
    else:
        return batch._replace(spent_s=math.inf)
    return batch._replace(
        bath_c=bath_c, bowl_c=to_c, bank=bank, spent_s=batch.spent_s + spent_s, is_set=False
    )


def filled(batch: Batch, kitchen: Kitchen, share: float, at_c: float, *, is_set: bool) -> Batch:
    """The batch after chocolate came in: so large a share of what was in the bowl, at `at_c`."""
    part = share / (1.0 + share)
    heat_part = part * kitchen.bowl_k_share
    cold_c = at_c
    if is_set:
        melts = (
            solid_share(kitchen.content, at_c)[0] - solid_share(kitchen.content, batch.bowl_c)[0]
        )
        cold_c -= max(0.0, melts) * kitchen.content.latent_k
    return batch._replace(
        bowl_c=batch.bowl_c + heat_part * (cold_c - batch.bowl_c),
        bank=tuple(joined(one, part, is_set=is_set) for one in batch.bank),
        added_kg=batch.added_kg + share * kitchen.batch_kg,
    )


def followed(
    bank: tuple[Crystals, ...], dark_c: float, span_s: float, *, is_stirred: bool
) -> tuple[Crystals, ...]:
    """All possible batches after a step at a temperature on the scale of dark chocolate."""
    return tuple(
        grown(one, trait, dark_c, span_s, is_stirred=is_stirred)
        for one, trait in zip(bank, TRAITS, strict=True)
    )


def _swapped(batch: Batch, kitchen: Kitchen, to_c: float) -> Batch:
    """The batch over a bath whose water was swapped for colder, as far as that is of use."""
    colder_k = min(COLDER_MOST_K, COLDER_K + batch.bowl_c - to_c)
    wanted_c = max(to_c - colder_k, kitchen.water_c)
    over_k = batch.bath_c - kitchen.water_c
    if not (over_k > 0.0 and batch.bath_c > wanted_c):
        return batch
    share = min(1.0, (batch.bath_c - wanted_c) / (over_k * kitchen.water_share))
    return batch._replace(
        bath_c=batch.bath_c - share * kitchen.water_share * over_k,
        swapped_kg=batch.swapped_kg + share * kitchen.water_kg,
    )


def _step(
    bath_c: float, bowl_c: float, seen_c: float, to_c: float, kitchen: Kitchen, *, is_set: bool
) -> tuple[float, float]:
    """Bath and bowl a step later, the bath heated towards a lead over the bowl's way to go."""
    lead_k = MELT_LEAD_K if to_c >= MELT_FROM_C else WARM_LEAD_K
    wanted_c = to_c + min(lead_k, GAIN * (to_c - seen_c))
    rate = kitchen.still_kr_per_s if is_set and seen_c < MELTS_C else kitchen.kr_per_s
    passed_k = (bath_c - seen_c) * -math.expm1(-rate * STEP_S)
    lost_k = (
        STEP_S * kitchen.loss_per_s * (bath_c - kitchen.room_c)
        + passed_k / kitchen.bath_over_bowl_share
    )
    heat_k = min(max(wanted_c - bath_c + lost_k, 0.0), STEP_S * kitchen.p_k_per_s)
    bowl_lost_k = STEP_S * kitchen.bowl_loss_per_s * (seen_c - kitchen.room_c)
    return bath_c + heat_k - lost_k, bowl_c + passed_k - bowl_lost_k


MELTS_C = 32.0  # below, a set bowl is not stirred: the shipped profiles' `stir_from`
