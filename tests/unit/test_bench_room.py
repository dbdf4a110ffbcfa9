"""The room around the bench: it swings and drifts, and has its say in what the bath loses."""

from dataclasses import replace

import pytest

from controller.ports import Kind
from hardware.bench.machines import REFERENCE
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant


def a_plant(parameters: Parameters, room_c: float = 20.0) -> Plant:
    """A plant as warm as its room."""
    plant = Plant(parameters=parameters, kind=Kind.DARK, mass_kg=1.5, room_c=room_c)
    plant.advance(0.0)
    return plant


def test_a_room_stands_still_unless_its_machine_says_otherwise() -> None:
    plant = a_plant(REFERENCE)
    plant.advance(7200.0)
    assert plant.room_c == 20.0


def test_a_room_swings_around_what_it_was() -> None:
    # Two kelvin to either side within an hour: at a quarter and three quarters of it, by hand.
    plant = a_plant(replace(REFERENCE, room_swing_k=2.0, room_swing_s=3600.0))
    seen_c = []
    for at_s in (900.0, 1800.0, 2700.0):
        plant.advance(at_s)
        seen_c.append(plant.room_c)
    assert seen_c == pytest.approx([22.0, 20.0, 18.0], abs=0.002)


def test_a_room_drifts_by_so_much_an_hour_for_three_hours() -> None:
    plant = a_plant(replace(REFERENCE, room_k_per_h=-1.5))
    seen_c = []
    for at_s in (7200.0, 10_800.0, 14_400.0):
        plant.advance(at_s)
        seen_c.append(plant.room_c)
    assert seen_c == pytest.approx([17.0, 15.5, 15.5], abs=0.001)


def test_a_bowl_follows_a_room_that_drifts() -> None:
    still, drifting = a_plant(REFERENCE), a_plant(replace(REFERENCE, room_k_per_h=3.0))
    for plant in (still, drifting):
        plant.advance(10_800.0)
    assert drifting.content_c > still.content_c + 2.0
    assert abs(drifting.balance().gap_j) < 1e-6 * abs(drifting.balance().lost_j)


def test_a_damp_room_takes_less_from_the_bath() -> None:
    dry, damp = (a_plant(replace(REFERENCE, room_humidity=share)) for share in (0.3, 0.7))
    for plant in (dry, damp):
        plant.swap_water(share=1.0, water_c=50.0)
        plant.advance(600.0)
    assert dry.mass().evaporated_kg > damp.mass().evaporated_kg
    assert dry.bath_c < damp.bath_c


def test_another_machine_in_its_place_keeps_what_is_warm_as_warm() -> None:
    plant = a_plant(REFERENCE)
    plant.swap_water(share=1.0, water_c=50.0)
    before_c = plant.bath_c
    plant.parameters = replace(REFERENCE, pot_room_w_per_k=20.0)
    assert plant.bath_c == before_c
    assert plant.parameters.pot_room_w_per_k == 20.0
    twin = a_plant(REFERENCE)
    twin.swap_water(share=1.0, water_c=50.0)
    for each in (plant, twin):
        each.advance(600.0)
    assert plant.bath_c < twin.bath_c - 5.0
