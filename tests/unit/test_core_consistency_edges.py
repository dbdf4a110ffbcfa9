"""What sensors say of each other, at each number's edge: nothing on one side, all on the other.

Responsible for what test_core_consistency shows only from afar; values are own inventions.
"""

import math
from typing import Any

import pytest

from controller.core.consistency import Consistency, Still, consider, learned_loss_share, noted
from controller.core.estimate import Belief
from controller.core.signals import Reading
from controller.core.surveillance import _is_there
from controller.core.thermal import LN_K, LN_R, LOSS
from tests.helpers.records import replace
from tests.helpers.scene import phase, profile, state
from tests.unit.test_core_consistency import FRESH, believed, looks, sight

AT_S = 1000.0


def moved(
    by_k: float,
    *,
    later_s: float = 60.0,
    bath_c: float = 33.0,
    **changes: Any,  # noqa: ANN401 - any field of a sight
) -> Consistency:
    """Two looks, between which the bowl went from 32 °C so far."""
    first = sight(AT_S, bath_c=bath_c)
    then = {"guard_c": 34.0, **changes}
    return looks([first, sight(AT_S + later_s, bath_c=bath_c, bowl_c=32.0 + by_k, **then)])


def spread(belief: Belief, at: int, sd: float, *, alone: bool = False) -> Belief:
    """The belief with another standard deviation of one number; `alone`, certain of LN_R."""
    rows = [list(row) for row in belief.spread]
    rows[at][at] = sd * sd
    if alone:
        rows[LN_R][LN_R] = 0.0
    return replace(belief, spread=tuple(map(tuple, rows)))


def test_it_looks_every_five_seconds() -> None:
    assert consider(FRESH, sight(AT_S), None).due_s == AT_S + 5.0


@pytest.mark.parametrize(("later_s", "moved_k"), [(60.0, -2.0), (65.0, 0.0)])
def test_it_looks_back_a_minute(later_s: float, moved_k: float) -> None:
    assert moved(-2.0, later_s=later_s).moved_k == moved_k


@pytest.mark.parametrize(("after_s", "moved_k"), [(299.0, 0.0), (300.0, -2.0)])
def test_bath_and_bowl_have_five_minutes(after_s: float, moved_k: float) -> None:
    told = noted(FRESH, AT_S + 60.0 - after_s, touched=True)
    both = [sight(AT_S), sight(AT_S + 60.0, bowl_c=30.0)]
    assert looks(both, told).moved_k == moved_k


@pytest.mark.parametrize(("after_s", "apart_k"), [(59.0, 0.0), (60.0, 3.0)])
def test_two_thermometers_in_a_bath_have_one_minute(after_s: float, apart_k: float) -> None:
    told = noted(FRESH, AT_S - after_s, touched=True)
    assert looks([sight(AT_S, guard_c=36.0)], told).apart_k == apart_k


@pytest.mark.parametrize(("stirring_s", "moved_k"), [(119.0, 0.0), (120.0, -2.0)])
def test_a_bowl_is_one_body_after_two_minutes_of_stirring(
    stirring_s: float, moved_k: float
) -> None:
    assert moved(-2.0, stirring_s=stirring_s).moved_k == moved_k


@pytest.mark.parametrize(("by_k", "fell_k"), [(-2.49, 0.0), (-2.51, 2.51)])
def test_a_great_fall_is_one_of_two_and_a_half_kelvin(by_k: float, fell_k: float) -> None:
    assert moved(by_k).fell_k == pytest.approx(fell_k)


@pytest.mark.parametrize(("still_k", "fell_k"), [(1.51, 1.51), (1.49, 0.0)])
def test_it_is_forgiven_once_all_but_one_and_a_half_kelvin_is_back(
    still_k: float, fell_k: float
) -> None:
    seen = looks([sight(AT_S + 65.0, bowl_c=32.0 - still_k)], moved(-3.0))
    assert seen.fell_k == pytest.approx(fell_k)


@pytest.mark.parametrize(("over_k", "is_alone"), [(1.19, False), (1.21, True)])
def test_a_bowl_rises_alone_from_so_far_over_its_bath(over_k: float, *, is_alone: bool) -> None:
    seen = moved(over_k, bath_c=32.0)
    assert seen.moved_k == (pytest.approx(over_k) if is_alone else 0.0)


@pytest.mark.parametrize(("under_k", "is_alone"), [(0.29, False), (0.31, True)])
def test_a_bowl_falls_alone_from_so_far_under_its_bath(under_k: float, *, is_alone: bool) -> None:
    seen = moved(-1.0, bath_c=31.0 + under_k)
    assert seen.moved_k == (pytest.approx(-1.0) if is_alone else 0.0)


@pytest.mark.parametrize(
    ("asked_s", "rise_k", "crossed_k"), [(25.0, 1.01, 1.01), (24.9, 1.01, 0.0), (25.0, 0.99, 0.0)]
)
def test_a_bowl_answers_the_heat_from_so_much_heat_and_rise_on(
    asked_s: float, rise_k: float, crossed_k: float
) -> None:
    seen = moved(rise_k, bath_c=32.0, asked_s=asked_s, stirring_s=0.0)
    assert seen.crossed_k == pytest.approx(crossed_k)


@pytest.mark.parametrize(("rise_k", "crossed_k"), [(1.49, 1.49), (1.51, 0.0)])
def test_a_bowl_that_warms_half_as_fast_again_as_heat_can_warm_water_is_none(
    rise_k: float, crossed_k: float
) -> None:
    # Warm chocolate was poured in; all the heat of 40 s would have made 1 K.
    heat = {"asked_s": 40.0, "full_k_per_s": 1.0 / 40.0}
    seen = moved(rise_k, bath_c=32.0, stirring_s=0.0, **heat)
    assert seen.crossed_k == pytest.approx(crossed_k)


@pytest.mark.parametrize(("load_w", "share"), [(0.029, 0.0), (0.031, 1.0)])
def test_less_than_so_many_watts_is_no_load_in_chocolate(load_w: float, share: float) -> None:
    assert looks([sight(AT_S, load=Reading(load_w))]).load_share == share


@pytest.mark.parametrize(("noise_w", "share"), [(0.001, 10.0), (0.06, 5.0)])
def test_a_load_is_held_against_no_less_than_noise(noise_w: float, share: float) -> None:
    three = [sight(AT_S + 5.0 * i, load=Reading(noise_w), is_chocolate=False) for i in range(2)]
    three.append(sight(AT_S + 10.0, load=Reading(0.3), is_chocolate=False))
    assert looks(three).load_share == pytest.approx(share)


@pytest.mark.parametrize(("sd", "is_known"), [(0.099, True), (0.101, False)])
def test_a_transfer_must_be_known_to_a_tenth(sd: float, *, is_known: bool) -> None:
    seen = looks([sight(AT_S)], belief=spread(believed(), LN_K, sd, alone=True))
    assert (seen.learned is not None) is is_known


@pytest.mark.parametrize(("sd", "share"), [(0.1, 1.5), (0.101, 1.0)])
def test_losses_must_be_known_to_a_tenth(sd: float, share: float) -> None:
    seen = looks([sight(AT_S)], belief=spread(believed(loss=0.5), LOSS, sd))
    assert learned_loss_share(seen) == pytest.approx(share)


@pytest.mark.parametrize(("more", "share"), [(0.149, 1.0), (0.151, 1.151)])
def test_losses_differ_surely_from_three_deviations_on(more: float, share: float) -> None:
    known = looks([sight(AT_S)], belief=believed())
    seen = looks([sight(AT_S + 5.0)], known, believed(loss=more))  # a deviation is 0.05
    assert seen.demand_share == pytest.approx(share, abs=1e-6)


@pytest.mark.parametrize(("share", "is_like"), [(0.24, True), (0.26, False)])
def test_a_machine_is_as_it_was_up_to_a_quarter_of_what_is_unlike(
    share: float, *, is_like: bool
) -> None:
    known = looks([sight(AT_S)], belief=believed())
    odd = believed(bath=4.0, loss=0.6)
    lead_k = 5.0
    unsure_k = looks([sight(AT_S + 5.0)], known, odd).unlike_most_k
    # As much less of the transfer as makes so large a share of what is unlike; the limit goes by
    # the transfer as learned.
    less = math.log1p(-share * unsure_k / lead_k)
    seen = looks([sight(AT_S + 5.0)], known, believed(bath=4.0, loss=0.6, ln_k=less))
    assert (seen.demand_share > 1.0) is is_like


@pytest.mark.parametrize(("sd", "share"), [(0.099, 1.5), (0.101, 1.0)])
def test_the_batch_must_be_known_to_a_tenth(sd: float, share: float) -> None:
    heavy = believed(ln_r=-math.log(1.5))
    rows = [list(row) for row in heavy.spread]
    rows[LN_R][LN_R] = rows[LN_K][LN_K] = sd * sd
    rows[LN_K][LN_R] = rows[LN_R][LN_K] = -sd * sd  # their sum, the transfer, is known well
    belief = replace(heavy, spread=tuple(map(tuple, rows)))
    seen = looks([sight(AT_S, in_first_phase=True)], belief=belief)
    assert seen.amount_share == pytest.approx(share)


@pytest.mark.parametrize(
    ("began_c", "is_there"),
    [(31.69, False), (31.71, True), (32.29, True), (32.31, False), (math.nan, False)],
)
def test_a_bowl_is_at_its_target_if_its_phase_began_within_the_tolerance(
    began_c: float, *, is_there: bool
) -> None:
    curve = profile(phase("hold", bowl_target_c=32.0, tolerance_k=0.3))
    on_the_way = state(bowl_c=28.0, start_bowl_c=began_c)
    assert _is_there(on_the_way, curve) is is_there
    assert _is_there(state(bowl_c=28.0, start_bowl_c=began_c, reached=True), curve)


@pytest.mark.parametrize(
    ("still_s", "quiet_s", "crept_k"),
    [(60.0, 300.0, 1.0), (59.0, 300.0, 0.0), (60.0, 299.0, 0.0)],
)
def test_two_thermometers_are_held_against_their_cold_selves_in_a_bath_that_stands_still(
    still_s: float, quiet_s: float, crept_k: float
) -> None:
    told = noted(FRESH, AT_S - quiet_s, touched=True)
    stood = replace(told, still=Still(AT_S - still_s, 33.0, 32.0))
    found = looks([sight(AT_S, guard_c=34.4, apart_cold_k=0.4)], stood)
    assert found.crept_k == pytest.approx(crept_k)
    assert looks([sight(AT_S + 5.0, guard_c=math.nan)], found).crept_k == 0.0
    for unknown in (sight(AT_S, guard_c=34.4, apart_cold_k=math.nan), sight(AT_S, bath_c=math.nan)):
        assert looks([unknown], stood).crept_k == 0.0
    assert looks([sight(AT_S, guard_c=34.4)], replace(told, still=None)).crept_k == 0.0
