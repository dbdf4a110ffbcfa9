"""The bench's heat against worked examples by hand, with no crystal law in between.

Responsible for the balance alone: seed, swap, melt and top-up. The fat simply melts, with the
latent heat of the handbook; specific heats 1.59 and, above 40 °C, 1.67 kJ/(kg K), both from
Beckett, 4th ed., pp. 667-668. Each figure is worked out by hand from these.
"""

import pytest

from controller.ports import Kind
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant
from tests.helpers.adiabatic import ALONE, Bowl, all_melts
from tests.helpers.records import replace

# A bowl of 0.8 kg of steel at 0.5 kJ/(kg K) that stays as warm as its content.
STEEL = replace(ALONE, bowl_j_per_k=400.0, bowl_mass_still_w_per_k=20.0)


def melted(mass_kg: float, parameters: Parameters = ALONE, temp_c: float = 45.0) -> Bowl:
    """Melted dark chocolate; whatever comes into it later is at 20 °C."""
    plant = Plant(
        parameters=parameters, kind=Kind.DARK, mass_kg=mass_kg, room_c=temp_c, law=all_melts
    )
    plant.room_c = 20.0
    return Bowl(plant)


def test_a_quarter_of_seed_at_once_ends_above_form_v_s_melting_point() -> None:
    # The trap: 1.67 x 5 + 1.59 x (40 - T) = 0.25 (1.59 (T - 20) + 46), so T = 34.42 °C; form V
    # melts at 33.8 °C (Wille & Lutton 1966).
    bowl = melted(1.0)
    bowl.plant.add_seed(0.250)
    bowl.wait(3600.0)
    assert bowl.plant.solid_kg == 0.0
    assert bowl.plant.content_c == pytest.approx(34.42, abs=0.01)
    assert bowl.plant.content_c > 33.8


def test_the_seed_by_heat_balance_ends_at_work() -> None:
    # 21.07 kJ out of 1 kg of melt from 45 to 32 °C over 65.08 kJ into 1 kg of seed: 0.3238 kg.
    bowl = melted(1.0)
    bowl.plant.add_seed(0.3238)
    bowl.wait(3600.0)
    assert bowl.plant.content_c == pytest.approx(32.00, abs=0.01)


def test_staging_alone_changes_nothing_in_the_balance() -> None:
    # 215.8 g to 35.63 °C, then 107.9 g to 32.00 °C: the same end as in one go.
    bowl = melted(1.0)
    bowl.plant.add_seed(0.2158)
    bowl.wait(3600.0)
    assert bowl.plant.content_c == pytest.approx(35.63, abs=0.01)
    bowl.plant.add_seed(0.1079)
    bowl.wait(3600.0)
    assert bowl.plant.content_c == pytest.approx(32.00, abs=0.01)


def test_a_batch_of_a_given_total_is_split_by_the_same_balance() -> None:
    # 1.5 kg in all: 0.3669 kg of seed into 1.1331 kg of melt.
    bowl = melted(1.1331)
    bowl.plant.add_seed(0.3669)
    bowl.wait(3600.0)
    assert bowl.plant.content_c == pytest.approx(32.00, abs=0.01)
    assert bowl.plant.mass_kg == pytest.approx(1.5, abs=1e-9)


def test_a_steel_bowl_asks_for_more_seed() -> None:
    # (21.07 + 0.8 x 0.5 x 13) / 65.08 = 0.4037 kg per kg of melt.
    bowl = melted(1.0, STEEL)
    bowl.plant.add_seed(0.4037)
    bowl.wait(3600.0)
    assert bowl.plant.content_c == pytest.approx(32.00, abs=0.01)
    assert bowl.plant.bowl_wall_c == pytest.approx(bowl.plant.content_c, abs=1e-3)


def test_melting_1_5_kg_takes_129_2_kj() -> None:
    # 1.5 (1.59 x 20 + 1.67 x 5 + 46) = 129.2 kJ from 20 to 45 °C; nothing is lost here, so that
    # it is what was put in less what bath (3 kg x 4.18 + 0.4) and bowl (0.3 kJ/K) hold.
    sealed = Parameters(
        bath_bowl_w_per_k=70.0,
        bowl_mass_still_w_per_k=20.0,
        pot_room_w_per_k=0.0,
        water_surface_m2=0.0,
        mass_air_w_per_k=0.0,
    )
    bowl = Bowl(Plant(parameters=sealed, kind=Kind.DARK, mass_kg=1.5, room_c=20.0, law=all_melts))
    bowl.plant.heat(500.0)
    bowl.wait((129_225.0 + 25.0 * (12_940.0 + 300.0)) / 500.0)
    bowl.plant.heat(0.0)
    bowl.wait(10_000.0)
    assert bowl.plant.form_v < 1e-9
    assert bowl.plant.content_c == pytest.approx(45.0, abs=0.005)
    assert bowl.plant.bath_c == pytest.approx(45.0, abs=0.005)


@pytest.mark.parametrize("how", ["swap", "pour"])
def test_cold_water_cools_the_bath_by_mixing(how: str) -> None:
    # 3 kg from 50 to 28 °C with water of 12 °C: swap 3 x 22 / 38 = 1.737 kg, or add 3 x 22 / 16 =
    # 4.125 kg; the pot's own heat left out.
    large = replace(ALONE, pot_j_per_k=0.0, pot_holds=3.0, water_kg=3.0)
    plant = Plant(parameters=large, kind=Kind.DARK, mass_kg=1.0, room_c=50.0)
    plant.advance(0.0)
    if how == "swap":
        plant.swap_water(share=1.737 / 3.0, water_c=12.0)
        assert plant.water_kg == pytest.approx(3.0)
    else:
        plant.pour_water(mass_kg=4.125, water_c=12.0)
        assert plant.water_kg == pytest.approx(7.125)
    assert plant.bath_c == pytest.approx(28.0, abs=0.005)


def test_the_most_top_up_stays_below_its_limit() -> None:
    # 1 kg at 31.0 °C with melt at 40 °C, not above 32.2 °C: 1.2 / 7.8 = 0.1538 kg.
    bowl = melted(1.0, temp_c=31.0)
    bowl.plant.top_up(mass_kg=0.1538, content_c=40.0)
    assert bowl.plant.content_c == pytest.approx(32.2, abs=1e-3)
    bowl.wait(600.0)
    assert bowl.plant.content_c == pytest.approx(32.2, abs=1e-3)
