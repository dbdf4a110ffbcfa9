"""The bench's books of heat and mass over whole runs, and an audit of them from outside.

Responsible for nothing being made or lost; not for how fast it moves.
"""

import math
from collections.abc import Iterator

import pytest

from controller.ports import Kind
from hardware.bench import moist
from hardware.bench.laws import LAWS
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant

CLOSES_TO = 1e-6  # of the heat put in: the project's own bar
SOLID_J_PER_KG = 0.35 * 157_000.0  # of dark chocolate per fraction of its fat: as the parameters'
KINDS = [Kind.DARK, Kind.MILK, Kind.WHITE, Kind.WATER]


def a_plant(kind: Kind = Kind.DARK, law: str = "pools") -> Plant:
    """1.3 kg in the reference machine, at moment 0."""
    plant = Plant(parameters=Parameters(), kind=kind, mass_kg=1.3, room_c=20.0, law=LAWS[law])
    plant.advance(0.0)
    return plant


def whole_run(plant: Plant) -> Iterator[float]:
    """Melt, swap, seed, rewarm, hold, and all that hands can do besides; moments in s."""
    hands = {
        1800: lambda: plant.stir(30.0),
        3000: lambda: plant.swap_water(share=0.8, water_c=13.0),
        3300: lambda: plant.add_seed(0.15),
        3420: lambda: plant.add_seed(0.05),
        4500: lambda: plant.stir(60.0),
        5000: lambda: plant.open_lid(open_=True),
        5100: lambda: plant.top_up(mass_kg=0.1, content_c=40.0),
        5300: lambda: plant.open_lid(open_=False),
        5400: lambda: plant.lift_bowl(out=True),
        5700: lambda: plant.lift_bowl(out=False),
        6000: lambda: plant.pour_water(mass_kg=0.4, water_c=60.0),
        6300: lambda: plant.spill(share=0.3),
        6600: lambda: plant.splash(0.004),
        6900: lambda: plant.stir(0.0),
    }
    for second in range(0, 7800, 10):
        if second in hands:
            hands[second]()
        limit_c = 58.0 if second < 3000 else 33.0
        plant.heat(500.0 if plant.bath_c < limit_c else 0.0)
        plant.advance(second + 10.0)
        yield second + 10.0


@pytest.mark.parametrize("law", sorted(LAWS))
@pytest.mark.parametrize("kind", KINDS)
def test_heat_closes_over_a_whole_run_at_every_moment(kind: Kind, law: str) -> None:
    plant = a_plant(kind, law)
    for moment_s in whole_run(plant):
        balance = plant.balance()
        assert abs(balance.gap_j) <= CLOSES_TO * max(1.0, balance.put_in_j), moment_s
    assert plant.balance().put_in_j > 800_000.0


@pytest.mark.parametrize("law", sorted(LAWS))
@pytest.mark.parametrize("kind", KINDS)
def test_mass_closes_over_a_whole_run_at_every_moment(kind: Kind, law: str) -> None:
    plant = a_plant(kind, law)
    for moment_s in whole_run(plant):
        assert abs(plant.mass().gap_kg) < 1e-12, moment_s
    # By hand: what went into bowl and bath, less what was spilled and what became steam.
    if kind is not Kind.WATER:
        assert plant.mass_kg == pytest.approx(1.3 + 0.15 + 0.05 + 0.1 + 0.004, abs=1e-12)
    assert plant.mass().evaporated_kg > 0.02


def stored_j(plant: Plant) -> float:
    """Heat in water, pot, bowl and dark chocolate with no lumps, from what can be seen."""
    content_j_per_kg = 1590.0 * plant.content_c + 80.0 * max(0.0, plant.content_c - 40.0)
    content_j_per_kg -= SOLID_J_PER_KG * (plant.form_v + plant.unstable)
    bath_j_per_k = 4180.0 * plant.water_kg + 400.0
    return (
        bath_j_per_k * plant.bath_c + 300.0 * plant.bowl_wall_c + plant.mass_kg * content_j_per_kg
    )


@pytest.mark.parametrize("law", sorted(LAWS))
def test_the_books_say_what_an_auditor_finds_in_bath_bowl_and_content(law: str) -> None:
    # Specific heats: Beckett, 4th ed., pp. 667-668; latent heat: Chevalley 1970, the same, p. 668.
    plant = a_plant(law=law)
    at_first_j = stored_j(plant)
    told_j = 0.0
    for second in range(0, 5400, 10):
        if second == 1800:
            plant.stir(30.0)
        if second == 3000:
            plant.swap_water(share=0.8, water_c=13.0)
        if second == 3300:
            plant.add_seed(0.2)
        power_w = 500.0 if second < 2400 else 0.0
        plant.heat(power_w)
        told_j += 10.0 * power_w
        plant.advance(second + 10.0)
    balance = plant.balance()
    assert plant.solid_kg == 0.0
    assert plant.element_on_j == pytest.approx(told_j, rel=1e-12)
    # The element has been off for longer than it holds any heat.
    assert balance.stored_j == pytest.approx(stored_j(plant) - at_first_j, abs=0.01)


def test_the_room_gets_what_an_auditor_works_out_from_the_temperatures() -> None:
    # Pot, chocolate's surface and steam (the pool form, see test_bench_laws), summed by the
    # trapezoid rule once a second; the steam takes its water's warmth along.
    plant = a_plant()
    plant.stir(30.0)
    room_kpa = 0.5 * moist.vapour_kpa(20.0)

    def lost_w() -> float:
        steam_w = 0.015 * 89.0 * (moist.vapour_kpa(plant.bath_c) - room_kpa)
        steam_kg = steam_w / (2.501e6 - 2380.0 * plant.bath_c)
        return (
            2.0 * (plant.bath_c - 20.0)
            + 0.33 * (plant.content_c - 20.0)
            + steam_w
            + steam_kg * 4180.0 * plant.bath_c
        )

    total_j, before_w = 0.0, lost_w()
    for second in range(1, 3601):
        plant.heat(500.0 if plant.bath_c < 60.0 else 0.0)
        plant.advance(float(second))
        after_w = lost_w()
        total_j += 0.5 * (before_w + after_w)
        before_w = after_w
    assert plant.balance().lost_j == pytest.approx(total_j, rel=1e-5)


def test_the_water_that_is_missing_is_the_steam_that_left() -> None:
    # 2382 kJ/kg at 50 °C (IAPWS): a bath held there loses its pool form's watts over that.
    plant = a_plant(Kind.WATER)
    plant.swap_water(share=1.0, water_c=53.2)
    plant.advance(600.0)
    before_kg, before_s = plant.water_kg, 600.0
    warm_c = []
    for second in range(600, 4200):
        plant.heat(500.0 if plant.bath_c < 50.0 else 0.0)
        plant.advance(second + 1.0)
        warm_c.append(plant.bath_c)
    assert math.fsum(warm_c) / len(warm_c) == pytest.approx(50.0, abs=0.5)
    steam_w = 0.015 * 89.0 * (12.351 - 0.5 * 2.339)
    by_hand_kg = steam_w / 2.382e6 * (4200.0 - before_s)
    assert before_kg - plant.water_kg == pytest.approx(by_hand_kg, rel=0.03)


@pytest.mark.parametrize("law", sorted(LAWS))
def test_what_is_mixed_in_dilutes_every_crystal_alike(law: str) -> None:
    # By hand: 0.3 kg of clear melt into 1.3 kg leaves 1.3 / 1.6 of each fraction.
    plant = a_plant(law=law)
    plant.stir(30.0)
    for power_w, until_s in ((500.0, 2700.0), (0.0, 2701.0)):
        plant.heat(power_w)
        plant.advance(until_s)
    plant.stir(0.0)
    plant.swap_water(share=1.0, water_c=4.0)
    while plant.content_c > 23.0:
        until_s += 60.0
        plant.advance(until_s)
    unstable, form_v = plant.unstable, plant.form_v
    assert unstable > 1e-3
    assert form_v > 1e-4
    plant.top_up(mass_kg=0.3, content_c=35.0)
    assert plant.unstable == pytest.approx(unstable * 1.3 / 1.6, rel=1e-12)
    assert plant.form_v == pytest.approx(form_v * 1.3 / 1.6, rel=1e-12)
