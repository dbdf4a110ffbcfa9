"""What the plan computes, against worked examples by hand and against the world outside.

Worked by hand from specific heats 1.59 and, above 40 °C, 1.67 kJ/(kg K), latent heat 46 kJ/kg,
1300 and 1200 kg/m3 (Beckett, 4th ed., pp. 667-668; 3rd ed.), water 4.18 kJ/(kg K), ice 334 kJ/kg.
"""

import math

import psychrolib
import pytest

from controller.core.profile import Kind
from controller.planning.air import boiling_c, dew_point_c, standard_hpa
from controller.planning.amounts import (
    Use,
    batch_kg,
    best_order,
    coating,
    ellipsoid_m3,
    peak_kg,
    shells,
)
from controller.planning.heat import latent_j_per_kg, melting_j, mixed_c, seed_kg, top_up_kg
from controller.planning.water import added_kg, ice_in_kg, ice_kg, swapped_kg

LATENT = latent_j_per_kg(Kind.DARK, None, 20.0)
BATH_J_PER_K = 3.0 * 4180.0  # the water alone


def test_the_latent_heat_is_the_handbook_s_at_20_degrees_and_less_in_warm_chocolate() -> None:
    assert latent_j_per_kg(Kind.DARK, None, 20.0) == 46_000.0  # Chevalley 1970, in Beckett
    assert latent_j_per_kg(Kind.MILK, None, 15.0) == 44_000.0
    assert latent_j_per_kg(Kind.DARK, 0.28, 20.0) == pytest.approx(0.8 * 46_000.0)
    assert latent_j_per_kg(Kind.DARK, None, 28.0) < 0.8 * 46_000.0


def test_seed_by_heat_balance() -> None:
    # 1.0 kg of melt, 45 to 32 °C: 1.67 x 5 + 1.59 x 8 = 21.07 kJ; seed 1.59 x 12 + 46 = 65.08;
    # 0.3238 kg.
    of = {"melt_c": 45.0, "work_c": 32.0, "seed_c": 20.0, "latent": LATENT}
    assert seed_kg(1.3238, **of) == pytest.approx(0.3238, abs=1e-4)
    assert seed_kg(1.5, **of) == pytest.approx(0.3669, abs=1e-4)


def test_seed_that_cools_a_steel_bowl_too() -> None:
    # A bowl of 0.8 kg of steel, 0.5 kJ/(kg K): (21.07 + 0.4 x 13) / 65.08 = 0.4037 for 1 kg.
    found = seed_kg(
        1.4037, melt_c=45.0, work_c=32.0, seed_c=20.0, latent=LATENT, bowl_j_per_k=400.0
    )
    assert found == pytest.approx(0.4037, abs=1e-4)


def test_a_quarter_at_once_ends_above_the_melting_point_of_form_v() -> None:
    # The trap: 250 g into 1 kg at 45 °C, 34.42 °C; form V melts at 33.8 (Wille & Lutton 1966).
    ends_c = mixed_c(1.0, 45.0, seed_kg=0.25, seed_c=20.0, latent=LATENT)
    assert ends_c == pytest.approx(34.42, abs=0.005)


def test_two_portions_end_where_one_does() -> None:
    # 215.8 g bring it to 35.63 °C, another 107.9 g to 32.00; 323.8 g in one go to 32.00 as well.
    with_seed = {"seed_c": 20.0, "latent": LATENT}
    half_way_c = mixed_c(1.0, 45.0, seed_kg=0.2158, **with_seed)
    assert half_way_c == pytest.approx(35.63, abs=0.005)
    assert mixed_c(1.2158, half_way_c, seed_kg=0.1079, **with_seed) == pytest.approx(32.0, abs=0.01)
    assert mixed_c(1.0, 45.0, seed_kg=0.3238, **with_seed) == pytest.approx(32.0, abs=0.01)


def test_a_little_seed_leaves_it_above_40_degrees() -> None:
    # 20 g into 1 kg at 45 °C: (1.67 x 5 + 1.59 x 40 + 0.02 (1.59 x 20 - 46) + 1.02 x 0.08 x 40)
    # / (1.02 x 1.67) = 43.9 °C
    heat = 1.67 * 5 + 1.59 * 40 + 0.02 * (1.59 * 20 - 46) + 1.02 * 0.08 * 40
    ends_c = mixed_c(1.0, 45.0, seed_kg=0.02, seed_c=20.0, latent=LATENT)
    assert ends_c == pytest.approx(heat / (1.02 * 1.67), abs=1e-6)


def test_melting_1_5_kg_takes_129_2_kj() -> None:
    # 1.5 (1.59 x 20 + 1.67 x 5 + 46) = 129.2 kJ from 20 to 45 °C.
    assert melting_j(1.5, 20.0, 45.0, LATENT) == pytest.approx(129_225.0)


def test_the_most_top_up() -> None:
    # 1.0 kg at 31.0 °C with melt of 40 °C, not above 32.2 °C: 1.2 / 7.8 = 0.1538 kg.
    most_kg = top_up_kg(1.0, bowl_c=31.0, melt_c=40.0, most_c=32.2)
    assert most_kg == pytest.approx(0.1538, abs=5e-5)
    assert top_up_kg(1.0, bowl_c=32.5, melt_c=40.0, most_c=32.2) == 0.0


def test_cold_water() -> None:
    # 3 kg from 50 to 28 °C with water of 12 °C: add 3 x 22 / 16 = 4.125 or swap 3 x 22 / 38 = 1.737
    # kg, or 3 x 4.18 x 22 / (334 + 4.18 x 28) = 0.612 kg of ice.
    down = {"from_c": 50.0, "to_c": 28.0}
    assert added_kg(BATH_J_PER_K, water_c=12.0, **down) == pytest.approx(4.125)
    assert swapped_kg(BATH_J_PER_K, water_c=12.0, **down) == pytest.approx(1.737, abs=5e-4)
    assert ice_kg(BATH_J_PER_K, **down) == pytest.approx(0.612, abs=5e-4)


def test_no_water_cools_below_itself_and_a_cold_bath_needs_none() -> None:
    assert math.isinf(added_kg(BATH_J_PER_K, from_c=50.0, to_c=20.0, water_c=20.0))
    assert math.isinf(swapped_kg(BATH_J_PER_K, from_c=50.0, to_c=20.0, water_c=21.0))
    cold = {"from_c": 20.0, "to_c": 28.0}
    assert added_kg(BATH_J_PER_K, water_c=12.0, **cold) == 0.0
    assert swapped_kg(BATH_J_PER_K, water_c=12.0, **cold) == 0.0
    assert ice_kg(BATH_J_PER_K, **cold) == 0.0


def test_ice_makes_tap_water_as_cold_as_is_asked() -> None:
    # x kg of ice in 1 kg in all, tap 20 to 10 °C: x (334 + 41.8) = (1 - x) 41.8, x = 0.1001 kg.
    assert ice_in_kg(1.0, tap_c=20.0, to_c=10.0) == pytest.approx(0.1001, abs=5e-5)
    assert ice_in_kg(1.0, tap_c=9.0, to_c=10.0) == 0.0


def test_a_coating() -> None:
    # 60 centres of 10 g, chocolate 35 % of the finished piece: 600 x 0.35 / 0.65 = 323.1 g.
    found = coating("centres", centre_kg=0.010, share=0.35, count=60, left_kg=0.0)
    assert found.takes_kg == pytest.approx(0.3231, abs=5e-5)
    assert found.needs_kg == found.takes_kg


def sphere(count: int = 1, at_once: int = 1) -> Use:
    """120 mm, wall 3 mm."""
    cavity_m3, inside_m3 = ellipsoid_m3(0.120, 0.120), ellipsoid_m3(0.114, 0.114)
    return shells("s", cavity_m3=cavity_m3, inside_m3=inside_m3, count=count, at_once=at_once)


def test_a_shell_and_what_it_takes_to_fill_its_mould() -> None:
    # 904.8 cm3 less 775.7, by 1.3 g/cm3: 167.8 g; to fill and pour out, 904.8 x 1.2 = 1086 g.
    assert sphere().takes_kg == pytest.approx(0.1678, abs=5e-5)
    assert sphere().needs_kg == pytest.approx(1.086, abs=5e-4)


def test_the_second_shell_is_filled_from_what_the_first_has_left() -> None:
    one, three, both = sphere(), sphere(3), sphere(3, at_once=2)
    assert three.needs_kg == pytest.approx(one.needs_kg + 2.0 * one.takes_kg)
    assert both.needs_kg == pytest.approx(2.0 * one.needs_kg)
    assert both.takes_kg == three.takes_kg


def test_the_order_of_use_decides_the_peak() -> None:
    # The sphere first: 1.086 kg are enough for both. Dipped first, they are gone when it comes.
    dipped = coating("centres", centre_kg=0.010, share=0.35, count=60, left_kg=0.2)
    assert peak_kg([sphere(), dipped]) == pytest.approx(1.086, abs=5e-4)
    assert peak_kg([dipped, sphere()]) == pytest.approx(0.3231 + 1.086, abs=1e-3)
    assert best_order([dipped, sphere()]) == (sphere(), dipped)
    few = coating("few", centre_kg=0.010, share=0.35, count=10, left_kg=0.2)
    assert best_order([few, sphere()]) == (sphere(), few)  # though it takes more
    # 5 % of 0.491 kg is lost: 1.086 + 0.0245, rounded up.
    assert batch_kg([sphere(), dipped]) == pytest.approx(1.12)


@pytest.mark.parametrize(
    ("air_c", "humidity", "dew_c"), [(21.0, 0.55, 11.62), (20.0, 0.50, 9.26), (24.0, 0.65, 17.02)]
)
def test_the_dew_point_by_magnus(air_c: float, humidity: float, dew_c: float) -> None:
    # Alduchov & Eskridge, J. Appl. Meteor. 35:601 (1996): 6.1094, 17.625, 243.04; by hand.
    assert dew_point_c(air_c, humidity) == pytest.approx(dew_c, abs=0.005)


@pytest.mark.parametrize("air_c", [10.0, 20.0, 27.0, 35.0])
@pytest.mark.parametrize("humidity", [0.5, 0.72, 0.95])  # below 0 °C it gives the frost point
def test_the_dew_point_by_another_library(air_c: float, humidity: float) -> None:
    # psychrolib: ASHRAE Handbook of Fundamentals 2017, chapter 1.
    psychrolib.SetUnitSystem(psychrolib.SI)
    other_c = psychrolib.GetTDewPointFromRelHum(air_c, humidity)
    assert dew_point_c(air_c, humidity) == pytest.approx(other_c, abs=0.1)


@pytest.mark.parametrize("altitude_m", [-300.0, 0.0, 850.0, 3000.0])
def test_the_pressure_at_an_altitude_by_another_library(altitude_m: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    other_hpa = psychrolib.GetStandardAtmPressure(altitude_m) / 100.0
    assert standard_hpa(altitude_m) == pytest.approx(other_hpa, rel=1e-5)


@pytest.mark.parametrize(
    ("altitude_m", "boils_c"),
    [(0, 99.97), (500, 98.31), (1000, 96.65), (1500, 94.98), (2000, 93.32), (3000, 89.97)],
)
def test_where_water_boils_at_an_altitude(altitude_m: int, boils_c: float) -> None:
    # IAPWS's saturation line with the standard atmosphere.
    assert boiling_c(standard_hpa(altitude_m)) == pytest.approx(boils_c, abs=0.006)


@pytest.mark.parametrize(("pressure_hpa", "boils_k"), [(1e3, 372.755919), (1e4, 453.035632)])
def test_where_water_boils_at_a_pressure(pressure_hpa: float, boils_k: float) -> None:
    # IAPWS-IF97, table 36, the values for checking a program (from memory, not checked).
    assert boiling_c(pressure_hpa) == pytest.approx(boils_k - 273.15, abs=1e-6)
