"""How much water to swap, when a second swap pays, and how the questions are put."""

import math
from typing import Any

import pytest

from controller.core.asking import AGAIN, LOOK_S, MIXES_S, Cooling
from controller.core.descent import Lumps, arrival_s, trough_c
from controller.core.estimate import Belief
from controller.core.estimator import stir
from controller.core.profile import Action, Kind, Question
from controller.core.state import Progress
from controller.core.swap import (
    MOST_SHARE,
    PAYS_S,
    Water,
    best_way,
    pays,
    soonest_s,
    swapped,
    worse,
)
from controller.core.thermal import APART, BATH, LN_K, SIZE, begin, prior_of
from tests.helpers.records import replace
from tests.helpers.scene import DONE, machine, phase, question
from tests.reference.test_swap_oracles import PLAIN

HIGH_C, LEAST_C = 28.3, 27.85
TAP = Water(0.95, 15.0, 0.05, 0.03, 0.05)
HOT = PLAIN._replace(bath_c=50.5)
SWAP = question(
    "swap",
    action=Action.SWAP_WATER,
    water_c=15.0,
    choices=(DONE,),
    text="Swap {mass} of the bath water, and dry the rim.",
)
COOL = phase("cool", bowl_target_c=28.0, tolerance_k=0.4, questions=(SWAP,))


def believed(bath_c: float = 50.5, bowl_c: float = 50.0, **told: Any) -> Belief:  # noqa: ANN401 - any field of the machine
    """A belief after a melt: stirred, and as sure as that makes it."""
    belief = begin(prior_of(machine(**told), Kind.DARK, 1.0), bath_c, bowl_c, has_melted=True)
    belief = stir(belief, is_stirred=True)
    mean = list(belief.mean)
    mean[APART] = 0.0
    sure = [[0.0] * SIZE for _ in range(SIZE)]
    for index in range(SIZE):
        sure[index][index] = 0.03**2
    return replace(belief, mean=tuple(mean), spread=tuple(map(tuple, sure)))


def kitchen(belief: Belief | None = None, **told: Any) -> Cooling:  # noqa: ANN401 - any field of the machine
    """All that a question's amount rests on."""
    return Cooling(believed(**told) if belief is None else belief, machine(**told), COOL)


def put(cooling: Cooling, progress: Progress | None = None) -> Question:
    """The question as it is put."""
    asked = cooling.put(SWAP, progress or Progress())
    assert asked is not None
    return asked


# The amount


def test_the_best_share_is_faster_than_those_beside_it() -> None:
    best = best_way(HOT, TAP, HIGH_C, LEAST_C)
    assert 0.5 < best.share < MOST_SHARE
    for share in (best.share - 0.1, best.share - 0.2, 0.1):
        beside_s = arrival_s(swapped(HOT, TAP, share), HIGH_C, LEAST_C)
        assert best.arrives_s < beside_s


def test_a_share_that_the_heater_could_not_make_good_is_never_taken() -> None:
    weak = HOT._replace(p_k_per_s=0.4 * HOT.p_k_per_s)
    share = best_way(weak, TAP, HIGH_C, LEAST_C).share
    assert share < best_way(HOT, TAP, HIGH_C, LEAST_C).share
    hard, cold = worse(weak, TAP)
    assert trough_c(swapped(hard, cold, share)) >= LEAST_C
    assert trough_c(swapped(hard, cold, MOST_SHARE)) < LEAST_C


def test_less_is_swapped_where_less_is_known() -> None:
    weak = HOT._replace(p_k_per_s=0.4 * HOT.p_k_per_s)
    for unsure in (TAP._replace(k_share_sd=0.2), TAP._replace(p_share_sd=0.2)):
        less = best_way(weak, unsure, HIGH_C, LEAST_C).share
        assert less < best_way(weak, TAP, HIGH_C, LEAST_C).share


def test_colder_water_takes_less_of_it() -> None:
    icy = TAP._replace(water_c=2.0)
    assert best_way(HOT, icy, HIGH_C, LEAST_C).share < best_way(HOT, TAP, HIGH_C, LEAST_C).share


def test_all_that_may_be_is_swapped_where_no_share_brings_the_bowl_down() -> None:
    heavy = HOT._replace(kr_per_s=HOT.k_per_s)  # as much heat in the bowl as in the bath
    best = best_way(heavy, TAP, HIGH_C, LEAST_C)
    assert best.arrives_s == math.inf
    assert best.share == pytest.approx(MOST_SHARE)


# The second step


def met(bath_c: float, bowl_c: float) -> Lumps:
    """A small bath that has come near to a heavy bowl."""
    return HOT._replace(kr_per_s=2.0 * HOT.k_per_s, bath_c=bath_c, bowl_c=bowl_c)


def test_a_second_step_is_asked_for_where_the_first_can_not_do_it() -> None:
    assert pays(met(32.0, 33.0), TAP, HIGH_C, LEAST_C)


def test_a_second_step_waits_until_the_bath_has_taken_up_some_heat() -> None:
    assert not pays(met(18.0, 45.0), TAP, HIGH_C, LEAST_C)


def test_no_second_step_is_asked_for_where_it_saves_little() -> None:
    well = swapped(HOT, TAP, best_way(HOT, TAP, HIGH_C, LEAST_C).share)
    assert not pays(well, TAP, HIGH_C, LEAST_C)
    assert arrival_s(well, HIGH_C, LEAST_C) > PAYS_S  # there would have been time for it


def test_a_forecast_reckons_with_the_second_step_only_where_one_can_not_do() -> None:
    best = best_way(HOT, TAP, HIGH_C, LEAST_C)
    assert soonest_s(HOT, TAP, HIGH_C, LEAST_C, 2) == best.arrives_s
    heavy = HOT._replace(kr_per_s=1.2 * HOT.k_per_s)
    assert soonest_s(heavy, TAP, HIGH_C, LEAST_C, 1) == math.inf
    assert soonest_s(heavy, TAP, HIGH_C, LEAST_C, 2) < 2400.0
    assert soonest_s(heavy, TAP, HIGH_C, LEAST_C, 0) == math.inf


# The questions


def test_a_question_says_how_much_to_swap_and_knows_it_itself() -> None:
    asked = put(kitchen())
    assert asked.mass_kg is not None
    assert 1.0 < asked.mass_kg <= MOST_SHARE * 3.0
    assert asked.text == f"Swap {asked.mass_kg:g} kg of the bath water, and dry the rim."
    assert asked.share == pytest.approx(asked.mass_kg / 3.0)
    assert asked.id == "swap"


def test_no_more_water_is_asked_for_than_there_is() -> None:
    """A scale shows tenths of a kilogram: nine tenths of 0.39 kg would be 0.4 kg."""
    little: dict[str, Any] = {"water_kg": 0.39, "batch_kg": 1.0}
    asked = put(kitchen(**little))
    assert asked.mass_kg == 0.3
    assert asked.share == pytest.approx(0.3 / 0.39)


def test_any_other_question_is_put_as_it_stands() -> None:
    fixed = replace(SWAP, share=0.5)
    assert kitchen().put(fixed, Progress()) is fixed
    plain = question()
    assert kitchen().put(plain, Progress()) is plain


def test_nothing_is_asked_for_where_nothing_is_to_be_swapped() -> None:
    assert kitchen(believed(28.0, 28.1)).put(SWAP, Progress()) is None


def test_nothing_is_worked_out_before_a_thermometer_has_spoken() -> None:
    blind = Cooling(None, machine(), COOL)
    assert blind.put(SWAP, Progress()) is None
    assert blind.again(SWAP, Progress()) is None


def test_seed_that_is_still_to_come_cools_too_and_so_saves_water() -> None:
    seed = question("seed", action=Action.ADD_SEED, share=0.06)
    plenty: dict[str, Any] = {"water_kg": 5.0}
    phase_ = replace(COOL, questions=(SWAP, seed))
    seeded = Cooling(believed(**plenty), machine(**plenty), phase_)
    less_kg, more_kg = put(seeded).mass_kg, put(kitchen(**plenty)).mass_kg
    done_kg = put(seeded, Progress(answered=frozenset({"seed"}))).mass_kg
    assert less_kg is not None
    assert more_kg is not None
    assert less_kg < more_kg
    assert done_kg == more_kg


def later(**changes: Any) -> Progress:  # noqa: ANN401 - any field of the progress
    """Well into the phase, the first swap done."""
    given = Progress(phase_s=20 * LOOK_S, unasked_s=MIXES_S, answered=frozenset({"swap"}))
    return replace(given, **changes)


HEAVY = {"batch_kg": 5.0, "water_kg": 2.0}


def test_a_second_question_has_an_id_and_an_amount_of_its_own() -> None:
    warm = kitchen(believed(33.0, 34.0, **HEAVY), **HEAVY)
    again = warm.again(SWAP, later())
    assert again is not None
    assert again.id == "swap" + AGAIN
    assert again.mass_kg is not None
    assert f"Swap {again.mass_kg:g} kg" in again.text


@pytest.mark.parametrize(
    "changes",
    [
        {"unasked_s": MIXES_S - 1.0},
        {"phase_s": 20 * LOOK_S + 6.0},
        {"answered": frozenset({"swap", "swap" + AGAIN})},
    ],
    ids=["too soon", "between looks", "done already"],
)
def test_a_second_question_is_not_put(changes: dict[str, Any]) -> None:
    warm = kitchen(believed(33.0, 34.0, **HEAVY), **HEAVY)
    assert warm.again(SWAP, later(**changes)) is None


def test_a_second_question_waits_for_a_bath_that_is_known() -> None:
    belief = believed(33.0, 34.0, **HEAVY)
    wide = [list(row) for row in belief.spread]
    wide[BATH][BATH] = 1.0
    unsure = replace(belief, spread=tuple(map(tuple, wide)))
    warm = kitchen(unsure, **HEAVY)
    assert warm.again(SWAP, later()) is None


def test_an_open_question_is_put_anew_once_its_amount_is_no_longer_right() -> None:
    asked = put(kitchen())
    assert kitchen().renewed(asked, Progress(asked_s=2 * LOOK_S)) is None
    cooler = kitchen(believed(40.0, 40.0))
    fresh = cooler.renewed(asked, Progress(asked_s=20 * LOOK_S))
    assert fresh is not None
    assert fresh.mass_kg is not None
    assert asked.mass_kg is not None
    assert fresh.id == asked.id
    assert fresh.mass_kg < 0.9 * asked.mass_kg
    assert cooler.renewed(asked, Progress(asked_s=20 * LOOK_S + 7.0)) is None


def test_a_slower_transfer_is_reckoned_with_where_the_stirrer_is_not_turning_yet() -> None:
    stirred = kitchen()
    belief = believed()
    still = stir(belief, is_stirred=False)
    mean = list(still.mean)
    mean[LN_K] = belief.mean[LN_K] - 2.0
    still = replace(still, mean=tuple(mean))
    span_s = stirred.takes_s(Progress(), 50.5, 50.0)
    assert kitchen(still).takes_s(Progress(), 50.5, 50.0) == pytest.approx(span_s, rel=0.15)
    assert 120.0 < span_s < 1200.0
