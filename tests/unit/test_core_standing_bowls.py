"""A bowl on its way that stands still, and heat that no chocolate can give.

Beliefs here are made up; whether a real fault shows is asked in tests/faults.
"""

import math
from itertools import pairwise
from typing import Any

import pytest

from controller.core.consistency import Consistency
from controller.core.estimate import Belief
from controller.core.signals import Reading
from controller.core.thermal import (
    BOWL_LOSS_W_PER_K,
    LN_K,
    LN_R,
    STILL_SHARE,
    TRANSFER_W_PER_K,
)
from tests.helpers.records import replace
from tests.helpers.scene import machine
from tests.unit.test_core_consistency import STEP_S, believed, known, looks, sight

STOOD_S = 300.0
LID_K = 18.0 / (STILL_SHARE * TRANSFER_W_PER_K)
LEARNED_W_PER_K = STILL_SHARE * TRANSFER_W_PER_K
STIRS_W = 30.0  # that the stirrer's work may give, where nothing measures it
ALL_J = 46_000.0 * machine().batch_kg  # what all of the batch gives off when it sets


def stood(
    for_s: float,
    *,
    bath_c: float = 26.0,
    bowl_c: float = 34.0,
    seen: Consistency | None = None,
    since_s: float = 1005.0,
    bath_k: float = 0.0,
    bowl_k: float = 0.0,
    **changes: Any,  # noqa: ANN401 - any field of a sight
) -> Consistency:
    """Looks at a bowl that has not arrived; it and its bath move by so much in all meanwhile."""
    count = round(for_s / STEP_S)
    changes = {"is_there": False, **changes}
    steps = [
        sight(
            since_s + STEP_S * n,
            bath_c=bath_c + bath_k * n / max(count, 1),
            bowl_c=bowl_c + bowl_k * n / max(count, 1),
            **changes,
        )
        for n in range(count + 1)
    ]
    return looks(steps, known() if seen is None else seen, believed())


def loss_k(belief: Belief, bowl_c: float) -> float:
    """The lead that what a bowl loses to the room asks for."""
    rate_per_s = math.exp(belief.mean[LN_K] + belief.mean[LN_R])
    loss = BOWL_LOSS_W_PER_K / belief.prior.bowl_j_per_k * (bowl_c - belief.prior.room_c)
    return loss / rate_per_s


def test_a_bowl_on_its_way_is_judged_once_it_and_its_bath_have_stood_still() -> None:
    assert stood(STOOD_S - STEP_S).unlike_k == 0.0
    seen = stood(STOOD_S)
    assert seen.unlike_k == pytest.approx(-8.0 - loss_k(believed(), 34.0))
    lead_k = stood(STOOD_S, bath_c=36.0, bowl_c=31.0).unlike_k
    assert lead_k == pytest.approx(5.0 - loss_k(believed(), 31.0))


@pytest.mark.parametrize(
    ("way", "is_judged"),
    [
        ({"bath_k": 1.0}, True),
        ({"bath_k": -1.0}, True),
        ({"bath_k": 1.02}, False),
        ({"bath_k": -1.02}, False),
        ({"bowl_k": 0.5}, True),
        ({"bowl_k": -0.5}, True),
        ({"bowl_k": 0.51}, False),
        ({"bowl_k": -0.51}, False),
    ],
)
def test_while_bath_or_bowl_still_moves_it_is_not(way: dict[str, Any], *, is_judged: bool) -> None:
    assert (stood(STOOD_S, **way).unlike_k != 0.0) is is_judged


def test_what_a_slow_move_takes_is_no_lead_without_a_cause() -> None:
    belief = believed()
    rate_per_s = math.exp(belief.mean[LN_K] + belief.mean[LN_R])
    moving, standing = stood(STOOD_S, bowl_k=0.3), stood(STOOD_S, bowl_c=34.3)
    assert moving.unlike_k - standing.unlike_k == pytest.approx(-0.3 / STOOD_S / rate_per_s)


def test_in_the_first_phase_a_bowl_that_stands_is_learned_and_not_judged() -> None:
    seen = stood(STOOD_S, in_first_phase=True)
    assert (seen.unlike_k, seen.set_j) == (0.0, 0.0)


def test_a_bowl_that_arrived_is_judged_by_what_is_believed_however_it_moves() -> None:
    seen = looks([sight(1005.0, is_there=True)], known(), believed(bath=4.0, ln_k=-math.log(2.0)))
    assert seen.unlike_k == pytest.approx(2.5, abs=1e-6)


def cold(for_s: float, **changes: Any) -> Consistency:  # noqa: ANN401 - any field of a sight
    """A bowl that has stood far over its bath for long, so that it is judged in each look."""
    return stood(STOOD_S + for_s, bath_c=24.0, **changes)


def test_heat_that_setting_chocolate_alone_could_give_is_counted() -> None:
    first, later = cold(0.0), cold(600.0)
    assert later.unlike_k < -(1.0 + 0.15 * 10.0 + LID_K)  # by far more than an open lid takes
    per_look_j = LEARNED_W_PER_K * -later.unlike_k * STEP_S
    assert first.set_j == pytest.approx(per_look_j, rel=1e-3)
    assert later.set_j == pytest.approx(121 * per_look_j, rel=1e-3)


def hours_of_setting(share: float = 1.0) -> Belief:
    """It is warmed by as much as a lead of 30 K would, and its wall passes that share of before."""
    rate_per_s = math.exp(believed().mean[LN_K] + believed().mean[LN_R])
    return believed(ln_k=math.log(share), drift=30.0 * rate_per_s)


def held(load: Reading | None, share: float = 1.0) -> Consistency:
    """A bowl that had arrived, in a batch that was told to set."""
    at = sight(1005.0, bowl_c=34.0, is_thick=True, load=load)
    return looks([at], known(), hours_of_setting(share))


def thick_w(seen: Consistency, *, share: float = 1.0, stirs_w: float) -> float:
    """What it must have given off, with a lead of 1 K."""
    certain_k = 1.0 + 0.15 + LID_K
    return share * LEARNED_W_PER_K * (-seen.unlike_k - certain_k) - stirs_w


@pytest.mark.parametrize(
    ("load", "stirs_w"),
    [
        (None, STIRS_W),
        (Reading(5.0, age_s=6.0), STIRS_W),
        (Reading(0.5), 0.5),
        (Reading(26.0), 26.0),
    ],
)
def test_of_a_thick_batch_only_what_nothing_else_explains_is_counted(
    load: Reading | None, stirs_w: float
) -> None:
    seen = held(load)
    given_w = thick_w(seen, stirs_w=stirs_w)
    assert seen.set_j == pytest.approx(given_w * STEP_S, rel=1e-3)
    assert given_w > 0.0


def test_a_stirrer_that_gives_more_than_the_bath_gets_takes_no_heat_back() -> None:
    before = cold(0.0)
    more = Reading(LEARNED_W_PER_K * -before.unlike_k + 1.0)
    after = stood(STEP_S, bath_c=24.0, seen=before, is_there=True, is_thick=True, load=more)
    assert after.set_j == before.set_j > 0.0


@pytest.mark.parametrize(("share", "counted"), [(0.5, 0.5), (1.0, 1.0), (2.0, 1.0)])
def test_less_heat_goes_through_the_wall_of_a_bowl_whose_batch_is_thick(
    share: float, counted: float
) -> None:
    seen = held(Reading(0.0), share)
    given_w = thick_w(seen, share=counted, stirs_w=0.0)
    assert seen.set_j == pytest.approx(given_w * STEP_S, rel=1e-3)
    assert given_w > 0.0


def test_on_its_way_a_thick_batch_is_counted_as_any_other() -> None:
    assert cold(600.0, is_thick=True).set_j == cold(600.0).set_j > 0.0


def test_of_a_batch_not_told_to_set_the_transfer_as_learned_counts_though_it_seems_less() -> None:
    seen = cold(0.0)
    at = sight(1310.0, bath_c=24.0, bowl_c=34.0, is_there=False)
    after = looks([at], seen, believed(ln_k=-math.log(2.0)))
    assert after.set_j - seen.set_j == pytest.approx(seen.set_j, rel=1e-3)


def test_what_can_be_otherwise_is_not_counted_for_heat_of_setting() -> None:
    assert stood(STOOD_S + 600.0, bath_c=30.0).unlike_k < 0.0
    assert stood(STOOD_S + 600.0, bath_c=30.0).set_j == 0.0


def test_once_all_of_the_batch_must_have_set_no_setting_excuses_a_cold_bath() -> None:
    almost, all_set = (
        stood(0.0, seen=replace(cold(0.0), set_j=set_j), since_s=1400.0, is_there=True)
        for set_j in (ALL_J, ALL_J + 1.0)
    )
    assert almost.unlike_least_k == pytest.approx(-6.0 - 0.15 - LID_K)
    assert all_set.unlike_least_k == pytest.approx(-1.0 - 0.15 - LID_K)


@pytest.mark.parametrize("changes", [{"bowl_c": 34.3}, {"in_first_phase": True}])
def test_chocolate_that_melts_may_set_again(changes: dict[str, Any]) -> None:
    before = replace(cold(0.0), set_j=ALL_J)
    assert looks([sight(1400.0)], before, believed()).set_j == ALL_J
    assert looks([sight(1400.0, **changes)], before, believed()).set_j == 0.0


def test_the_bound_closes_by_itself_after_long_enough() -> None:
    minutes = [cold(60.0 * n).unlike_least_k for n in (0, 10, 120)]
    assert all(before <= after for before, after in pairwise(minutes))
    assert minutes[0] < minutes[-1]
