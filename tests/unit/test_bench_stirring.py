"""The stirrer in the bowl: which way, how scraped, what it takes; and the film at the wall."""

import math
from dataclasses import replace

import pytest

from controller.ports import Kind
from hardware.bench.machines import REFERENCE, SMALL
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant

UNSCRAPED = replace(REFERENCE, scraped=0.0)


def a_plant(parameters: Parameters = REFERENCE, *, rpm: float, content_c: float = 20.0) -> Plant:
    """A plant in a room at 20 °C with its stirrer up to speed; an hour is nothing to it."""
    plant = Plant(parameters=parameters, kind=Kind.DARK, mass_kg=1.5, room_c=content_c)
    plant.room_c = 20.0
    plant.advance(0.0)
    plant.stir(rpm)
    plant.advance(30.0)
    return plant


def warmed_by(plant: Plant) -> float:
    """How much ten minutes in water of 50 °C warm what is in the bowl, K."""
    before_c = plant.content_c
    plant.swap_water(share=1.0, water_c=50.0)
    plant.advance(630.0)
    return plant.content_c - before_c


def test_turning_the_wrong_way_stirs_half_as_well_and_scrapes_nothing() -> None:
    right, wrong, still = (a_plant(rpm=rpm) for rpm in (30.0, -30.0, 0.0))
    assert wrong.rpm == -30.0
    assert 0.0 < wrong.load_w < 0.6 * right.load_w
    right_k, wrong_k, still_k = (warmed_by(plant) for plant in (right, wrong, still))
    assert right_k > wrong_k + 1.0
    assert wrong_k > still_k + 0.3


def test_the_motor_has_a_most_speed_the_wrong_way_too() -> None:
    plant = Plant(parameters=REFERENCE, kind=Kind.WATER, mass_kg=1.5, room_c=20.0)
    plant.advance(0.0)
    plant.stir(-1e9)
    plant.advance(30.0)
    assert plant.rpm == -REFERENCE.most_rpm


def test_reversing_passes_through_rest() -> None:
    plant = a_plant(rpm=30.0)
    plant.stir(-30.0)
    plant.advance(30.0 + math.log(2.0))
    # -30 + 60 exp(-ln 2) = 0: closed solution of the motor's lag.
    assert plant.rpm == pytest.approx(0.0, abs=1e-6)


def test_a_film_that_nobody_scrapes_off_keeps_heat_from_the_chocolate() -> None:
    assert warmed_by(a_plant(rpm=30.0)) > warmed_by(a_plant(UNSCRAPED, rpm=30.0)) + 0.5


def test_a_stirrer_that_has_stopped_couples_like_one_that_never_turned() -> None:
    stopped, never = a_plant(rpm=30.0, content_c=40.0), a_plant(rpm=0.0, content_c=40.0)
    stopped.stir(0.0)
    stopped.advance(90.0)
    never.advance(90.0)
    for plant in (stopped, never):
        plant.swap_water(share=1.0, water_c=50.0)
        plant.advance(120.0)
    far_k = stopped.bowl_wall_c - stopped.content_c
    assert far_k == pytest.approx(never.bowl_wall_c - never.content_c, rel=0.02)


@pytest.mark.parametrize(
    ("parameters", "rpm", "part"),
    [
        (REFERENCE, 30.0, 0.15),
        (REFERENCE, 0.0, 0.7),
        (UNSCRAPED, 30.0, 0.7),
        (REFERENCE, -30.0, 0.7),
    ],
)
def test_the_film_stands_between_core_and_wall(
    parameters: Parameters, rpm: float, part: float
) -> None:
    # Own engineering values: scraped it is like the core, left alone like the wall.
    plant = a_plant(parameters, rpm=rpm)
    warmed_by(plant)
    between = (plant.film_c - plant.content_c) / (plant.bowl_wall_c - plant.content_c)
    assert between == pytest.approx(part, abs=0.001)
    assert plant.content_c < plant.film_c < plant.bowl_wall_c


def test_a_cold_wall_makes_unstable_crystals_of_a_film_that_counts() -> None:
    unstable = []
    for film_share in (0.0, 0.02):
        plant = a_plant(replace(SMALL, film_share=film_share), rpm=30.0, content_c=45.0)
        plant.swap_water(share=1.0, water_c=5.0)
        now_s = 30.0
        while plant.content_c > 28.5:
            now_s += 1.0
            plant.advance(now_s)
        unstable.append(plant.unstable)
    assert unstable[0] == 0.0
    assert unstable[1] > 1e-8


def test_a_stirrer_asked_for_the_same_again_goes_on_as_it_was() -> None:
    once, often = a_plant(rpm=30.0), a_plant(rpm=30.0)
    for second in range(31, 60):
        often.stir(30.0)
        often.advance(float(second))
    once.advance(59.0)
    assert often.content_c == once.content_c


def test_a_motor_in_seized_chocolate_gives_no_more_than_it_can() -> None:
    plant = a_plant(rpm=30.0, content_c=45.0)
    before_c, put_in_j = plant.content_c, plant.balance().put_in_j
    plant.splash(0.5)
    assert plant.load_w == REFERENCE.most_load_w
    plant.advance(31.0)
    assert plant.balance().put_in_j - put_in_j <= REFERENCE.most_load_w + 1e-6
    assert plant.content_c == pytest.approx(before_c, abs=0.5)
    plant.advance(60.0)
    assert plant.rpm == 0.0
    assert plant.load_w == 0.0
