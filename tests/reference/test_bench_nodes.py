"""The bench's heat against closed solutions of few bodies.

Responsible for steps and decays that mathematics solves exactly; not for whole runs.
"""

import math

import numpy as np
import pytest
from scipy.linalg import expm

from controller.ports import Kind
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant
from tests.helpers.records import replace

# Nothing goes to the room, so that what is left is linear.
SEALED = Parameters(
    pot_room_w_per_k=0.0, water_surface_m2=0.0, mass_air_w_per_k=0.0, bowl_mass_still_w_per_k=7.8
)
OCEAN = replace(SEALED, water_kg=1e7)  # too large to be disturbed
CONTENT_J_PER_K = 1.5 * 1670.0  # chocolate above 40 °C: Beckett, 4th ed., pp. 667-668


def still(parameters: Parameters, room_c: float) -> Plant:
    """1.5 kg of clear melt, all at one temperature."""
    plant = Plant(parameters=parameters, kind=Kind.DARK, mass_kg=1.5, room_c=room_c)
    plant.advance(0.0)
    return plant


def test_two_bodies_answer_a_step_of_the_bath_as_the_closed_solution_says() -> None:
    # Wall and content behind a bath that steps from 45 to 55 °C. With a = (G1 + G2) / Cw, b =
    # G2 / Cw, c = G2 / Cc the modes are -(a + c) / 2 ± sqrt((a - c)² / 4 + b c), and the content
    # starts level: its distance is -10 (l2 exp(l1 t) - l1 exp(l2 t)) / (l2 - l1).
    plant = still(OCEAN, 45.0)
    plant.swap_water(share=1.0, water_c=55.0)
    a, b, c = (29.0 + 7.8) / 300.0, 7.8 / 300.0, 7.8 / CONTENT_J_PER_K
    root = math.sqrt(0.25 * (a - c) ** 2 + b * c)
    slow, fast = -0.5 * (a + c) + root, -0.5 * (a + c) - root
    for moment_s in range(10, 3001, 10):
        plant.advance(float(moment_s))
        grown, gone = math.exp(slow * moment_s), math.exp(fast * moment_s)
        content_c = 55.0 - 10.0 * (fast * grown - slow * gone) / (fast - slow)
        assert plant.content_c == pytest.approx(content_c, abs=1e-3)
    assert plant.content_c > 54.9


def test_three_bodies_share_their_heat_as_the_matrix_exponential_says() -> None:
    # Bath, wall and content alone with each other: scipy.linalg.expm of their matrix.
    plant = still(SEALED, 45.0)
    plant.swap_water(share=1.0, water_c=55.0)
    bath_c = plant.bath_c
    heat_j_per_k = np.array([12_940.0, 300.0, CONTENT_J_PER_K])
    passes = np.array([[-29.0, 29.0, 0.0], [29.0, -36.8, 7.8], [0.0, 7.8, -7.8]])
    matrix = passes / heat_j_per_k[:, None]
    for moment_s in (60.0, 300.0, 900.0, 3600.0):
        plant.advance(moment_s)
        theirs = expm(matrix * moment_s) @ np.array([bath_c, 45.0, 45.0])
        ours = (plant.bath_c, plant.bowl_wall_c, plant.content_c)
        assert ours == pytest.approx(theirs.tolist(), abs=1e-3)


def test_a_bath_cools_by_newtons_law() -> None:
    # T = 20 + 30 exp(-2 x 3600 / 12940) = 37.198 °C, closed solution by hand.
    bare = replace(SEALED, bath_bowl_w_per_k=0.0, pot_room_w_per_k=2.0)
    plant = Plant(parameters=bare, kind=Kind.WATER, mass_kg=1.5, room_c=45.0)
    plant.swap_water(share=1.0, water_c=45.0 + 5.0 * 12_940.0 / 12_540.0)
    plant.room_c = 20.0
    plant.advance(0.0)
    assert plant.bath_c == pytest.approx(50.0)
    plant.advance(3600.0)
    assert plant.bath_c == pytest.approx(37.198, abs=0.001)


def test_the_element_delays_the_bath_by_its_own_lag() -> None:
    # Closed solution: bath = P/C (t - lag (1 - exp(-t/lag))).
    plant = still(replace(SEALED, bath_bowl_w_per_k=0.0), 20.0)
    plant.heat(500.0)
    for moment_s in (5.0, 20.0, 60.0, 600.0):
        plant.advance(moment_s)
        by_hand_k = 500.0 / 12_940.0 * (moment_s - 20.0 * (1.0 - math.exp(-moment_s / 20.0)))
        assert plant.bath_c - 20.0 == pytest.approx(by_hand_k, abs=1e-3)


def test_a_thermometer_trails_a_ramp_by_its_lag() -> None:
    # Closed solution of a first-order lag behind a steady ramp: behind by rate times lag.
    plant = still(replace(SEALED, bath_bowl_w_per_k=0.0), 20.0)
    plant.heat(500.0)
    plant.advance(600.0)
    rate_k_per_s = 500.0 / 12_940.0
    behind_k = plant.bath_c - plant.bath_probe_c(0.0)
    assert behind_k == pytest.approx(5.0 * rate_k_per_s, abs=1e-4)
