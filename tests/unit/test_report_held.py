"""How far off a held bowl was: warm steps are asked for, all else counts."""

import math

import pytest

from controller.core.thresholds import NUDGE_K, NUDGE_S
from controller.core.warming import EVERY_S, STEP_K
from controller.report.held import Held

TARGET_C = 31.8


def seen(*looks: tuple[float, float, float]) -> tuple[list[float], Held]:
    """How far off, K, at each look: seconds, asked over the target, bowl over the target."""
    held = Held(TARGET_C)
    off = [held.see(at_s, TARGET_C + asked_k, TARGET_C + bowl_k) for at_s, asked_k, bowl_k in looks]
    return off, held


def test_a_bowl_is_off_its_target_by_what_it_is_over_or_under_it() -> None:
    off, held = seen((0.0, 0.0, 0.05), (5.0, 0.0, -0.2))
    assert off == pytest.approx([0.05, -0.2])
    assert (held.warmed_k, held.over_k, held.asked_k) == (0.0, 0.0, 0.0)


def test_a_warm_step_is_no_deviation_and_what_goes_past_it_is() -> None:
    off, held = seen(
        (0.0, 0.0, 0.0), (5.0, 0.3, 0.0), (60.0, 0.3, 0.2), (120.0, 0.3, 0.37), (180.0, 0.3, 0.2)
    )
    # On its way it is off by nothing; past it by the rest; once there, 0.2 is 0.1 too little.
    assert off[:4] == pytest.approx([0.0, 0.0, 0.0, 0.07], abs=1e-9)
    assert off[4] == pytest.approx(0.0, abs=1e-9)  # it has not been there yet, only past it
    assert held.warmed_k == held.over_k == held.asked_k == pytest.approx(0.3)


def test_once_it_has_arrived_or_ought_to_have_it_is_off_again() -> None:
    there, _ = seen((0.0, 0.3, 0.0), (60.0, 0.3, 0.28), (120.0, 0.3, 0.1))
    assert there == pytest.approx([0.0, -0.02, -0.2])
    late, _ = seen((0.0, 0.3, 0.0), (EVERY_S - 1.0, 0.3, 0.1), (EVERY_S, 0.3, 0.1))
    assert late == pytest.approx([0.0, 0.0, -0.2])


def test_a_step_back_is_followed_likewise() -> None:
    off, held = seen((0.0, 0.6, 0.6), (60.0, 0.0, 0.6), (120.0, 0.0, 0.3), (180.0, 0.0, -0.1))
    assert off == pytest.approx([0.0, 0.0, 0.0, -0.1])
    assert held.warmed_k == pytest.approx(0.6)
    assert held.asked_k == 0.0


def test_what_shows_that_a_thermometer_lives_is_a_deviation_and_a_small_lasting_step_is_none() -> (
    None
):
    assert NUDGE_K < STEP_K
    off, held = seen((0.0, NUDGE_K, NUDGE_K), (NUDGE_S, NUDGE_K, NUDGE_K), (NUDGE_S + 5, 0.0, 0.0))
    assert off == pytest.approx([NUDGE_K, NUDGE_K, 0.0])
    assert held.warmed_k == 0.0
    off, held = seen((0.0, 0.1, 0.1), (1.3 * NUDGE_S, 0.1, 0.1))
    assert off == pytest.approx([0.1, 0.0])
    assert held.warmed_k == pytest.approx(0.1)


def test_a_cooler_wish_than_the_target_excuses_nothing() -> None:
    off, held = seen((0.0, -1.0, -1.0), (700.0, -1.0, -1.0))
    assert off == pytest.approx([-1.0, -1.0])
    assert held.warmed_k == 0.0


def test_what_is_not_known_is_no_number_and_changes_nothing() -> None:
    off, held = seen((0.0, math.nan, 0.1), (5.0, 0.3, math.nan), (10.0, 0.3, 0.1))
    assert off[0] == pytest.approx(0.1)
    assert math.isnan(off[1])
    assert off[2] == pytest.approx(0.0)
    assert held.warmed_k == pytest.approx(0.3)
