"""Whether seed that is said to be in is in: what a bowl does with it and without, in joules."""

import math

import pytest

from controller.core.chocolate import content_of
from controller.core.estimate import Belief
from controller.core.profile import Kind
from controller.core.seeding import (
    FORGOTTEN,
    WAIT_S,
    SeedCheck,
    any_came,
    awaited,
    heard,
    likely,
    watched,
)
from controller.core.thermal import BOWL, LN_B, LN_K, LN_R, begin, prior_of
from tests.helpers.records import replace
from tests.helpers.scene import machine

SHARE = 0.09
MELT_C, ROOM_C, BATH_C, TAP_C = 48.0, 20.0, 48.5, 27.0
LOOK_S = 10.0
STEP_S = 0.5
PER_K, LATENT = 1600.0, 46_000.0  # J/(kg K) and J/kg of chocolate: Beckett, 4th ed., pp. 667-668


def believed(rate_per_s: float) -> Belief:
    """A melted batch in a machine of which the file is right, its seed still to come."""
    belief = begin(prior_of(machine(), Kind.DARK, 0.9), BATH_C, MELT_C, in_bowl=0.9)
    mean = list(belief.mean)
    mean[LN_K] = math.log(rate_per_s) - mean[LN_R]
    mean[LN_B] = math.log(10.0)
    spread = [list(row) for row in belief.spread]
    spread[LN_K][LN_K] = spread[LN_R][LN_R] = 0.03**2
    return replace(
        belief,
        mean=tuple(mean),
        spread=tuple(map(tuple, spread)),
        wall_c=BATH_C,
        has_melted=True,
        solid=0.0,
    )


def played(
    rate_per_s: float, swapped_s: float, *, is_in: bool, believed_share: float = 1.0
) -> SeedCheck:
    """A portion asked for, said to be in after 30 s, its bath swapped so long after that.

    A bowl of 0.9 kg by a balance of heat; pieces take theirs within half a minute.
    """
    kg = 1.0
    belief = believed(believed_share * rate_per_s)
    check = awaited(belief, SHARE, MELT_C, is_in=False)
    assert check is not None
    ua_w_per_k = rate_per_s * 0.9 * kg * PER_K
    bowl_c = probe_c = MELT_C
    cold_kg, melted_kg = (SHARE * kg if is_in else 0.0), 0.0
    for step in range(1, round((30.0 + WAIT_S) / STEP_S) + 1):
        at_s = step * STEP_S
        bath_c = TAP_C if at_s > 30.0 + swapped_s else BATH_C
        heat_j = ua_w_per_k * (bath_c - bowl_c) * STEP_S
        if at_s > 30.0 and cold_kg > melted_kg:
            part_kg = (cold_kg - melted_kg) * STEP_S / 20.0
            heat_j -= part_kg * (PER_K * (bowl_c - ROOM_C) + LATENT)
            melted_kg += part_kg
        bowl_c += heat_j / ((0.9 * kg + melted_kg) * PER_K)
        probe_c += (bowl_c - probe_c) * STEP_S / 10.0
        if at_s == 30.0:
            check = replace(check, said_s=30.0)
        if at_s % LOOK_S == 0.0:
            check = watched(check, replace(belief, wall_c=bath_c), probe_c, at_s, LOOK_S)
    return check


@pytest.mark.parametrize("rate_per_s", [2e-3, 6e-3, 2e-2])
@pytest.mark.parametrize("swapped_s", [20.0, 45.0, 80.0])
def test_seed_is_told_from_none_even_while_the_bath_is_swapped(
    rate_per_s: float, swapped_s: float
) -> None:
    assert likely(played(rate_per_s, swapped_s, is_in=True)) > 0.97
    assert likely(played(rate_per_s, swapped_s, is_in=False)) < 0.2


def test_a_bowl_that_follows_its_swapped_bath_faster_than_was_thought_is_no_sure_seed() -> None:
    assert likely(played(2e-2, 0.0, is_in=False, believed_share=0.9)) < 0.98


def test_before_anything_is_seen_most_seed_is_in() -> None:
    check = awaited(believed(6e-3), SHARE, MELT_C, is_in=False)
    assert check is not None
    assert likely(check) == pytest.approx(1.0 - FORGOTTEN)


def test_it_counts_only_from_when_somebody_says_that_it_is_in() -> None:
    belief = believed(6e-3)
    check = awaited(belief, SHARE, MELT_C, is_in=False)
    assert check is not None
    assert watched(check, belief, MELT_C - 5.0, 60.0, 60.0).seen == (0.0, 0.0)


def test_a_load_that_does_not_grow_with_the_batch_speaks_against_seed() -> None:
    check = awaited(believed(6e-3), SHARE, MELT_C, is_in=False)
    assert check is not None
    heavier = -math.log1p(-check.share)
    assert likely(heard(check, 0.0, 0.03)) < 0.3
    assert likely(heard(check, heavier, 0.03)) > 0.98
    assert likely(heard(check, 1.0, 0.03)) > 0.98  # pieces that are not melted yet
    assert likely(heard(check, 0.0, 10.0)) == pytest.approx(1.0 - FORGOTTEN, abs=0.01)


def test_of_all_readings_of_the_load_the_highest_counts() -> None:
    check = awaited(believed(6e-3), SHARE, MELT_C, is_in=False)
    assert check is not None
    assert heard(heard(check, 0.4, 0.03), 0.1, 0.03).thicker == (0.4, 0.03)


def test_a_portion_that_would_not_be_seen_is_not_awaited() -> None:
    assert awaited(believed(6e-3), 0.01, 33.5, is_in=False) is None


def test_pieces_that_stay_solid_thicken_it_beyond_what_it_was() -> None:
    check = awaited(believed(6e-3), 0.05, 31.5, is_in=False, excess=0.5)
    assert check is not None
    assert check.is_cold
    assert likely(heard(check, 0.55, 0.05)) < 0.1
    assert likely(heard(check, 1.1, 0.05)) > 0.98


def test_that_any_seed_is_in_is_as_likely_as_that_not_all_was_forgotten() -> None:
    assert any_came(0.0, 0.85, 0.0) == pytest.approx(0.85)
    assert any_came(0.9, 0.5, 0.0) == pytest.approx(0.95)
    assert any_came(0.0, 0.1, 0.7) == pytest.approx(0.7)


def test_announced_seed_that_the_belief_has_already_counts_the_same() -> None:
    belief = believed(6e-3)
    asked = awaited(belief, SHARE, MELT_C, is_in=False)
    mean = list(belief.mean)
    mean[LN_R] += math.log1p(-SHARE / (0.9 + SHARE))
    mean[BOWL] -= 2.0
    told = awaited(
        replace(belief, mean=tuple(mean), in_bowl=0.9 + SHARE), SHARE, MELT_C, is_in=True
    )
    assert asked is not None
    assert told is not None
    assert told.share == pytest.approx(asked.share)
    assert told.rate_per_s == pytest.approx(asked.rate_per_s)
    assert told.fall_k == pytest.approx(asked.fall_k)
    assert asked.fall_k == pytest.approx(
        asked.share * (MELT_C - belief.prior.room_c + content_of(Kind.DARK).latent_k)
    )
