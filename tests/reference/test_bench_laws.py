"""The bench's material laws against handbooks, standards and a reference library.

Responsible for flow, vapour, specific heat and the thermometer's step; not for the plant.
"""

import psychrolib
import pytest

from controller.ports import Kind
from hardware.bench import flow, moist
from hardware.bench.attach import attach
from hardware.bench.machines import BRISK, REFERENCE
from hardware.bench.parameters import (
    DARK,
    MILK,
    WATER,
    WHITE,
    Filling,
    Parameters,
)


@pytest.fixture
def _si_units() -> None:
    """Let the reference library speak SI."""
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(
    ("yield_pa", "plastic_pa_s", "stress_pa"),
    [
        # sqrt(tau) = sqrt(tau0) + sqrt(eta rate), IOCCC 1973; at 20 1/s by hand for the published
        # rheometer examples at 40 °C: milk, milk, dark.
        (9.3, 1.42, 70.204),
        (14.3, 1.86, 97.628),
        (29.0, 6.06, 268.771),
    ],
)
def test_stress_follows_the_casson_law(
    yield_pa: float, plastic_pa_s: float, stress_pa: float
) -> None:
    assert flow.casson_pa(yield_pa, plastic_pa_s, 20.0) == pytest.approx(stress_pa, abs=0.001)


def test_at_rest_only_the_yield_value_is_left() -> None:
    assert flow.casson_pa(29.0, 6.06, 0.0) == pytest.approx(29.0)


def test_fast_shear_leaves_only_the_plastic_viscosity() -> None:
    # The limit of the Casson law: stress over rate tends to eta.
    assert flow.casson_pa(29.0, 6.06, 1e9) / 1e9 == pytest.approx(6.06, rel=1e-3)


@pytest.mark.parametrize("crystals", [0.02, 0.03])
def test_tempered_milk_chocolate_is_about_three_times_as_thick(crystals: float) -> None:
    # J. Rheol. 62:1187 (2018): 3.0 +- 1 times the untempered viscosity at 20 1/s; tempered means
    # 1 to 3 % of the fat solid (from memory, not checked) and worked at 30 to 31 °C.
    thick = flow.thickening(30.5, crystals)
    tempered = flow.casson_pa(MILK.yield_pa * thick, MILK.plastic_pa_s * thick, 20.0)
    untempered = flow.casson_pa(MILK.yield_pa, MILK.plastic_pa_s, 20.0)
    assert tempered / untempered == pytest.approx(3.0, abs=1.0)


def test_the_published_tempered_flow_curve_is_thicker_by_what_the_law_says() -> None:
    # The same paper: tempered milk, 30 % fat, is Bingham with 36.1 Pa and 8.7 Pa s.
    bingham_pa = 36.1 + 8.7 * 20.0
    untempered_pa = flow.casson_pa(MILK.yield_pa, MILK.plastic_pa_s, 20.0)
    assert bingham_pa / untempered_pa == pytest.approx(flow.thickening(30.5, 0.02), abs=1.0)


def test_a_melt_at_40_c_is_the_reference() -> None:
    assert flow.thickening(40.0, 0.0) == pytest.approx(1.0)


def test_beyond_a_few_percent_the_paddle_cuts_a_channel() -> None:
    assert flow.thickening(31.5, 0.78) == flow.thickening(31.5, flow.MOST_CRYSTALS)


def test_stirring_twice_as_fast_takes_between_two_and_four_times_the_power() -> None:
    # Casson: a pure yield value gives 2, a pure viscosity 4.
    for filling in (DARK, MILK, WHITE):
        ratio = flow.unit_load_w(filling, 25.0, 12.5) / flow.unit_load_w(filling, 12.5, 12.5)
        assert 2.0 < ratio < 4.0
    water = flow.unit_load_w(WATER, 25.0, 12.5) / flow.unit_load_w(WATER, 12.5, 12.5)
    assert water == pytest.approx(4.0)


@pytest.mark.parametrize(("filling", "crystals"), [(DARK, 0.02), (MILK, 0.02), (WATER, 0.0)])
def test_the_nominal_load_is_met_at_the_working_point(filling: Filling, crystals: float) -> None:
    load_w = 1.5 * flow.unit_load_w(filling, 12.5, 12.5) * flow.thickening(31.5, crystals)
    assert load_w == pytest.approx(filling.stirrer_w)


@pytest.mark.parametrize(("temp_c", "kpa"), [(20.0, 2.339), (50.0, 12.351), (60.0, 19.946)])
def test_saturation_pressure_agrees_with_iapws(temp_c: float, kpa: float) -> None:
    # IAPWS saturation pressures.
    assert moist.vapour_kpa(temp_c) == pytest.approx(kpa, rel=0.005)


@pytest.mark.usefixtures("_si_units")
@pytest.mark.parametrize("temp_c", [5.0, 15.0, 20.0, 28.0, 35.0, 45.0, 60.0])
def test_saturation_pressure_agrees_with_psychrolib(temp_c: float) -> None:
    # psychrolib 2.5, ASHRAE Fundamentals formulation.
    assert moist.vapour_kpa(temp_c) == pytest.approx(
        psychrolib.GetSatVapPres(temp_c) / 1000.0, rel=0.005
    )


@pytest.mark.usefixtures("_si_units")
@pytest.mark.parametrize(
    ("room_c", "humidity", "dew_c"), [(21.0, 0.55, 11.62), (20.0, 0.50, 9.26), (24.0, 0.65, 17.02)]
)
def test_a_bath_at_the_dew_point_neither_steams_nor_sweats(
    room_c: float, humidity: float, dew_c: float
) -> None:
    # Dew points by the Magnus form of Alduchov & Eskridge (1996), and by psychrolib within 0.1 K.
    air_kpa = humidity * moist.vapour_kpa(room_c)
    by_library_c = psychrolib.GetTDewPointFromRelHum(room_c, humidity)
    kpa_w = moist.per_kpa_w(1.0, 0.0)
    assert dew_c == pytest.approx(by_library_c, abs=0.1)
    assert moist.evaporation_w(dew_c - 0.01, air_kpa, kpa_w) < 0.0
    assert moist.evaporation_w(dew_c + 0.01, air_kpa, kpa_w) > 0.0


def test_an_open_bath_at_60_c_loses_what_the_pool_form_says() -> None:
    # (89 + 78.2 v)(pw - pa) W/m², the pool form of the ASHRAE handbook (from memory, not
    # checked), with IAPWS pressures: still air, 0.015 m², room 20 °C at 50 %.
    by_hand_w = 0.015 * 89.0 * (19.946 - 0.5 * 2.339)
    air_kpa = 0.5 * moist.vapour_kpa(20.0)
    still_w = moist.evaporation_w(60.0, air_kpa, moist.per_kpa_w(0.015, 0.0))
    assert still_w == pytest.approx(by_hand_w, rel=0.005)
    draught_w = moist.evaporation_w(60.0, air_kpa, moist.per_kpa_w(0.015, 1.0))
    assert draught_w / still_w == pytest.approx((89.0 + 78.2) / 89.0)


def test_a_bath_can_hardly_be_heated_beyond_boiling() -> None:
    # IAPWS saturation: water boils at 99.97 °C at sea level.
    kpa_w = moist.per_kpa_w(0.015, 0.0)
    at_w = moist.evaporation_w(99.97, 1.2, kpa_w)
    assert moist.evaporation_w(100.97, 1.2, kpa_w) - at_w > REFERENCE.heater_w


@pytest.mark.parametrize(("parameters", "w_per_k"), [(REFERENCE, 6.2), (BRISK, 15.0)])
def test_bath_and_chocolate_are_coupled_as_the_machine_says(
    parameters: Parameters, w_per_k: float
) -> None:
    # Own engineering values: the slow end of home-built machines, and a good one.
    both = 1.0 / parameters.bath_bowl_w_per_k + 1.0 / parameters.bowl_mass_stirred_w_per_k
    assert 1.0 / both == pytest.approx(w_per_k, abs=0.1)


@pytest.mark.parametrize(
    ("filling", "low", "high"),
    [(DARK, 0.26, 0.43), (MILK, 0.26, 0.36), (WHITE, 0.30, 0.36)],
)
def test_fat_contents_lie_in_the_published_ranges(
    filling: Filling, low: float, high: float
) -> None:
    # Banks 2012 (dark, milk); white from memory, not checked.
    assert low <= filling.fat <= high


def test_latent_heats_agree_with_the_handbook() -> None:
    # Chevalley 1970 in Beckett, 4th ed., p. 668: dark 46, milk 44 kJ/kg, for what is solid at
    # 20 °C; the model has 0.78 of dark's fat solid there. Within what recipes differ by.
    assert 0.78 * DARK.latent_j_per_kg == pytest.approx(46_000.0, rel=0.10)
    assert 0.78 * MILK.latent_j_per_kg == pytest.approx(44_000.0, rel=0.20)


def test_readings_are_whole_steps_of_a_12_bit_thermometer() -> None:
    # 1-wire digital thermometer, 12 bit: 0.0625 K step, 0.75 s conversion (data sheet).
    bench = attach(
        machine="reference",
        seed=1,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset(),
    )
    bench.devices.heater.drive(on=True, now_s=0.0)
    readings = [bench.devices.bath.read(float(second)) for second in range(0, 600, 7)]
    assert all((reading.value / 0.0625).is_integer() for reading in readings)
    assert {reading.age_s for reading in readings} == {0.75}
    assert len({reading.value for reading in readings}) > 50
