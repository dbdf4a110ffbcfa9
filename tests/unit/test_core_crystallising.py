"""The controller's own crystals: what the trade observes, as orders; numbers name their source."""

import math

import pytest

from controller.core.batches import THICKENS, TRAITS
from controller.core.chocolate import content_of
from controller.core.crystallising import (
    LUMP_SOLID,
    MELTED,
    Crystals,
    Trait,
    grown,
    joined,
    solid_v,
)
from controller.core.profile import Kind

USUAL = Trait(softer_k=0.0, growth=1.0, births=1.0, chopped=1.0, thickens=THICKENS, off=0.0)
PERCENT: Crystals = (0.01, 0.0, 0.5, 0.0, 0.01)


def after(
    crystals: Crystals, dark_c: float, minutes: float, *, is_stirred: bool = True
) -> Crystals:
    """The usual batch after so many minutes at a temperature."""
    for _ in range(round(6 * minutes)):
        crystals = grown(crystals, USUAL, dark_c, 10.0, is_stirred=is_stirred)
    return crystals


def test_a_stirred_melt_at_27_to_28_degrees_comes_into_temper_in_some_ten_to_twenty_minutes() -> (
    None
):
    # Reaching the low point takes 5 to 30 minutes by hand (common practice, no source); in temper
    # is 0.5 to 4 % of the fat (the literature's span; from memory, not checked).
    assert after(MELTED, 27.5, 3.0)[0] < 0.005
    assert 0.005 < after(MELTED, 27.5, 15.0)[0] < 0.04


def test_stirring_brings_good_crystals_sooner() -> None:
    # Dhonsi & Stapley, J. Food Eng. 77:936 (2006): shear speeds form V up strongly.
    still = after(MELTED, 26.0, 10.0, is_stirred=False)[0]
    assert after(MELTED, 26.0, 10.0)[0] > 4.0 * still


def test_held_at_work_it_thickens_for_hours_and_the_less_the_warmer() -> None:
    # The trade warms it in steps of 0.3 to 1 K (van Langevelde for memory; common practice).
    hour = [after(PERCENT, bowl_c, 60.0)[0] for bowl_c in (30.0, 31.5, 32.5, 33.5)]
    assert hour == sorted(hour, reverse=True)
    assert hour[0] > 0.04 > hour[2] > hour[3] > 0.01


def test_three_minutes_above_34_degrees_cost_the_more_the_warmer_it_is() -> None:
    # Form V melts at 33.8 °C (Wille & Lutton 1966); melting is a range.
    tempered: Crystals = (0.02, 0.0, 0.5, 0.0, 0.02)
    left = [after(tempered, bowl_c, 3.0)[0] for bowl_c in (34.0, 35.0, 36.0, 38.0)]
    assert left == sorted(left, reverse=True)
    assert left[0] > 0.015
    assert left[2] < 0.005


def test_unstable_crystals_come_only_in_the_cold_and_melt_on_warming_again() -> None:
    # Form IV melts at 27.5 °C (Wille & Lutton 1966): hence the dip, and the warming after it.
    cold = after(MELTED, 23.0, 10.0)
    assert cold[1] > 0.002
    assert after(cold, 31.0, 5.0)[1] < 0.0005
    assert after(MELTED, 29.0, 30.0)[1] == 0.0


def test_a_melt_only_just_past_melting_crystallises_sooner_than_one_kept_at_50_degrees() -> None:
    # Memory: van Langevelde et al., J. Am. Oil Chem. Soc. 78:919 (2001).
    solid: Crystals = (LUMP_SOLID, 0.0, 1.0, 0.0, 0.0)
    hasty, patient = (
        after(after(solid, 37.0, 10.0), 28.0, 6.0),
        after(after(solid, 50.0, 20.0), 28.0, 6.0),
    )
    assert hasty[0] > 3.0 * patient[0]


def test_seed_all_at_once_melts_out_and_its_last_third_held_back_tempers() -> None:
    # Seed of 10 % of the batch in one go into 45 °C ends at 39.9 °C, melted out; the last third
    # held back until 34 °C ends at 33.5 °C, in temper (adiabatic; computed on the bench).
    at_once = after(joined(MELTED, 0.10, is_set=True), 39.9, 10.0)
    assert at_once[0] + at_once[3] < 0.0005
    assert at_once[4] > 0.005
    early = after(joined(MELTED, 0.2 / 2.9, is_set=True), 41.0, 10.0)
    late = after(joined(early, 0.1 / 3.0, is_set=True), 33.5, 10.0)
    assert 0.005 < late[0] < 0.04


def test_melted_chocolate_that_comes_in_dilutes_and_seed_that_comes_in_adds() -> None:
    assert joined(PERCENT, 0.25, is_set=False)[0] == pytest.approx(0.0075)
    assert joined(PERCENT, 0.25, is_set=True)[3] == pytest.approx(0.25 * LUMP_SOLID)


def test_nothing_grows_beyond_what_can_be_solid() -> None:
    for bowl_c in (22.0, 28.0, 31.0, 33.0):
        form_v, unstable, *_ = after(PERCENT, bowl_c, 600.0)
        assert form_v + unstable <= max(solid_v(bowl_c), 0.01) + 0.005


def test_all_possible_batches_stay_finite_and_bounded_by_long_steps() -> None:
    for trait in TRAITS:
        crystals = PERCENT
        for bowl_c in (-5.0, 15.0, 28.0, 31.0, 34.0, 37.0, 110.0):
            crystals = grown(crystals, trait, bowl_c, 600.0, is_stirred=True)
            assert all(math.isfinite(one) and 0.0 <= one <= 1.0 for one in crystals)


def test_possible_batches_differ_evenly_about_the_usual_one() -> None:
    assert abs(sum(one.softer_k for one in TRAITS)) / len(TRAITS) < 0.1
    assert abs(sum(math.log(one.births) for one in TRAITS)) / len(TRAITS) < 0.15
    assert len({one.softer_k for one in TRAITS}) == len(TRAITS)


def test_one_percent_of_the_fat_warms_dark_chocolate_by_a_third_of_a_kelvin() -> None:
    # 1 % of 35 % fat with 157 kJ/kg, over 1.59 kJ/(kg K), is 0.35 K (Chevalley 1970; Beckett).
    assert content_of(Kind.DARK).latent_k / LUMP_SOLID * 0.01 == pytest.approx(0.35, rel=0.05)


def test_tempered_chocolate_is_two_to_four_times_as_thick_as_its_melt() -> None:
    # Tempered milk: 3.0 ± 1 times the untempered viscosity (J. Rheol. 62:1187 (2018)).
    assert 2.0 <= math.exp(THICKENS * 0.035) <= 4.0
