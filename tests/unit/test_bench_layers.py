"""A bath in two layers: part of its water lies apart and hardly mixes."""

import pytest

from controller.ports import Kind
from hardware.bench.machines import REFERENCE
from hardware.bench.parameters import WATER_J_PER_KG_K, Parameters
from hardware.bench.plant import Plant
from tests.helpers.records import replace

SHARE = 0.25
QUIET_J_PER_K = SHARE * REFERENCE.water_kg * WATER_J_PER_KG_K
LAYERED = replace(REFERENCE, quiet_share=SHARE)


def heated(parameters: Parameters, span_s: float) -> Plant:
    """The machine from 20 °C with full heat for so long."""
    plant = Plant(parameters=parameters, kind=Kind.WATER, mass_kg=1.5, room_c=20.0)
    plant.advance(0.0)
    plant.heat(500.0)
    plant.advance(span_s)
    return plant


def test_the_mixed_water_warms_faster_and_the_quiet_water_lags() -> None:
    whole, layered = heated(REFERENCE, 600.0), heated(LAYERED, 600.0)
    assert layered.bath_c > whole.bath_c + 1.0
    assert layered.quiet_c < whole.bath_c
    assert 20.0 < layered.quiet_c < layered.bath_c


def test_both_layers_come_to_the_same_in_the_end() -> None:
    layered = heated(replace(LAYERED, water_surface_m2=0.0, pot_room_w_per_k=0.0), 600.0)
    layered.heat(0.0)
    layered.advance(30_000.0)
    assert layered.quiet_c == pytest.approx(layered.bath_c, abs=0.1)


def test_the_quiet_water_is_as_fast_as_its_conductance_says() -> None:
    plant = heated(LAYERED, 300.0)
    before_c, lead_k = plant.quiet_c, plant.bath_c - plant.quiet_c
    plant.advance(301.0)
    flow_k_per_s = LAYERED.quiet_w_per_k * lead_k / QUIET_J_PER_K
    assert plant.quiet_c - before_c == pytest.approx(flow_k_per_s, rel=0.01)


def test_the_books_close_with_hands_in_both_layers() -> None:
    plant = heated(LAYERED, 900.0)
    plant.swap_water(share=0.6, water_c=12.0)
    plant.advance(1200.0)
    plant.parameters = replace(LAYERED, quiet_share=0.1)
    plant.advance(1500.0)
    plant.parameters = REFERENCE
    plant.pour_water(mass_kg=0.2, water_c=50.0)
    plant.advance(2400.0)
    assert abs(plant.balance().gap_j) < 1e-3
    assert abs(plant.mass().gap_kg) < 1e-9


def test_water_that_is_swapped_is_of_both_layers() -> None:
    plant = heated(LAYERED, 900.0)
    quiet_c, mass_kg = plant.quiet_c, plant.water_kg
    plant.swap_water(share=0.5, water_c=10.0)
    assert plant.quiet_c == pytest.approx(0.5 * (quiet_c + 10.0))
    assert plant.water_kg == pytest.approx(mass_kg)
    plant.swap_water(share=1.0, water_c=10.0)
    assert plant.quiet_c == pytest.approx(10.0)
    assert plant.bath_c > 10.0  # the pot is still warm


def test_water_that_becomes_quiet_changes_no_temperature() -> None:
    plant = heated(REFERENCE, 600.0)
    before_c = plant.bath_c
    plant.parameters = LAYERED
    assert plant.bath_c == pytest.approx(before_c)
    assert plant.quiet_c == pytest.approx(before_c)
