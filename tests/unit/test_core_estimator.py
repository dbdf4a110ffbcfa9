"""The estimator: it finds the machine out from a transition, whatever the machine file says."""

import math
from itertools import product

import pytest

from controller.core.chocolate import LATENT_J_PER_KG, content_of, solid_share
from controller.core.estimate import Belief
from controller.core.estimator import follow, stir
from controller.core.hands import MIXING_S, answered, water_swapped
from controller.core.machine import Machine
from controller.core.profile import Action, Kind, Question
from controller.core.sizing import at_once, estimate_of
from controller.core.thermal import (
    BATH,
    BOWL,
    DRIFT,
    LEVER_MIN_K,
    LN_B,
    LN_K,
    LN_P,
    LN_R,
    STILL_SHARE,
    begin,
    filled_at,
    loss_k_per_s,
    prior_of,
)
from tests.helpers.lumped import Loop, Lumped
from tests.helpers.records import replace
from tests.helpers.scene import machine, phase, profile, question

NAN = math.nan


def sd(belief: Belief, index: int) -> float:
    return math.sqrt(belief.spread[index][index])


def believed(bath_c: float = 30.0, bowl_c: float = 30.0, **told: float) -> Belief:
    return begin(prior_of(machine(**told), Kind.DARK, 1.0), bath_c, bowl_c, has_melted=True)


def untruthful(batch: float, water: float, heater: float) -> Machine:
    """What an owner may write down: each number off by as much as the control study draws."""
    return machine(batch_kg=1.5 * batch, water_kg=3.0 * water, heater_w=500.0 * heater)


WRONG = list(product((0.85, 1.15), (0.88, 1.12), (0.9, 1.1)))


@pytest.mark.parametrize(("batch", "water", "heater"), WRONG)
def test_a_wrong_machine_file_is_found_out_in_one_transition(
    batch: float, water: float, heater: float
) -> None:
    plant = Lumped()
    loop = Loop(plant=plant, told=untruthful(batch, water, heater))
    over_k = loop.run(45.0, 3600)
    estimate = estimate_of(loop.belief)
    assert max(over_k) <= 0.1  # the goal of control on any machine, without tuning
    assert max(map(abs, over_k[-600:])) <= 0.05
    power = estimate.heater_w / estimate.bath_j_per_k
    assert power == pytest.approx(plant.heater_w / plant.bath_j_per_k, rel=0.03)
    ratio = estimate.bath_j_per_k / estimate.bowl_j_per_k
    assert ratio == pytest.approx(plant.bath_j_per_k / plant.bowl_j_per_k, rel=0.18)
    rate = estimate.ua_w_per_k / estimate.bowl_j_per_k
    assert rate == pytest.approx(plant.transfer_w_per_k / plant.bowl_j_per_k, rel=0.12)
    assert estimate.trusted


def test_it_sees_through_lag_and_steps_of_the_probes() -> None:
    plant = Lumped()
    loop = Loop(plant=plant)
    loop.run(45.0, 240)
    assert loop.on
    estimate = estimate_of(loop.belief)
    assert plant.bath_c - plant.bath_probe_c > 0.1  # the probe lags
    assert estimate.bath_c == pytest.approx(plant.bath_c, abs=0.1)
    assert estimate.bowl_c == pytest.approx(plant.bowl_c, abs=0.1)
    assert estimate.element_w == pytest.approx(plant.element_w, rel=0.1)


def test_what_it_is_told_to_be_unsure_of_it_becomes_surer_of() -> None:
    loop = Loop(plant=Lumped())
    before = loop.belief
    loop.run(45.0, 2400)
    for index in (LN_K, LN_P, LN_R):
        assert sd(loop.belief, index) < 0.5 * sd(before, index)


def test_a_bath_probe_that_reads_off_is_no_reason_to_overshoot() -> None:
    loop = Loop(plant=Lumped(bath_reads_k=0.5, bath_c=22.0, bowl_c=22.0))
    assert max(loop.run(40.0, 3600)) <= 0.1
    assert max(map(abs, loop.run(40.0, 600))) <= 0.05


def test_the_mean_moves_each_tick_and_the_covariance_every_five_seconds() -> None:
    belief = believed(40.0, 30.0)
    spreads = []
    for _ in range(10):
        after = follow(belief, 40.0, 30.0, was_on=True, dt_s=1.0)
        assert after.mean != belief.mean
        belief = after
        spreads.append(belief.spread)
    assert len(set(map(id, spreads))) == 3  # the first one, and after 5 and 10 s


@pytest.mark.parametrize("has_bath", [True, False])
def test_without_a_probe_it_goes_on_and_grows_less_sure(*, has_bath: bool) -> None:
    belief = believed(40.0, 38.0)
    for _ in range(300):
        bath_c, bowl_c = (40.0, NAN) if has_bath else (NAN, 38.0)
        belief = follow(belief, bath_c, bowl_c, was_on=False, dt_s=1.0)
    missing, seen = (BOWL, BATH) if has_bath else (BATH, BOWL)
    assert sd(belief, missing) > 2.0 * sd(belief, seen)
    assert not estimate_of(belief).trusted


def test_a_probe_that_speaks_again_is_believed() -> None:
    belief = believed(40.0, 38.0)
    for _ in range(200):
        belief = follow(belief, NAN, NAN, was_on=False, dt_s=1.0)
    for _ in range(60):
        belief = follow(belief, 33.0, 31.0, was_on=False, dt_s=1.0)
    assert belief.mean[BATH] == pytest.approx(33.0, abs=0.2)
    assert belief.mean[BOWL] == pytest.approx(31.0, abs=0.2)


def test_what_nobody_announced_is_noticed_within_half_a_minute() -> None:
    loop = Loop(plant=Lumped(bath_c=40.0, bowl_c=40.0))
    loop.run(40.0, 900)
    loop.plant.bath_c -= 5.0  # a jug of cold water
    loop.run(40.0, 30)
    assert loop.belief.mean[BATH] == pytest.approx(loop.plant.bath_c, abs=0.3)


def test_each_state_of_the_stirrer_has_its_own_transfer() -> None:
    still = believed()
    assert not still.is_stirred
    assert stir(still, is_stirred=False) is still
    stirred = stir(still, is_stirred=True)
    assert still.mean[LN_K] - stirred.mean[LN_K] == pytest.approx(math.log(STILL_SHARE))
    back = stir(stirred, is_stirred=False)
    assert back.mean[LN_K] == pytest.approx(still.mean[LN_K])
    assert stir(back, is_stirred=True).mean[LN_K] == pytest.approx(stirred.mean[LN_K])


def test_what_was_learned_of_stirred_chocolate_outlasts_a_pause_of_the_stirrer() -> None:
    loop = Loop(plant=Lumped())
    loop.run(45.0, 2400)
    learned = loop.belief
    still = stir(learned, is_stirred=False)
    assert sd(still, LN_K) > 0.3
    again = stir(still, is_stirred=True)
    assert again.mean[LN_K] == learned.mean[LN_K]
    assert sd(again, LN_K) == pytest.approx(sd(learned, LN_K))


def test_seed_that_stays_set_is_thought_to_change_less_than_chocolate_that_melts() -> None:
    def grown(*, has_melted: bool) -> float:
        belief = replace(believed(31.5, 31.5), solid=0.1, has_melted=has_melted)
        after = belief
        for _ in range(5):
            after = follow(after, NAN, NAN, was_on=False, dt_s=1.0)
        return after.spread[DRIFT][DRIFT] - belief.spread[DRIFT][DRIFT]

    assert 0.0 < 2.0 * grown(has_melted=True) < grown(has_melted=False)


def test_a_bowl_that_falls_after_a_swap_teaches_nothing_of_size_lag_and_heat() -> None:
    loop = Loop(plant=Lumped(bath_c=45.5, bowl_c=45.0))
    loop.run(45.0, 1500.0)
    loop.plant.bath_c = 20.0
    loop.state = replace(loop.state, belief=water_swapped(loop.belief, 0.8, 14.0))
    before = loop.belief
    loop.run(28.0, 60.0)
    after = loop.belief
    assert after.mean[BOWL] < before.mean[BOWL] - 3.0
    for one in (LN_R, LN_B, DRIFT):
        assert after.mean[one] == before.mean[one]
        assert sd(after, one) >= sd(before, one)


def test_what_is_not_known_at_all_is_learned_from_a_falling_bowl_too() -> None:
    belief = replace(believed(20.0, 40.0), is_stirred=True)
    unsure = [list(row) for row in belief.spread]
    unsure[DRIFT][DRIFT] *= 400.0
    belief = replace(belief, spread=tuple(map(tuple, unsure)))
    after = belief
    for second in range(30):
        after = follow(after, 20.0, 40.0 - 0.3 * second, was_on=False, dt_s=1.0)
    assert after.mean[DRIFT] != belief.mean[DRIFT]


def test_heat_of_crystals_is_thought_to_change_the_faster_the_more_there_is_of_it() -> None:
    def unsure_of_drift(gains_w: float) -> float:
        loop = Loop(plant=Lumped(bath_c=31.9, bowl_c=31.5, bowl_gains_w=gains_w))
        loop.run(31.5, 3000)
        return sd(loop.belief, DRIFT)

    assert unsure_of_drift(20.0) > 1.2 * unsure_of_drift(0.0)


# --- hands ----------------------------------------------------------------------------------------


def deed(action: Action, share: float | None, water_c: float | None = None) -> Question:
    return question(action=action, share=share, water_c=water_c)


def test_swapped_water_is_expected_to_be_as_cold_as_was_said_and_not_trusted_to_be() -> None:
    after = answered(believed(50.0, 50.0), deed(Action.SWAP_WATER, 0.5, 10.0))
    assert after.mean[BATH] == pytest.approx(30.0)
    assert sd(after, BATH) > 10.0
    unsaid = answered(believed(50.0, 50.0), deed(Action.SWAP_WATER, None))
    assert unsaid.mean[BATH] == 50.0
    assert sd(unsaid, BATH) > 10.0


def test_seed_makes_the_bowl_larger_colder_and_partly_solid() -> None:
    before = begin(prior_of(machine(), Kind.DARK, 0.8), 45.0, 45.0, in_bowl=0.8, has_melted=True)
    after = answered(before, deed(Action.ADD_SEED, 0.2))
    assert after.in_bowl == pytest.approx(1.0)
    assert after.mean[LN_R] == pytest.approx(before.mean[LN_R] + math.log(0.8))
    assert after.mean[BOWL] == pytest.approx(40.0)  # a fifth at the room's 20 °C
    assert after.solid == pytest.approx(0.2)
    assert sd(after, DRIFT) > 5.0 * sd(before, DRIFT)


def test_seed_that_stays_set_teaches_nothing_until_it_has_mixed() -> None:
    before = begin(prior_of(machine(), Kind.DARK, 0.8), 32.0, 31.8, in_bowl=0.8, has_melted=True)
    after = answered(before, deed(Action.ADD_SEED, 0.2))
    assert sd(after, DRIFT) < 0.1 * sd(before, DRIFT)
    assert after.mixing_s == MIXING_S
    assert after.mean[DRIFT] > before.mean[DRIFT]  # chocolate sets on it, and warms


def test_a_question_that_changes_nothing_changes_no_belief() -> None:
    before = believed()
    assert answered(before, deed(Action.SET_TEST, None)) == before


def test_seed_that_is_to_come_is_not_in_the_bowl_yet() -> None:
    seed = question("seed", action=Action.ADD_SEED, share=0.25)
    of = profile(phase("melt"), phase("cool", questions=(seed,)), phase("hold"))
    assert filled_at(of, 0, frozenset()) == 0.75
    assert filled_at(of, 1, frozenset()) == 0.75
    assert filled_at(of, 1, frozenset({"seed"})) == 1.0
    assert filled_at(of, 0, frozenset({"seed"})) == 0.75  # of another phase: still to come
    assert filled_at(of, 2, frozenset()) == 1.0


# --- melting --------------------------------------------------------------------------------------


def test_a_wall_that_warms_with_the_bowl_takes_that_from_the_bath() -> None:
    plain = believed(45.0, 30.0)
    walled = replace(plain, prior=replace(plain.prior, wall_share=0.02))
    bare = replace(plain, prior=replace(plain.prior, wall_share=1e-9))
    for _ in range(60):
        walled, bare = (follow(one, NAN, NAN, was_on=False, dt_s=1.0) for one in (walled, bare))
    warmed_k = bare.mean[BOWL] - 30.0
    taken_k = bare.mean[BATH] - walled.mean[BATH]
    assert warmed_k > 0.5
    assert taken_k == pytest.approx(0.02 * warmed_k, rel=0.1)


def test_solid_chocolate_takes_its_latent_heat_before_it_is_warm() -> None:
    prior = prior_of(machine(), Kind.DARK, 1.0)
    solid = begin(prior, 20.0, 20.0)
    molten = begin(prior, 20.0, 20.0, has_melted=True)
    assert solid.solid == 1.0
    for _ in range(1500):
        solid = follow(solid, NAN, NAN, was_on=True, dt_s=1.0)
        molten = follow(molten, NAN, NAN, was_on=True, dt_s=1.0)
    assert 0.0 < solid.solid < 0.9
    assert molten.mean[BOWL] - solid.mean[BOWL] > 2.0
    latent_k = content_of(Kind.DARK).latent_k
    assert latent_k == pytest.approx(LATENT_J_PER_KG / 1750.0)  # as kelvins of its own heat


def test_the_bowl_s_size_is_not_learned_before_the_chocolate_has_melted() -> None:
    belief = begin(prior_of(machine(), Kind.DARK, 1.0), 45.0, 25.0)
    before = (belief.mean[LN_R], sd(belief, LN_R))
    for second in range(300):
        belief = follow(belief, 45.0, 25.0 + second / 60.0, was_on=False, dt_s=1.0)
    assert not belief.has_melted
    assert (belief.mean[LN_R], sd(belief, LN_R)) == pytest.approx(before, rel=1e-3)


def test_water_never_melts_and_milk_melts_lower_than_dark() -> None:
    assert begin(prior_of(machine(), Kind.WATER, 1.0), 20.0, 20.0).has_melted
    assert content_of(Kind.WATER).latent_k == 0.0
    dark, milk = content_of(Kind.DARK), content_of(Kind.MILK)
    assert solid_share(milk, 30.0)[0] < solid_share(dark, 30.0)[0]
    assert solid_share(milk, 30.0) == solid_share(dark, 31.5)


@pytest.mark.parametrize(
    ("temp_c", "share", "slope"),
    [(10.0, 1.0, 0.0), (20.0, 1.0, 0.0), (22.5, 0.96, -0.016), (30.0, 0.59, -0.1154), (40.0, 0, 0)],
)
def test_less_is_solid_the_warmer_it_is(temp_c: float, share: float, slope: float) -> None:
    assert solid_share(content_of(Kind.DARK), temp_c) == pytest.approx((share, slope), abs=1e-6)


# --- what others are told -------------------------------------------------------------------------


def test_the_estimate_begins_with_the_machine_file() -> None:
    own = machine()
    estimate = estimate_of(believed())
    assert estimate.heater_w == own.heater_w
    assert estimate.bath_j_per_k == pytest.approx(own.bath_j_per_k, rel=0.01)
    assert estimate.bowl_j_per_k == pytest.approx(1.5 * 1750.0 + 50.0)
    assert estimate.ua_w_per_k == pytest.approx(12.0 * STILL_SHARE)
    assert 2.0 < estimate.loss_w_per_k < 6.0
    assert estimate.melted == 1.0


def test_between_two_corrections_only_temperatures_go_on() -> None:
    belief = believed(45.0, 30.0)
    first = estimate_of(belief)
    belief = follow(belief, 45.0, 30.0, was_on=True, dt_s=1.0)
    now = at_once(first, belief)
    assert now.bath_c == belief.mean[BATH] != first.bath_c
    assert now.bowl_c == belief.mean[BOWL]
    assert now.element_w > 0.0
    assert now.ua_w_per_k == first.ua_w_per_k


def test_a_bath_loses_in_proportion_near_the_room_and_warms_under_it() -> None:
    for room_c in (15.4, 20.0, 26.7):  # 15.4 + 3 - 15.4 is a little less than 3
        prior = prior_of(machine(room_c=room_c), Kind.DARK, 1.0)
        warm = loss_k_per_s(prior, room_c + LEVER_MIN_K)
        assert loss_k_per_s(prior, room_c + 2.0 * LEVER_MIN_K) > warm > 0.0
        assert loss_k_per_s(prior, room_c) == pytest.approx(0.0, abs=1e-9)
        assert loss_k_per_s(prior, room_c - LEVER_MIN_K) == pytest.approx(-warm)
