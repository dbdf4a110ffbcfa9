"""The prediction of where the bowl turns, against the same two lumps stepped in time."""

import math

import pytest

from controller.core.estimate import Belief
from controller.core.estimator import stir
from controller.core.profile import Kind
from controller.core.thermal import (
    APART,
    BATH,
    BOWL,
    DRIFT,
    LN_H,
    LN_K,
    LN_P,
    LN_R,
    LOSS,
    Q,
    begin,
    bowl_loss_k_per_s,
    loss_k_per_s,
    prior_of,
)
from controller.core.transition import HORIZON_S, peak_c, peak_sd_k
from tests.helpers.records import replace
from tests.helpers.scene import machine


def believed(bath_c: float, bowl_c: float, **others: float) -> Belief:
    """A belief with some of its numbers set."""
    belief = begin(prior_of(machine(), Kind.DARK, 1.0), bath_c, bowl_c, has_melted=True)
    belief = stir(belief, is_stirred=True)
    mean = list(belief.mean)
    mean[APART] = 0.0
    indices = {"q": Q, "drift": DRIFT, "apart": APART, "k": LN_K, "r": LN_R, "loss": LOSS}
    for name, value in others.items():
        mean[indices[name]] = value
    return replace(belief, mean=tuple(mean))


def stepped(belief: Belief, towards_c: float) -> float:
    """The warmest of the bowl by steps of a quarter of a second; losses held, as it is said."""
    mean, prior, step_s = belief.mean, belief.prior, 0.25
    k, p, r = (math.exp(mean[index]) for index in (LN_K, LN_P, LN_R))
    bath = mean[BATH] + p * mean[Q] * math.exp(mean[LN_H])
    bowl = warmest = mean[BOWL]
    lost_bath = mean[LOSS] * loss_k_per_s(prior, 0.5 * (bath + towards_c))
    lost_bowl = bowl_loss_k_per_s(prior, towards_c) - mean[DRIFT]
    for _ in range(round(HORIZON_S / step_s)):
        lead = bath + mean[APART] - bowl
        bath += step_s * (-k * lead - lost_bath)
        bowl += step_s * (k * r * lead - lost_bowl)
        warmest = max(warmest, bowl)
    return warmest


CASES = [
    believed(45.0, 30.0),
    believed(45.0, 39.0, q=1.0),
    believed(41.0, 39.8),
    believed(39.0, 39.9, apart=1.2),
    believed(44.0, 38.0, drift=-2e-3),
    believed(44.0, 38.0, drift=1e-3),
    believed(50.0, 38.0, r=0.2, loss=3.0),
]


@pytest.mark.parametrize("belief", CASES)
def test_the_peak_is_that_of_the_two_lumps_in_time(belief: Belief) -> None:
    assert peak_c(belief, belief.mean, 40.0, 0.0) == pytest.approx(stepped(belief, 40.0), abs=0.02)


def test_a_bowl_that_gives_more_than_it_gets_has_seen_its_peak() -> None:
    assert peak_c(believed(35.0, 40.0), believed(35.0, 40.0).mean, 40.0, 0.0) == 40.0


def test_a_bowl_that_warms_itself_and_loses_nothing_is_followed_for_an_hour() -> None:
    belief = believed(30.0, 30.0, drift=3e-3, loss=0.05)
    peak = peak_c(belief, belief.mean, 30.0, 0.0)
    assert 30.2 < peak < 34.0


def test_heat_still_to_come_raises_the_peak_by_as_much_as_it_is_worth() -> None:
    belief = believed(45.0, 30.0)
    more_s = 60.0
    rise = peak_c(belief, belief.mean, 40.0, more_s) - peak_c(belief, belief.mean, 40.0, 0.0)
    p, r = math.exp(belief.mean[LN_P]), math.exp(belief.mean[LN_R])
    assert rise == pytest.approx(p * more_s * r / (1.0 + r), rel=0.12)  # shared by both lumps


def test_what_is_still_solid_must_be_melted_first() -> None:
    belief = believed(55.0, 34.0)
    solid = replace(belief, solid=0.2)
    lower_k = peak_c(belief, belief.mean, 50.0, 0.0) - peak_c(solid, solid.mean, 50.0, 0.0)
    r = math.exp(belief.mean[LN_R])
    assert lower_k == pytest.approx(0.2 * belief.prior.content.latent_k / (1.0 + r), rel=0.35)


def test_what_stays_solid_at_the_target_takes_no_heat() -> None:
    belief = believed(36.0, 31.0)
    tempered = replace(belief, solid=0.3)  # at 31.5 °C more than that is solid at rest
    assert peak_c(tempered, tempered.mean, 31.5, 0.0) == peak_c(belief, belief.mean, 31.5, 0.0)


def test_heat_in_no_picture_shows_before_all_has_melted_that_less_is_left_to_melt() -> None:
    belief = replace(believed(55.0, 42.0), solid=0.2, has_melted=False)
    warming = replace(believed(55.0, 42.0, drift=0.02), solid=0.2, has_melted=False)
    cooling = replace(believed(55.0, 42.0, drift=-0.02), solid=0.2, has_melted=False)
    none = replace(belief, solid=0.0)
    peaks = [peak_c(one, one.mean, 50.0, 0.0) for one in (cooling, belief, warming, none)]
    assert peaks[0] == peaks[1] < peaks[2] - 0.3 < peaks[3] - 0.6
    far_k = replace(believed(55.0, 42.0, drift=0.2), solid=0.2, has_melted=False)
    assert peak_c(far_k, far_k.mean, 50.0, 0.0) == pytest.approx(peaks[3])  # none at the least


def test_what_is_left_to_melt_makes_the_peak_less_sure() -> None:
    solid = replace(believed(55.0, 42.0), solid=0.3, has_melted=False)
    lacks_k = 0.3 * solid.prior.content.latent_k
    colder = replace(believed(55.0, 42.0 - lacks_k), has_melted=False)
    assert peak_c(solid, solid.mean, 50.0, 0.0) == peak_c(colder, colder.mean, 50.0, 0.0)
    assert peak_sd_k(solid, 50.0) > peak_sd_k(colder, 50.0) + 0.1


def test_before_the_chocolate_has_melted_an_unknown_drift_is_not_carried_on() -> None:
    belief = believed(45.0, 30.0, drift=2e-3)
    melting = replace(belief, has_melted=False)
    without = believed(45.0, 30.0)
    assert peak_c(melting, melting.mean, 40.0, 0.0) == peak_c(without, without.mean, 40.0, 0.0)
    assert peak_c(belief, belief.mean, 40.0, 0.0) > peak_c(without, without.mean, 40.0, 0.0)


def test_the_less_is_known_the_less_sure_the_peak_is() -> None:
    belief = believed(45.0, 30.0)
    spread = [list(row) for row in belief.spread]
    spread[LN_R][LN_R] /= 100.0
    surer = replace(belief, spread=tuple(map(tuple, spread)))
    assert 0.0 < peak_sd_k(surer, 40.0) < peak_sd_k(belief, 40.0)


def test_near_arrival_an_unknown_size_of_the_bowl_no_longer_matters() -> None:
    near, far = believed(40.3, 39.9), believed(55.0, 30.0)
    assert peak_sd_k(near, 40.0) < 0.5 * peak_sd_k(far, 40.0)
