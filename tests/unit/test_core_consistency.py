"""What sensors say of each other: thermometers in one bath, bowl and bath, loads, what was learned.

Beliefs here are made up; whether a real fault shows is asked in tests/faults.
"""

import math
from collections.abc import Iterable, Sequence
from typing import Any

import pytest

from controller.core.consistency import Consistency, Sight, consider, learned_loss_share, noted
from controller.core.estimate import Belief
from controller.core.profile import Kind
from controller.core.signals import Reading, missing
from controller.core.thermal import (
    BATH,
    BOWL,
    DRIFT,
    LN_K,
    LN_R,
    LOSS,
    STILL_SHARE,
    TRANSFER_W_PER_K,
    begin,
    prior_of,
)
from tests.helpers.records import replace
from tests.helpers.scene import machine

NAN = math.nan
FRESH = Consistency()
STEP_S = 5.0
LEARNED_SD = {LN_K: 0.03, LN_R: 0.03, LOSS: 0.05, DRIFT: 1e-4}


def sight(now_s: float, **changes: Any) -> Sight:  # noqa: ANN401 - any field
    """A bath at 33 °C, a bowl at 32, stirred for long; `changes` replaces any field."""
    given = Sight(
        now_s=now_s,
        bath_c=33.0,
        bowl_c=32.0,
        guard_c=33.0 + now_s / 1e4,
        apart_cold_k=0.0,
        load=Reading(1.0),
        asked_s=0.0,
        full_k_per_s=0.05,
        told_rpm=30.0,
        stirring_s=600.0,
        shaft_turns=True,
        is_chocolate=True,
        in_first_phase=False,
        is_there=True,
        is_thick=False,
    )
    return replace(given, **changes)


def believed(**changes: float) -> Belief:
    """A machine as learned, its chocolate melted; numbers of the mean by name."""
    belief = begin(prior_of(machine(), Kind.DARK, 1.0), 33.0, 32.0, has_melted=True)
    index = {"ln_k": LN_K, "ln_r": LN_R, "loss": LOSS, "drift": DRIFT, "bath": BATH, "bowl": BOWL}
    mean, spread = list(belief.mean), [list(row) for row in belief.spread]
    for name, by in changes.items():
        mean[index[name]] += by
    for at, sd in LEARNED_SD.items():
        spread[at][at] = sd * sd
    return replace(belief, mean=tuple(mean), spread=tuple(map(tuple, spread)))


def looks(
    sights: Iterable[Sight], seen: Consistency = FRESH, belief: Belief | None = None
) -> Consistency:
    """The last of some looks."""
    for one in sights:
        seen = consider(seen, one, belief)
    return seen


def paths(baths: Sequence[float], bowls: Sequence[float], **changes: Any) -> list[Sight]:  # noqa: ANN401 - any field
    """Looks at a bath and a bowl that go this way."""
    return [
        sight(1000.0 + STEP_S * number, bath_c=bath_c, bowl_c=bowl_c, **changes)
        for number, (bath_c, bowl_c) in enumerate(zip(baths, bowls, strict=True))
    ]


# Two thermometers in one bath


def test_the_guards_thermometer_is_held_against_the_bath_probe() -> None:
    assert looks([sight(1000.0, guard_c=35.5)]).apart_k == pytest.approx(2.5)
    assert looks([sight(1000.0, guard_c=30.0)]).apart_k == pytest.approx(-3.0)


def test_a_guards_thermometer_that_says_nothing_is_not_called_apart() -> None:
    seen = looks([sight(1000.0, guard_c=36.0), sight(1005.0, guard_c=NAN)])
    assert (seen.apart_k, seen.guard_frozen_s) == (0.0, 0.0)


def test_for_a_minute_after_water_was_swapped_two_thermometers_may_differ() -> None:
    told = noted(FRESH, 1000.0, touched=True)
    assert looks([sight(1059.0, guard_c=40.0)], told).apart_k == 0.0
    assert looks([sight(1060.0, guard_c=40.0)], told).apart_k == pytest.approx(7.0)


def test_a_jump_that_nobody_told_of_excuses_no_difference() -> None:
    jumped = noted(FRESH, 1000.0, touched=False)
    assert looks([sight(1005.0, guard_c=40.0)], jumped).apart_k == pytest.approx(7.0)


def test_a_guards_thermometer_that_keeps_one_value_while_heat_is_given_counts_as_frozen() -> None:
    still = [sight(1000.0 + STEP_S * n, guard_c=33.0, asked_s=0.1 * n) for n in range(100)]
    assert looks(still).guard_frozen_s == pytest.approx(495.0)
    assert looks(still[:50]).guard_frozen_s == 0.0  # less than 5 s of heat
    moved = sight(1500.0, guard_c=33.1, asked_s=10.0)
    assert looks([*still, moved]).guard_frozen_s == 0.0


# Bath and bowl within a minute


def test_a_bowl_that_falls_though_the_bath_is_warmer_moves_alone() -> None:
    seen = looks(paths([33.0] * 3, [32.0, 31.7, 31.3]))
    assert seen.moved_k == pytest.approx(-0.7)
    assert seen.fell_k == 0.0


def test_a_bowl_that_cools_with_its_bath_does_not_move_alone() -> None:
    assert looks(paths([32.0, 31.0, 30.0], [33.0, 32.0, 31.0])).moved_k == 0.0


def test_a_bowl_that_rises_over_all_that_the_bath_was_moves_alone() -> None:
    assert looks(paths([31.0] * 2, [31.5, 32.3])).moved_k == pytest.approx(0.8)
    assert looks(paths([31.0] * 2, [31.4, 32.2])).moved_k == 0.0  # not 1.2 K over the bath
    assert looks(paths([34.0, 31.0], [31.5, 32.3])).moved_k == 0.0  # the bath was warmer before


def test_only_the_last_minute_counts() -> None:
    bowls = [32.0] + [31.0] * 13
    assert looks(paths([33.0] * 14, bowls)).moved_k == 0.0
    assert looks(paths([33.0] * 13, bowls[:13])).moved_k == pytest.approx(-1.0)


def test_a_bowl_that_has_just_begun_to_be_stirred_may_fall() -> None:
    assert looks(paths([33.0] * 2, [32.0, 31.0], stirring_s=119.0)).moved_k == 0.0
    assert looks(paths([33.0] * 2, [32.0, 31.0], stirring_s=120.0)).moved_k != 0.0


def test_a_great_fall_is_remembered_until_the_bowl_is_back() -> None:
    fallen = looks(paths([33.0] * 2, [32.0, 29.4]))
    assert fallen.fell_k == pytest.approx(2.6)
    later = looks([sight(1400.0, bowl_c=29.4)], fallen)
    assert later.fell_k == pytest.approx(2.6)
    assert looks([sight(1500.0, bowl_c=30.4)], later).fell_k == pytest.approx(1.6)
    assert looks([sight(1500.0, bowl_c=30.6)], later).fell_k == 0.0


def test_a_fall_of_less_is_not_remembered() -> None:
    assert looks(paths([33.0] * 2, [32.0, 29.6])).fell_k == 0.0


def test_a_fall_is_forgotten_once_the_bath_is_colder_or_somebody_says_why() -> None:
    fallen = looks(paths([33.0] * 2, [32.0, 29.0]))
    assert looks([sight(1100.0, bowl_c=29.0, bath_c=28.0)], fallen).fell_k == 0.0
    told = noted(fallen, 1100.0, touched=True)
    assert looks([sight(1105.0, bowl_c=29.0)], told).fell_k == 0.0


@pytest.mark.parametrize(("later_s", "moved_k"), [(299.0, 0.0), (300.0, -1.0)])
def test_for_five_minutes_after_a_deed_the_bowl_may_do_as_it_likes(
    later_s: float, moved_k: float
) -> None:
    told = noted(FRESH, 1000.0, touched=False)
    before = sight(1000.0 + later_s - 5.0)
    now = sight(1000.0 + later_s, bowl_c=31.0)
    assert looks([before, now], told).moved_k == pytest.approx(moved_k)


# As the first heat comes, before the chocolate is soft enough to stir


def crossed(
    baths: Sequence[float], bowls: Sequence[float], heat_s: float = 30.0, **told: object
) -> float:
    """By how much the bowl answered some seconds of heat over all that the bath was."""
    span = len(baths) - 1
    steps = paths(baths, bowls, **{"stirring_s": 0.0, **told})
    heated = [replace(one, asked_s=heat_s * n / span) for n, one in enumerate(steps)]
    return looks(heated).crossed_k


def test_a_bowl_that_answers_the_heat_in_the_place_of_the_bath_is_the_bath() -> None:
    assert crossed([20.0, 20.0, 20.1], [20.0, 20.6, 21.3]) == pytest.approx(1.2)


def test_a_bowl_that_warms_behind_its_bath_is_the_bowl() -> None:
    assert crossed([40.0, 40.5, 41.0], [20.0, 20.6, 21.3]) == 0.0
    assert crossed([22.0, 20.5, 20.0], [20.0, 20.6, 21.3]) == 0.0  # the bath was warmer


def test_a_bath_that_answered_the_heat_itself_is_the_bath_though_the_bowl_is_warmer() -> None:
    bowls = [20.0, 20.6, 22.3]  # somebody put warm chocolate in
    assert crossed([20.0, 20.4, 20.9], bowls, heat_s=40.0) == pytest.approx(1.4)
    assert crossed([20.0, 20.4, 21.0], bowls, heat_s=40.0) == 0.0


def test_without_heat_or_a_rise_and_once_stirred_nothing_is_said_of_it() -> None:
    baths, bowls = [20.0, 20.0, 20.1], [20.0, 20.6, 21.3]
    assert crossed(baths, bowls, heat_s=24.9) == 0.0
    assert crossed([20.0] * 3, [21.9, 22.4, 22.8]) == 0.0
    assert crossed(baths, bowls, stirring_s=1.0) == 0.0


def test_water_is_stirred_from_the_start_and_its_thermometers_are_told_apart_all_the_same() -> None:
    baths, bowls = [20.0, 20.0, 20.1], [20.0, 20.6, 21.3]
    assert crossed(baths, bowls, stirring_s=60.0, is_chocolate=False) == pytest.approx(1.2)


# The stirrer's load


def loaded(*loads_w: float, **changes: Any) -> float:  # noqa: ANN401 - any field
    """The load beside that of two looks before, in the end."""
    return looks(
        sight(1000.0 + STEP_S * n, load=Reading(w), **changes) for n, w in enumerate(loads_w)
    ).load_share


def test_a_load_is_held_against_that_of_two_looks_before() -> None:
    assert loaded(1.0, 0.9, 0.4) == pytest.approx(0.4)
    assert loaded(1.0, 3.0, 4.0) == pytest.approx(4.0)
    assert loaded(1.0, 0.2) == 1.0  # too early to say
    assert loaded(9.0, 1.0, 0.9, 0.8) == pytest.approx(0.8)


def test_no_load_at_all_in_chocolate_is_known_at_once() -> None:
    assert loaded(0.02) == 0.0
    assert loaded(0.03) == 1.0
    assert loaded(0.02, is_chocolate=False) == 1.0


def test_a_load_as_small_as_noise_is_held_against_nothing() -> None:
    assert loaded(0.03, 0.002, 0.001, is_chocolate=False) == 1.0
    assert loaded(0.001, 0.002, 0.03) == 1.0


@pytest.mark.parametrize(
    "changes", [{"told_rpm": 0.0}, {"stirring_s": 119.0}, {"shaft_turns": False}]
)
def test_a_stirrer_that_stands_or_has_just_begun_says_nothing_of_its_load(
    changes: dict[str, Any],
) -> None:
    assert loaded(1.0, 1.0, 0.0, **changes) == 1.0


def test_another_speed_begins_anew() -> None:
    seen = looks([sight(1000.0), sight(1005.0)])
    slow = sight(1010.0, load=Reading(0.2), told_rpm=10.0)
    assert looks([slow], seen).load_share == 1.0


def test_a_stirrer_that_stands_while_it_turns_round_is_held_against_what_was_before() -> None:
    standing = sight(1010.0, load=Reading(0.03), shaft_turns=False)
    looked = [sight(1000.0), sight(1005.0), standing, sight(1015.0, load=Reading(0.3))]
    assert looks(looked).load_share == pytest.approx(0.3)
    slower = [sight(1000.0), sight(1005.0), replace(standing, told_rpm=10.0)]
    after = [sight(1015.0 + n, load=Reading(0.3), told_rpm=10.0) for n in (0.0, 5.0)]
    assert looks([*slower, *after]).load_share == 1.0


def test_a_load_that_is_not_to_be_had_says_nothing() -> None:
    for lost in (None, missing(), Reading(1.0, age_s=9.0)):
        assert looks([sight(1000.0), sight(1005.0), sight(1010.0, load=lost)]).load_share == 1.0


def test_seed_that_was_told_of_may_load_the_stirrer_but_unloads_it_not() -> None:
    told = noted(FRESH, 995.0, touched=True)
    heavy, light = (
        looks([sight(1000.0), sight(1005.0), sight(1010.0, load=Reading(w))], told)
        for w in (9.0, 0.1)
    )
    assert heavy.load_share == 1.0
    assert light.load_share == pytest.approx(0.1)


# The machine as learned


def known() -> Consistency:
    """Once the machine has been looked at for a while."""
    return looks([sight(1000.0)], belief=believed())


def test_a_machine_that_is_as_it_was_is_like_it() -> None:
    seen = looks([sight(1005.0)], known(), believed())
    assert seen.unlike_k == pytest.approx(0.0)
    assert seen.demand_share == 1.0


def test_heat_that_no_more_reaches_the_bowl_is_a_lead_without_a_cause() -> None:
    seen = looks([sight(1005.0)], known(), believed(bath=4.0, ln_k=-math.log(2.0)))
    assert seen.unlike_k == pytest.approx(2.5, abs=1e-6)  # half of a lead of 5 K
    # An open lid, by the transfer as it was learned: half of it may be a thermometer that creeps.
    lid_k = 18.0 / (STILL_SHARE * TRANSFER_W_PER_K)
    assert seen.unlike_most_k == pytest.approx(1.0 + 0.15 * 5.0 + lid_k)
    assert seen.unlike_least_k == pytest.approx(-6.0 - 0.15 * 5.0 - lid_k)


@pytest.mark.parametrize(
    ("bowl_c", "is_chocolate", "cold_k"),
    [(34.2, True, 6.0), (34.3, True, 1.0), (34.2, False, 1.0)],
)
def test_only_chocolate_that_can_set_excuses_a_bath_that_is_far_too_cold(
    bowl_c: float, is_chocolate: bool, cold_k: float
) -> None:
    seen = looks([sight(1005.0, bowl_c=bowl_c, is_chocolate=is_chocolate)], known(), believed())
    lid_k = 18.0 / (STILL_SHARE * TRANSFER_W_PER_K)
    assert seen.unlike_least_k == pytest.approx(-cold_k - 0.15 - lid_k)


def test_heat_that_vanishes_in_the_bowl_counts_as_a_lead_too() -> None:
    belief = believed()
    per_k = math.exp(belief.mean[LN_K] + belief.mean[LN_R])
    seen = looks([sight(1005.0)], known(), believed(drift=-2.0 * per_k))
    assert seen.unlike_k == pytest.approx(2.0)


def test_what_is_unlike_is_not_learned_and_what_is_like_slowly_is() -> None:
    much, little = (
        looks([sight(1005.0)], known(), believed(bath=9.0, ln_k=by)).learned for by in (-0.7, -0.01)
    )
    before = known().learned
    assert before is not None
    assert much is not None
    assert little is not None
    assert much.rate_per_s == before.rate_per_s
    assert little.rate_per_s == pytest.approx(
        before.rate_per_s * (1.0 + math.expm1(-0.01) * STEP_S / 1200.0), rel=1e-9
    )


def test_losses_are_held_against_those_learned() -> None:
    assert looks([sight(1005.0)], known(), believed(loss=0.6)).demand_share == pytest.approx(1.6)
    assert looks([sight(1005.0)], known(), believed(loss=-0.4)).demand_share == pytest.approx(0.6)
    assert looks([sight(1005.0)], known(), believed(loss=0.14)).demand_share == 1.0  # within chance


@pytest.mark.parametrize(("more", "share"), [(0.5, 1.5), (-0.4, 1.0), (3.0, 2.0)])
def test_what_heat_must_show_allows_for_losses_that_were_learned_within_reason(
    more: float, share: float
) -> None:
    learned = looks([sight(1000.0)], belief=believed(loss=more))
    assert learned_loss_share(learned) == pytest.approx(share, abs=1e-6)
    assert learned_loss_share(FRESH) == 1.0
    assert learned_loss_share(noted(learned, 1001.0, touched=True)) == 1.0


def test_losses_that_are_hardly_known_are_replaced_by_better_knowledge() -> None:
    wide = believed()
    spread = [list(row) for row in wide.spread]
    spread[LOSS][LOSS] = 0.2**2
    vague = looks([sight(1000.0)], belief=replace(wide, spread=tuple(map(tuple, spread))))
    assert looks([sight(1005.0)], vague, believed(loss=0.6)).demand_share == 1.0
    assert learned_loss_share(vague) == 1.0


@pytest.mark.parametrize(
    "blind",
    [
        {"has_melted": False},
        {"mixing_s": 1.0},
        {"blind_s": 1.0},
    ],
)
def test_nothing_is_held_against_a_belief_that_does_not_know(blind: dict[str, Any]) -> None:
    seen = looks([sight(1005.0)], known(), replace(believed(bath=9.0, ln_k=-0.7), **blind))
    assert (seen.unlike_k, seen.demand_share) == (0.0, 1.0)


def test_nothing_is_held_against_a_transfer_that_is_hardly_known() -> None:
    vague = believed(bath=9.0, ln_k=-0.7)
    spread = [list(row) for row in vague.spread]
    spread[LN_K][LN_K] = 0.11**2
    seen = looks([sight(1005.0)], known(), replace(vague, spread=tuple(map(tuple, spread))))
    assert seen.unlike_k == 0.0


def test_on_the_way_and_in_the_first_phase_the_bowl_is_not_held_against_the_bath() -> None:
    odd = believed(bath=9.0, ln_k=-0.7)
    assert looks([sight(1005.0, is_there=False)], known(), odd).unlike_k == 0.0
    assert looks([sight(1005.0, in_first_phase=True)], known(), odd).unlike_k == 0.0


def test_nothing_is_held_against_a_bowl_that_stands_or_was_changed() -> None:
    odd = believed(bath=9.0, ln_k=-0.7)
    told = noted(known(), 1004.0, touched=True)
    assert looks([sight(1005.0)], told, odd).unlike_k == 0.0
    assert looks([sight(1005.0, stirring_s=119.0)], known(), odd).unlike_k == 0.0
    assert looks([sight(1005.0)], known(), odd).unlike_k != 0.0


def test_the_batch_is_held_against_the_machine_file_in_the_first_phase_alone() -> None:
    heavy = believed(ln_r=-0.4)
    assert looks([sight(1000.0, in_first_phase=True)], belief=heavy).amount_share == pytest.approx(
        math.exp(0.4)
    )
    assert looks([sight(1000.0)], belief=heavy).amount_share == 1.0
    kept = looks([sight(1000.0, in_first_phase=True), sight(1005.0)], belief=heavy)
    assert kept.amount_share == pytest.approx(math.exp(0.4))


def test_a_batch_to_which_somebody_added_is_not_held_against_the_file() -> None:
    told = noted(FRESH, 600.0, touched=True)
    heavy = believed(ln_r=-0.4)
    assert looks([sight(1000.0, in_first_phase=True)], told, heavy).amount_share == 1.0
