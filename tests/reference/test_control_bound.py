"""The time-optimal bound against an independent solver, which may switch as often as it likes.

The other opinion shares no code with the bench: four lumps in temperatures, written down again,
integrated by Runge and Kutta's method in numpy, and an optimal control found by scipy's linear
programming (HiGHS), linearised anew around each solution. It knows nothing of "one switch".
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.optimize import linprog

from controller.ports import Kind
from hardware.bench import moist
from hardware.bench.draws import draw
from hardware.bench.machines import REFERENCE
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant
from tests.benchmarks.rivals.bound import Aim, heating_bound
from tests.benchmarks.rivals.eye import Eye, Start

Grid = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

HOLD_S = 240.0  # it must stay in the band for so long
SLOTS = 40  # pieces of constant power until the end
PASSES = 3


def vapour_kpa(temp_c: Grid | float) -> Grid | float:
    """Magnus form of Alduchov & Eskridge 1996."""
    return 0.61094 * np.exp(17.625 * temp_c / (243.04 + temp_c))


@dataclass
class Lumps:
    """Element, bath, wall and melted chocolate, several courses at once."""

    parameters: Parameters
    stirred_w_per_k: float
    stirrer_w: float
    kpa_w: float  # W of evaporation per kPa: the one number that is the bench's own

    def rates(self, state: Grid, power_w: Grid) -> Grid:
        """Of the element's flow W/s, and of three temperatures K/s."""
        p = self.parameters
        element_w, bath_c, wall_c, core_c = state
        bowl_w = p.bath_bowl_w_per_k * (bath_c - wall_c)
        core_w = self.stirred_w_per_k * (wall_c - core_c)
        air_kpa = p.room_humidity * vapour_kpa(p.room_c)
        steam_w = self.kpa_w * (vapour_kpa(bath_c) - air_kpa)
        room_w = p.pot_room_w_per_k * (bath_c - p.room_c) + steam_w
        heat = np.where(core_c > 40.0, 1670.0, 1590.0) * p.heat_ratio * p.batch_kg
        return np.array(
            [
                (power_w - element_w) / p.heater_lag_s,
                (element_w - bowl_w - room_w) / (p.water_kg * 4180.0 + p.pot_j_per_k),
                (bowl_w - core_w) / p.bowl_j_per_k,
                (core_w + self.stirrer_w - p.mass_air_w_per_k * (core_c - p.room_c)) / heat,
            ]
        )

    def courses(self, state: Grid, powers_w: Grid, slot_s: float) -> Grid:
        """State after each slot, for each row of powers; by steps of about 3 s."""
        steps = max(1, math.ceil(slot_s / 3.0))
        step_s = slot_s / steps
        now = np.repeat(state[:, None], powers_w.shape[0], axis=1)
        out = []
        for power_w in powers_w.T:
            for _ in range(steps):
                a = self.rates(now, power_w)
                b = self.rates(now + 0.5 * step_s * a, power_w)
                c = self.rates(now + 0.5 * step_s * b, power_w)
                d = self.rates(now + step_s * c, power_w)
                now = now + step_s / 6.0 * (a + 2.0 * b + 2.0 * c + d)
            out.append(now)
        return np.array(out)  # slot, state, course


def is_feasible(lumps: Lumps, state: Grid, aim: Aim, time_s: float) -> bool:
    """Whether any powers bring the core into the band by `time_s` and keep it there."""
    slot_s = time_s / SLOTS
    count = SLOTS + math.ceil(HOLD_S / slot_s)
    powers_w: Grid = np.full(count, 0.5 * lumps.parameters.heater_w)
    short_k = math.inf
    for _ in range(PASSES):
        powers_w, short_k = improved(lumps, state, aim, powers_w, slot_s)
    courses = lumps.courses(state, powers_w[None, :], slot_s)
    core, bath = courses[:, 3, 0], courses[:, 1, 0]
    missed_k = max(
        float(np.max(core - aim.target_c - aim.beyond_k)),
        float(np.max(bath - aim.ceiling_c)),
        float(np.max(aim.target_c - aim.band_k - core[SLOTS - 1 :])),
    )
    assert abs(missed_k - short_k) < 0.02 or missed_k < 0.002, "not converged"
    return missed_k < 0.002


def improved(
    lumps: Lumps, state: Grid, aim: Aim, powers_w: Grid, slot_s: float
) -> tuple[Grid, float]:
    """The powers that fall least short, as it is linear around these, and by how much, K.

    Least s with core <= highest + s and bath <= ceiling + s always, and core >= lowest - s from the
    end of the way on.
    """
    count, most_w = len(powers_w), lumps.parameters.heater_w
    step_w = 0.01 * most_w
    courses = lumps.courses(state, np.vstack([powers_w, powers_w + step_w * np.eye(count)]), slot_s)
    core, bath = courses[:, 3, 0], courses[:, 1, 0]
    core_by = (courses[:, 3, 1:] - core[:, None]) / step_w
    bath_by = (courses[:, 1, 1:] - bath[:, None]) / step_w
    last, one = slice(SLOTS - 1, None), -np.ones((count, 1))
    matrix = np.vstack(
        [
            np.hstack([core_by, one]),
            np.hstack([bath_by, one]),
            np.hstack([-core_by[last], one[last]]),
        ]
    )
    offset = np.concatenate(
        [
            aim.target_c + aim.beyond_k - core + core_by @ powers_w,
            aim.ceiling_c - bath + bath_by @ powers_w,
            aim.band_k - aim.target_c + core[last] - core_by[last] @ powers_w,
        ]
    )
    bounds = [(0.0, most_w)] * count + [(0.0, None)]
    solved = linprog(np.r_[np.zeros(count), 1.0], matrix, offset, bounds=bounds)
    assert solved.status == 0
    return solved.x[:-1], float(solved.x[-1])


def least_time_s(lumps: Lumps, state: Grid, aim: Aim, near_s: float) -> float:
    """The least time, by bisection between three quarters and five quarters of `near_s`.

    At an end of that span if it lies beyond. (Far longer spans make slots too coarse to converge.)
    """
    low_s, high_s = 0.75 * near_s, 1.25 * near_s
    while high_s - low_s > 0.005 * near_s:
        middle_s = 0.5 * (low_s + high_s)
        low_s, high_s = (
            (low_s, middle_s) if is_feasible(lumps, state, aim, middle_s) else (middle_s, high_s)
        )
    return high_s


def melted(parameters: Parameters, at_c: float) -> tuple[Plant, float]:
    """A stirred plant with a clear melt at a temperature, under a bath about as warm, and its time.

    Heated past melting, then cooled by water as often as it takes.
    """
    plant = Plant(
        parameters=parameters,
        kind=Kind.DARK,
        mass_kg=parameters.batch_kg,
        room_c=parameters.room_c,
    )
    plant.advance(0.0)
    plant.stir(30.0)
    now_s = 0.0
    while plant.content_c < 46.0:
        plant.heat(parameters.heater_w if plant.bath_c < 60.0 else 0.0)
        now_s += 1.0
        plant.advance(now_s)
    plant.heat(0.0)
    plant.swap_water(share=1.0, water_c=at_c - 6.0)
    while plant.content_c > at_c:
        if plant.bath_c > at_c - 4.0:
            plant.swap_water(share=1.0, water_c=at_c - 6.0)
        now_s += 1.0
        plant.advance(now_s)
    plant.swap_water(share=1.0, water_c=at_c + 0.5)
    now_s += 60.0
    plant.advance(now_s)
    return plant, now_s


MACHINES = {
    "reference": REFERENCE,
    "drawn-1-3": draw(1, 3).parameters,
}
LEGS = {  # from a clear melt: latent heat is no part of this comparison
    "melt": (41.0, Aim(target_c=50.0, ceiling_c=56.0, stir_from_c=32.0)),
    "rewarm": (36.0, Aim(target_c=39.5, ceiling_c=41.5, stir_from_c=26.0)),
}


def steady(parameters: Parameters) -> Parameters:
    """The machine in a steady room with true thermometers in the core, as the lumps have it."""
    return replace(
        parameters,
        room_swing_k=0.0,
        room_k_per_h=0.0,
        bath_probe_off=0.0,
        bowl_probe_off=0.0,
        bowl_probe_at_film=0.0,
    )


@pytest.mark.parametrize("leg", LEGS)
@pytest.mark.parametrize("machine", MACHINES)
def test_no_course_of_power_is_faster_than_one_switch(machine: str, leg: str) -> None:
    begin_c, aim = LEGS[leg]
    parameters = steady(MACHINES[machine])
    plant, now_s = melted(parameters, begin_c)
    start = Start.of(plant, now_s)
    lumps = Lumps(
        parameters=parameters,
        stirred_w_per_k=parameters.bowl_mass_stirred_w_per_k,
        stirrer_w=plant.load_w,
        kpa_w=moist.per_kpa_w(parameters.water_surface_m2, parameters.air_m_per_s),
    )
    state = np.array(
        [
            (plant.element_c - plant.bath_c) * parameters.element_j_per_k / parameters.heater_lag_s,
            plant.bath_c,
            plant.bowl_wall_c,
            Eye(plant).true_c(),
        ]
    )
    bound = heating_bound(start, aim)
    assert bound.time_s == pytest.approx(least_time_s(lumps, state, aim, bound.time_s), rel=0.02)
