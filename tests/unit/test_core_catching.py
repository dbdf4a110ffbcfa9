"""A bowl over a cold bath: heat at the last moment, and not before."""

import math
from typing import Any

import pytest

from controller.core.catching import FALLS_FROM_K, FALLS_TO_K, is_falling, must_catch, trough_sd_k
from controller.core.descent import lumps_of, trough_c
from controller.core.estimator import stir
from controller.core.hands import water_swapped
from controller.core.profile import Kind
from controller.core.thermal import LN_P, begin, prior_of
from tests.helpers.lumped import Loop, Lumped
from tests.helpers.records import replace
from tests.helpers.scene import machine

TARGET_C = 28.0
EARLY_K = 6.0
MOST_UNDER_K = 0.35  # the goal of the control benchmark


def swapped(bath_c: float, **plant: Any) -> Loop:  # noqa: ANN401 - any field of the plant
    """A loop that has held 45 °C for a while, and whose bath has just been made so cold."""
    loop = Loop(plant=Lumped(bath_c=45.5, bowl_c=45.0, **plant))
    loop.run(45.0, 1500.0)
    share = (loop.plant.bath_c - bath_c) / (loop.plant.bath_c - 10.0)
    loop.plant.bath_c = bath_c
    belief = water_swapped(loop.belief, share, 10.0)
    loop.state = replace(loop.state, belief=belief)
    return loop


@pytest.mark.parametrize("bath_c", [18.0, 21.0, 24.0])
def test_the_bowl_comes_down_and_is_caught(bath_c: float) -> None:
    over_k = swapped(bath_c).run(TARGET_C, 2400.0)
    assert min(over_k) >= -MOST_UNDER_K
    assert abs(over_k[-1]) <= 0.1


@pytest.mark.parametrize("lag_s", [7.0, 12.0, 22.0])
def test_a_late_thermometer_lets_no_bowl_fall_through(lag_s: float) -> None:
    loop = swapped(24.0, bowl_lag_s=lag_s, transfer_w_per_k=22.0, bowl_j_per_k=1000.0)
    assert min(loop.run(TARGET_C, 1800.0)) >= -MOST_UNDER_K


def test_no_heat_is_given_while_full_heat_would_still_be_in_time() -> None:
    loop = swapped(20.0)
    loop.run(TARGET_C, 10.0)  # the relay ends the pulse that it is in
    early_s, first_over_k = 0, 99.0
    for _ in range(900):
        over_k = loop.step(TARGET_C)
        early_s += loop.on and over_k >= EARLY_K
        if loop.on and over_k < EARLY_K:
            first_over_k = over_k
            break
    assert early_s <= 20  # a few pulses, while what the swap did is still uncertain
    assert 0.5 < first_over_k < EARLY_K


def test_falling_begins_and_ends_with_some_hysteresis() -> None:
    between_k = 0.5 * (FALLS_FROM_K + FALLS_TO_K)
    assert not is_falling(between_k, was=False)
    assert is_falling(between_k, was=True)
    assert is_falling(FALLS_FROM_K + 0.01, was=False)
    assert not is_falling(FALLS_TO_K - 0.01, was=True)


def test_what_the_prediction_is_not_sure_of_brings_heat_earlier() -> None:
    belief = begin(prior_of(machine(), Kind.DARK, 1.0), 20.0, 34.0, has_melted=True)
    belief = stir(belief, is_stirred=True)
    trough = trough_c(lumps_of(belief, belief.mean, TARGET_C))
    sd_k = trough_sd_k(belief, TARGET_C)
    assert sd_k > 0.3  # nothing has been learned yet
    near_c = trough - 1.0
    assert not must_catch(belief, near_c, 0.0)
    assert must_catch(belief, near_c, 2.0)


def test_a_heater_that_hardly_holds_the_target_is_no_reason_for_no_heat() -> None:
    """A nudge more, and full heat would not end the fall: that unsure, and not unknown."""
    weak = machine(heater_w=67.0, water_kg=15.0, batch_kg=8.0, room_c=11.5, loss_w_per_k=11.0)
    belief = begin(prior_of(weak, Kind.DARK, 1.0), 13.0, 38.0, has_melted=True)
    belief = stir(belief, is_stirred=True)
    sds_k = []
    for count in range(400):
        mean = list(belief.mean)
        mean[LN_P] += 0.005 * (count - 200)
        one = replace(belief, mean=tuple(mean))
        sds_k.append(trough_sd_k(one, TARGET_C))
        if sds_k[-1] == math.inf:
            assert math.isfinite(trough_c(lumps_of(one, one.mean, TARGET_C)))
            assert must_catch(one, TARGET_C, sds_k[-1])
    assert not any(map(math.isnan, sds_k))
    assert math.inf in sds_k
