"""The bench's conductances and its evaporation against the spread that textbooks state.

Responsible for what lies between two bodies; not for what they are made of.
"""

import psychrolib
import pytest

from hardware.bench import moist
from hardware.bench.machines import BRISK, REFERENCE
from hardware.bench.parameters import WATER_J_PER_KG_K, Parameters

NORMAL_PA = 101_325.0
# Sizes behind the lumped figures, own engineering values, not published: the bowl's wall under
# water, the outside of a pot of 4 L with its lid, the free surface of 1.5 kg of chocolate.
BOWL_M2 = 0.06
POT_M2 = 0.14
CONTENT_M2 = 0.03
# Ranges of film coefficients, W/(m² K): Çengel, notes on convection: free convection of gases 2 to
# 25; of liquids 50 to 1000 (the printed 50 to 100 is taken for a slip: Incropera, table 1.1, has
# 1000, from memory, not checked). A brisk machine's bath moves: forced, 50 to 20 000.
GAS_FREE = (2.0, 25.0)
LIQUID_FREE = (50.0, 1000.0)
LIQUID_FORCED = (50.0, 20_000.0)
CHOCOLATE_W_PER_M_K = 0.26  # Beckett, 4th ed., at 35 to 40 °C


@pytest.fixture(autouse=True)
def _si_units() -> None:
    """Let the reference library speak SI."""
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("parameters", [REFERENCE, BRISK], ids=["reference", "brisk"])
def test_the_pot_loses_heat_to_the_room_as_free_convection_and_radiation_do(
    parameters: Parameters,
) -> None:
    low, high = GAS_FREE
    assert low < parameters.pot_room_w_per_k / POT_M2 < high
    assert low < parameters.mass_air_w_per_k / CONTENT_M2 < high


@pytest.mark.parametrize(
    ("parameters", "spread"),
    [(REFERENCE, LIQUID_FREE), (BRISK, LIQUID_FORCED)],
    ids=["reference", "brisk"],
)
def test_the_bath_warms_the_bowl_as_its_water_can(
    parameters: Parameters, spread: tuple[float, float]
) -> None:
    assert spread[0] < parameters.bath_bowl_w_per_k / BOWL_M2 < spread[1]


@pytest.mark.parametrize("parameters", [REFERENCE, BRISK], ids=["reference", "brisk"])
def test_the_chocolate_s_film_is_millimetres_thick_and_stirring_thins_it(
    parameters: Parameters,
) -> None:
    # Conduction through still chocolate: thickness = conductivity x area / conductance. A paddle
    # that doesn't touch leaves 1 to 3 mm; at rest it is 3 to 10 mm (own engineering values).
    stirred_mm, still_mm = (
        1000.0 * CHOCOLATE_W_PER_M_K * BOWL_M2 / w_per_k
        for w_per_k in (parameters.bowl_mass_stirred_w_per_k, parameters.bowl_mass_still_w_per_k)
    )
    assert 0.5 < stirred_mm < 3.0 < still_mm * 1.2
    assert still_mm < 10.0


@pytest.mark.parametrize("bath_c", [30.0, 40.0, 50.0, 60.0, 70.0])
def test_still_water_steams_as_a_second_published_law_says(bath_c: float) -> None:
    # Shah, ASHRAE Trans. 120 (2014), undisturbed water under still air: E = 35 rho_w (rho_r -
    # rho_w)^(1/3) (W_w - W_r) in kg/(m² h), densities as dry air per volume (the formula from
    # memory, not checked). How far apart two such laws may lie is an own engineering value.
    room_c, humidity = 20.0, 0.5
    at_water = psychrolib.GetSatHumRatio(bath_c, NORMAL_PA)
    in_room = psychrolib.GetHumRatioFromRelHum(room_c, humidity, NORMAL_PA)
    over_water = 1.0 / psychrolib.GetMoistAirVolume(bath_c, at_water, NORMAL_PA)
    over_room = 1.0 / psychrolib.GetMoistAirVolume(room_c, in_room, NORMAL_PA)
    lifted = (over_room - over_water) ** (1.0 / 3.0)
    kg_per_m2_h = 35.0 * over_water * lifted * (at_water - in_room)
    by_shah_w = kg_per_m2_h / 3600.0 * 2.382e6  # IAPWS, at 50 °C; 2 % off at the ends
    air_kpa = humidity * moist.vapour_kpa(room_c)
    assert moist.evaporation_w(bath_c, air_kpa, moist.per_kpa_w(1.0, 0.0)) == pytest.approx(
        by_shah_w, rel=0.30
    )


@pytest.mark.parametrize("j_per_kg_k", [4184.0, 4181.0])
def test_water_holds_the_heat_that_iapws_says(j_per_kg_k: float) -> None:
    # IAPWS: 4184 J/(kg K) at 20 °C, 4181 at 50 °C.
    assert pytest.approx(j_per_kg_k, rel=1.1e-3) == WATER_J_PER_KG_K


@pytest.mark.parametrize(("temp_c", "kj_per_kg"), [(0.0, 2501.0), (50.0, 2382.0), (100.0, 2256.5)])
def test_vapour_carries_the_latent_heat_that_iapws_says(temp_c: float, kj_per_kg: float) -> None:
    # IAPWS: 2382 kJ/kg at 50 °C; 2501 at 0 and 2256.5 at 100 °C from memory, not checked.
    assert moist.vapour_j_per_kg(temp_c) == pytest.approx(1000.0 * kj_per_kg, rel=4e-3)
