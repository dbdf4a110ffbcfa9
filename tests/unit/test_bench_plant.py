"""The plant as its parts see it: time, stirring, water and seed."""

import math

import pytest

from controller.ports import Kind
from hardware.bench import crystals
from hardware.bench.machines import BRISK, REFERENCE
from hardware.bench.parameters import DARK
from hardware.bench.plant import Plant
from tests.helpers.records import replace

CHOCOLATES = (Kind.DARK, Kind.MILK, Kind.WHITE)


def a_plant(kind: Kind = Kind.DARK, *, room_c: float = 20.0) -> Plant:
    """1.5 kg in the reference machine, at moment 0."""
    plant = Plant(parameters=REFERENCE, kind=kind, mass_kg=1.5, room_c=room_c)
    plant.advance(0.0)
    return plant


def melted(kind: Kind = Kind.DARK) -> Plant:
    """1.5 kg brought to about 50 °C in 3000 s, stirred at 30 rpm."""
    plant = a_plant(kind)
    plant.stir(30.0)
    plant.heat(500.0)
    plant.advance(1500.0)
    plant.heat(60.0)
    plant.advance(3000.0)
    return plant


def test_nothing_moves_in_a_room_that_is_as_warm() -> None:
    dry = replace(REFERENCE, water_surface_m2=0.0)
    plant = Plant(parameters=dry, kind=Kind.DARK, mass_kg=1.5, room_c=20.0)
    plant.advance(0.0)
    plant.advance(7200.0)
    assert plant.bath_c == pytest.approx(20.0, abs=1e-9)
    assert plant.content_c == pytest.approx(20.0, abs=1e-9)


def test_an_open_bath_cools_a_little_below_the_room() -> None:
    plant = a_plant()
    plant.advance(10_800.0)
    assert 18.0 < plant.bath_c < 20.0


def test_the_first_moment_is_the_origin_whatever_it_is() -> None:
    late, early = a_plant(), Plant(parameters=REFERENCE, kind=Kind.DARK, mass_kg=1.5, room_c=20.0)
    early.advance(1e6)
    for plant, origin_s in ((late, 0.0), (early, 1e6)):
        plant.heat(500.0)
        plant.advance(origin_s + 100.0)
    assert early.bath_c == pytest.approx(late.bath_c, abs=1e-9)


def test_looking_often_makes_no_difference() -> None:
    seldom, often = a_plant(), a_plant()
    for plant in (seldom, often):
        plant.heat(500.0)
        plant.stir(30.0)
    seldom.advance(1200.0)
    for quarter in range(1, 4801):
        often.advance(quarter / 4.0)
    assert often.bath_c == pytest.approx(seldom.bath_c, abs=0.002)
    assert often.content_c == pytest.approx(seldom.content_c, abs=0.02)


def test_whole_seconds_are_the_same_in_one_go_or_one_by_one() -> None:
    once, stepped = a_plant(), a_plant()
    for plant in (once, stepped):
        plant.heat(500.0)
    once.advance(100.0)
    for second in range(1, 101):
        stepped.advance(float(second))
    assert once.bath_c == stepped.bath_c


def test_a_switch_between_two_seconds_counts_from_its_moment() -> None:
    plant = a_plant()
    plant.advance(0.4)
    plant.heat(500.0)
    plant.advance(2.1)
    assert plant.element_on_j == pytest.approx(500.0 * 1.7)


@pytest.mark.parametrize("now_s", [-1.0, 0.0, math.nan])
def test_time_never_runs_backwards(now_s: float) -> None:
    plant = a_plant()
    plant.heat(500.0)
    plant.advance(10.0)
    bath_c = plant.bath_c
    plant.advance(now_s)
    assert plant.bath_c == bath_c
    plant.advance(11.0)
    assert plant.element_on_j == pytest.approx(5500.0)


def test_rounding_of_the_callers_clock_is_no_step() -> None:
    plant = a_plant()
    plant.heat(500.0)
    plant.advance(1.0 + 1e-12)
    assert plant.element_on_j == 500.0


def test_the_stirrer_spins_up_and_down_with_its_lag() -> None:
    plant = a_plant()
    plant.stir(30.0)
    plant.advance(1.0)
    assert plant.rpm == pytest.approx(30.0 * (1.0 - math.exp(-1.0)))
    plant.advance(15.0)
    assert plant.rpm == 30.0
    plant.stir(0.0)
    plant.advance(30.0)
    assert plant.rpm == 0.0


def test_the_motor_has_a_most_speed() -> None:
    plant = a_plant(Kind.WATER)
    plant.stir(1e9)
    plant.advance(30.0)
    assert plant.rpm == REFERENCE.most_rpm


def test_stirring_couples_the_chocolate_better() -> None:
    still, stirred = a_plant(), a_plant()
    stirred.stir(30.0)
    for plant in (still, stirred):
        plant.heat(500.0)
        plant.advance(900.0)
    assert stirred.content_c > still.content_c + 2.0


def test_a_standing_stirrer_takes_nothing() -> None:
    assert a_plant().load_w == 0.0


def test_the_load_falls_as_chocolate_melts_and_rises_as_it_thickens() -> None:
    plant = a_plant()
    plant.stir(30.0)
    plant.advance(30.0)
    solid_w = plant.load_w
    molten = melted()
    molten_w = molten.load_w
    molten.heat(0.0)
    molten.swap_water(share=1.0, water_c=15.0)
    molten.advance(4500.0)
    assert solid_w > 5.0 * molten_w
    assert molten.load_w > 2.0 * molten_w


def test_the_stirrers_load_is_heat_in_the_bowl() -> None:
    plant = melted()
    before_j, load_w = plant.balance().put_in_j, plant.load_w
    plant.heat(0.0)
    plant.advance(3001.0)
    assert plant.balance().put_in_j - before_j == pytest.approx(load_w, rel=1e-6)


@pytest.mark.parametrize("kind", CHOCOLATES)
def test_every_chocolate_melts_and_forgets(kind: Kind) -> None:
    plant = melted(kind)
    assert plant.content_c > 45.0
    assert plant.form_v < 1e-6
    assert plant.unstable < 1e-6


def test_water_has_no_crystals_and_takes_more_heat() -> None:
    water, dark = a_plant(Kind.WATER), a_plant(Kind.DARK)
    for plant in (water, dark):
        plant.heat(500.0)
        plant.advance(1200.0)
    assert (water.form_v, water.unstable) == (0.0, 0.0)
    assert water.content_c < dark.content_c


def test_water_added_to_water_brings_no_crystals() -> None:
    plant = a_plant(Kind.WATER)
    plant.add_seed(0.5)
    plant.advance(60.0)
    assert plant.form_v == 0.0
    assert plant.mass_kg == 2.0


def test_a_probe_in_water_follows_faster_than_one_in_chocolate() -> None:
    plant = a_plant(room_c=20.0)
    plant.heat(500.0)
    plant.stir(30.0)
    plant.advance(1200.0)
    bath_behind_k = plant.bath_c - plant.bath_probe_c(0.0)
    bowl_behind_k = plant.content_c - plant.bowl_probe_c(0.0)
    # In a ramp a lag of tau is behind by tau times the slope: closed solution.
    early_bath_c, early_bowl_c = plant.bath_c, plant.content_c
    plant.advance(1201.0)
    assert bath_behind_k == pytest.approx(5.0 * (plant.bath_c - early_bath_c), rel=0.02)
    assert bowl_behind_k == pytest.approx(15.0 * (plant.content_c - early_bowl_c), rel=0.10)


def test_a_probe_a_while_ago_is_what_it_was_then() -> None:
    plant = a_plant()
    plant.heat(500.0)
    plant.advance(300.0)
    then_bath_c, then_bowl_c = plant.bath_probe_c(0.0), plant.bowl_probe_c(0.0)
    plant.advance(300.75)
    assert plant.bath_probe_c(0.75) == pytest.approx(then_bath_c, abs=1e-3)
    assert plant.bowl_probe_c(0.75) == pytest.approx(then_bowl_c, abs=1e-3)


def test_swapping_all_the_water_leaves_the_pot_warm() -> None:
    # What water is left at 4180 J/(kg K), and 400 J/K of pot: by hand.
    plant = melted()
    before_c, water_j_per_k = plant.bath_c, 4180.0 * plant.water_kg
    plant.swap_water(share=1.0, water_c=18.0)
    by_hand_c = (water_j_per_k * 18.0 + 400.0 * before_c) / (water_j_per_k + 400.0)
    assert plant.bath_c == pytest.approx(by_hand_c)


def test_seed_is_lumps_at_first_and_then_mixes_mass_heat_and_crystals() -> None:
    # All of it melts in the end, so that heat alone decides: by hand, 1590 J/(kg K) up to 40 °C,
    # 1670 above, and the latent heat of 0.78 of 35 % fat.
    alone = replace(
        REFERENCE,
        bath_bowl_w_per_k=0.0,
        bowl_mass_still_w_per_k=0.0,
        bowl_mass_stirred_w_per_k=0.0,
        mass_air_w_per_k=0.0,
    )
    plant = Plant(parameters=alone, kind=Kind.DARK, mass_kg=1.5, room_c=50.0)
    plant.room_c = 20.0
    plant.advance(0.0)
    plant.add_seed(0.25)
    assert (plant.mass_kg, plant.solid_kg) == (1.75, 0.25)
    assert plant.form_v == 0.0
    assert plant.content_c == pytest.approx(50.0)
    assert plant.memory == 1.0
    plant.advance(7200.0)
    assert plant.solid_kg == 0.0
    assert plant.mass_kg == pytest.approx(1.75)
    warm_j = 1.5 * (1590.0 * 40.0 + 1670.0 * 10.0)
    cold_j = 0.25 * (1590.0 * 20.0 - 0.78 * 0.35 * 157_000.0)
    mixed_j_per_kg = (warm_j + cold_j) / 1.75
    by_hand_c = 40.0 + (mixed_j_per_kg - 63_600.0) / 1670.0
    assert plant.content_c == pytest.approx(by_hand_c, abs=1e-6)


@pytest.mark.parametrize("room_c", [15.0, 20.0, 28.0])
def test_seed_is_as_solid_as_the_room_lets_it_be(room_c: float) -> None:
    plant = a_plant(room_c=room_c)
    assert plant.form_v == pytest.approx(crystals.solid(crystals.curves(DARK.shift_k), room_c)[1])


def test_a_boiling_bath_stays_at_boiling_and_falls_by_what_its_heat_turns_to_steam() -> None:
    # 2.26 MJ/kg at 100 °C (IAPWS); the walls lose a little besides.
    plant = a_plant(Kind.WATER)
    plant.heat(3000.0)
    plant.advance(900.0)
    water_kg = plant.water_kg
    plant.advance(1500.0)
    assert plant.bath_c == pytest.approx(100.0, abs=6.0)
    assert water_kg - plant.water_kg == pytest.approx(600.0 * 3000.0 / 2.26e6, rel=0.10)


def test_a_bath_that_has_boiled_dry_leaves_a_hot_element() -> None:
    plant = a_plant(Kind.WATER)
    plant.heat(3000.0)
    plant.advance(7200.0)
    assert plant.water_kg == pytest.approx(0.0, abs=0.01)
    assert plant.covered < 0.01
    assert plant.element_c > plant.bath_c + 500.0
    assert math.isfinite(plant.content_c)


def test_a_bowl_of_foil_is_followed_in_smaller_steps() -> None:
    # 90 W/K at 20 J/K: 4.5 of its temperature a second, more than a step of 1 s can bear.
    foil = replace(BRISK, bowl_j_per_k=20.0)
    plant = Plant(parameters=foil, kind=Kind.DARK, mass_kg=1.5, room_c=20.0)
    plant.advance(0.0)
    plant.stir(30.0)
    plant.swap_water(share=1.0, water_c=40.0)
    plant.advance(600.0)
    assert plant.content_c < plant.bowl_wall_c < plant.bath_c
    assert abs(plant.balance().gap_j) < 1e-3
