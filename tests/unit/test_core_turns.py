"""What the estimate makes of a turn: stirred again, and heat that can't last."""

import math

import pytest

from controller.core.descent import LASTS_W, lumps_of
from controller.core.estimate import Belief
from controller.core.estimator import STIRRED_IN_S, follow, stir
from controller.core.profile import Kind
from controller.core.thermal import DRIFT, begin, prior_of
from tests.helpers.records import replace
from tests.helpers.scene import machine

NAN = math.nan


def believed(bowl_c: float) -> Belief:
    prior = prior_of(machine(), Kind.DARK, 1.0)
    return stir(begin(prior, bowl_c + 5.0, bowl_c, has_melted=True), is_stirred=True)


def waited(belief: Belief, span_s: float) -> Belief:
    for _ in range(round(span_s)):
        belief = follow(belief, NAN, NAN, was_on=False, dt_s=1.0)
    return belief


def test_when_a_pause_in_stirring_ends_the_bowl_is_mixed_before_heat_is_looked_for() -> None:
    turned = waited(believed(31.5), 5.0)
    paused = waited(stir(turned, is_stirred=False), 120.0)
    turning = stir(paused, is_stirred=True)
    assert turning.mixing_s == STIRRED_IN_S
    assert waited(turning, STIRRED_IN_S).mixing_s == 0.0
    long_still = replace(paused, still_s=1e5)
    assert stir(long_still, is_stirred=True).mixing_s == 0.0


def test_heat_that_no_crystals_give_for_long_is_not_planned_on_for_a_whole_descent() -> None:
    def loss_w(drift_w: float) -> float:
        belief = believed(45.0)
        j_per_k = belief.prior.bowl_j_per_k
        mean = list(belief.mean)
        mean[DRIFT] = drift_w / j_per_k
        return lumps_of(belief, tuple(mean), 45.0).bowl_loss_k_per_s * j_per_k

    assert loss_w(0.0) - loss_w(10.0) == pytest.approx(10.0)
    assert loss_w(0.0) - loss_w(150.0) == pytest.approx(LASTS_W)
    assert loss_w(-150.0) - loss_w(0.0) == pytest.approx(LASTS_W)
