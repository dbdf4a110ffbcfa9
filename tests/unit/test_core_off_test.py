"""The off test: what a bath that does not answer its heat shows once that is held back.

The bath is the lump of water of tests/helpers/heated.py; values are own inventions.
"""

import math
from random import Random
from typing import Any

import pytest

from controller.core.evidence import HeatMemory, ProbeMemory, heat_evidence
from controller.core.off_test import OffTest, begun, is_due, is_missed, went_on
from tests.helpers.heated import OWN, Bath
from tests.helpers.records import replace
from tests.helpers.scene import ROOM_C

FULL_K_PER_S = OWN.heater_w / OWN.bath_j_per_k
# What keeps a bath from rising though its heater works, and how hot the bath is by then.
DRAINS: dict[str, dict[str, Any]] = {
    "a lid that is off": {"bath_c": 58.0, "bowl_c": 50.0, "true_loss_w_per_k": 15.0},
    "half a heater in a draught": {
        "bath_c": 52.0,
        "bowl_c": 52.0,
        "heat_share": 0.5,
        "true_loss_w_per_k": 9.0,
    },
    "a weak heater under both": {
        "bath_c": 50.0,
        "bowl_c": 36.0,
        "heat_share": 0.6,
        "true_loss_w_per_k": 8.0,
        "transfer_w_per_k": 15.0,
    },
}


def heated(bath: Bath, seconds: int) -> list[float]:
    """How long heat was held back at each second: all of it is asked for where it is not."""
    return [bath.step(on=bath.memory.held_back_s < 0.0).held_back_s for _ in range(seconds)]


@pytest.mark.parametrize("drain", DRAINS)
@pytest.mark.parametrize("seed", range(3))
def test_a_bath_that_can_t_rise_is_found_heated_once_it_falls_the_faster_without(
    drain: str, seed: int
) -> None:
    bath = Bath(**DRAINS[drain], noise=Random(seed))  # noqa: S311 - no secret
    held = heated(bath, 700)
    assert 0.0 < max(held) < 45.0  # of the 60 s after which it would trip


@pytest.mark.parametrize("drain", DRAINS)
@pytest.mark.parametrize("seed", range(3))
def test_a_dead_heater_is_found_dead_whatever_else_cools_its_bath(drain: str, seed: int) -> None:
    bath = Bath(**(DRAINS[drain] | {"heat_share": 0.0}), noise=Random(seed))  # noqa: S311 - no secret
    held = heated(bath, 240)
    # The budget, the element's lag and the test itself.
    assert next(second for second, one in enumerate(held) if one >= 60.0) <= 220


def test_a_heater_that_dies_while_its_lid_is_off_is_found_dead() -> None:
    bath = Bath(**DRAINS["a lid that is off"])
    heated(bath, 400)
    bath.heat_share = 0.0
    assert max(heated(bath, 400)) >= 60.0


@pytest.mark.parametrize(
    ("given_s", "share", "due"),
    [
        (135.0, 1.0, False),
        (135.1, 1.0, True),
        (135.1, 0.5, True),
        (270.0, 0.49, False),
        (270.1, 0.0, True),
        (math.nan, 1.0, True),
    ],
)
def test_a_test_is_due_once_much_heat_or_a_lot_in_little_parts_went_unanswered(
    given_s: float, share: float, *, due: bool
) -> None:
    assert is_due(given_s, share) is due


def test_a_test_goes_by_the_line_through_the_minute_before() -> None:
    looks = tuple((at_s, 50.0 - 0.02 * at_s, 0.0, 0.5 * at_s) for at_s in range(0, 65, 5))
    test = begun(looks)
    assert test.began_s == 60.0
    assert (test.from_c, test.k_per_s) == pytest.approx((48.8, -0.02))
    assert test.share == pytest.approx(0.5)
    alone = begun(looks[:1])
    assert (alone.from_c, alone.k_per_s, alone.share) == (50.0, 0.0, 1.0)


@pytest.mark.parametrize(
    ("withheld_s", "missing_k", "missed"),
    [
        (0.0, 0.251, True),
        (0.0, 0.249, False),
        (40.0, 0.401 * 40.0 * FULL_K_PER_S, True),
        (40.0, 0.399 * 40.0 * FULL_K_PER_S, False),
        (40.0, math.nan, False),
    ],
)
def test_heat_is_missed_from_its_numbers_on(
    withheld_s: float, missing_k: float, *, missed: bool
) -> None:
    test = OffTest(began_s=100.0, from_c=50.0, k_per_s=-0.01, share=1.0, withheld_s=withheld_s)
    bath_c = 50.0 - 0.01 * 30.0 - missing_k
    assert is_missed(test, bath_c, 130.0, FULL_K_PER_S) is missed


def test_what_is_withheld_counts_from_what_was_given_and_less_what_the_element_still_gives() -> (
    None
):
    test = OffTest(began_s=0.0, from_c=50.0, k_per_s=0.0, share=0.8)
    assert went_on(went_on(test, 0.3, 2.0), 0.1, 1.0).withheld_s == pytest.approx(1.7)


def in_test(**changes: Any) -> HeatMemory:  # noqa: ANN401 - any argument of the account
    """The account of a second within a test, at 40 °C where its line is, of a bath that fell."""
    test = OffTest(began_s=90.0, from_c=40.0, k_per_s=0.0, share=1.0)
    before = HeatMemory(now_s=99.0, lagged=0.5, anchor_c=45.0, given_s=140.0, off_test=test)
    probe = ProbeMemory(value_c=40.0, code_c=40.0)
    given: dict[str, Any] = {
        "bath": probe,
        "bowl": probe,
        "was_on": False,
        "disturbed": False,
        "dt_s": 1.0,
        "machine": OWN,
    }
    memory = changes.pop("memory", before)
    return heat_evidence(memory, **(given | changes))


def test_a_test_goes_on_while_nothing_is_missed() -> None:
    after = in_test()
    assert after.held_back_s == 10.0
    assert after.given_s > 140.0
    assert after.off_test is not None
    assert after.off_test.withheld_s == pytest.approx(1.0 - 0.5 * (1.0 - 1.0 / 20.0))


@pytest.mark.parametrize(
    "changes",
    [
        {"disturbed": True},
        {"bath": ProbeMemory(value_c=46.5)},  # what was left in the element answers after all
        {"bath": ProbeMemory(value_c=39.5)},  # missed
    ],
)
def test_a_test_ends_with_what_somebody_did_with_an_answer_or_with_what_is_missed(
    changes: dict[str, Any],
) -> None:
    after = in_test(**changes)
    assert (after.off_test, after.given_s, after.held_back_s) == (None, 0.0, -1.0)
    assert after.anchor_c == changes.get("bath", ProbeMemory(value_c=40.0)).value_c


def test_a_test_outlasts_an_element_that_has_gone_cold() -> None:
    before = replace(in_test(), lagged=0.01)
    assert in_test(memory=before).held_back_s == 11.0


def test_the_time_of_a_test_goes_on_while_a_thermometer_says_nothing() -> None:
    after = in_test(bath=ProbeMemory())
    assert after.held_back_s == 10.0
    assert after.off_test is not None
    assert after.off_test.withheld_s > 0.0


@pytest.mark.parametrize("says_k", [20.0, 24.0, 28.0])
def test_a_thermometer_that_hangs_warm_beside_its_bath_answers_nothing_while_heat_is_held_back(
    says_k: float,
) -> None:
    # What a bath that warm would lose meanwhile is no answer to heat that it does not get.
    probe = ProbeMemory(value_c=ROOM_C + says_k, code_c=ROOM_C + says_k)
    memory, most_s = HeatMemory(), -1.0
    for _ in range(300):
        memory = in_test(memory=memory, bath=probe, bowl=probe, was_on=memory.held_back_s < 0.0)
        most_s = max(most_s, memory.held_back_s)
    assert most_s >= 60.0
