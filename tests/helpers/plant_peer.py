"""The plant written a second time, for a solver with tight tolerances.

Responsible for being an independent opinion: temperatures instead of heat contents, no table, no
step of its own; not for what only faults reach (a dry element, a spilled or lidless bath, a stalled
stirrer). The reference machine's constants stand here a second time on purpose; they are own
engineering values, not published, or named with their source in the bench's own parameters.
"""

import math
from dataclasses import dataclass, field, fields, replace

import numpy as np
from scipy.integrate import solve_ivp

from controller.ports import Kind
from hardware.bench.parameters import Parameters
from tests.helpers.crystal_peers import Peer

Vector = np.ndarray[tuple[int], np.dtype[np.float64]]

# What the state's entries are.
ELEMENT_W, BATH, WATER, WALL, CORE, UNSTABLE, FORM_V, MEMORY = range(8)
CORE_KG, LUMP_KG, LUMP, LUMP_V, BATH_PROBE, GUARD_PROBE, BOWL_PROBE = range(8, 15)
GONE_KG = 1e-6


@dataclass(frozen=True)
class Fat:
    """What is in the bowl: dark chocolate, unless said otherwise."""

    fat: float = 0.35
    softer_k: float = 0.0
    yield_pa: float = 29.0
    plastic_pa_s: float = 6.06
    stirrer_w: float = 1.2
    cool: float = 1590.0
    warm: float = 1670.0
    latent: float = 0.35 * 157_000.0

    def heat_j_per_kg(self, temp_c: float, crystals: float) -> float:
        """Heat counted from liquid at 0 °C."""
        over = (self.warm - self.cool) * max(0.0, temp_c - 40.0)
        return self.cool * temp_c + over - self.latent * crystals

    def load_w_per_kg(self, temp_c: float, crystals: float, per_s: float, usual_s: float) -> float:
        """Stirrer load: `stirrer_w` for 1.5 kg at the usual shear, 31.5 °C and 2 % crystals."""

        def thick(at_c: float, share: float) -> float:
            cold = 30_000.0 / 8.314462618 * (1.0 / (at_c + 273.15) - 1.0 / 313.15)
            return math.exp(cold + 30.0 * min(share, 0.10))

        def turning(rate: float) -> float:
            return rate * (math.sqrt(self.yield_pa) + math.sqrt(self.plastic_pa_s * rate)) ** 2

        flow = turning(per_s) / turning(usual_s)
        return self.stirrer_w / 1.5 * flow * thick(temp_c, crystals) / thick(31.5, 0.02)


FATS = {
    Kind.DARK: Fat(),
    Kind.MILK: Fat(0.30, 1.5, 14.3, 1.86, 0.8, latent=0.30 * 157_000.0),
    Kind.WHITE: Fat(0.33, 2.5, 9.3, 1.42, 0.7, latent=0.33 * 157_000.0),
}


@dataclass(frozen=True)
class Machine:
    """The reference machine; another by `like`. Names as in the bench's parameters."""

    heater_lag_s: float = 20.0
    element_j_per_k: float = 100.0
    water_kg: float = 3.0
    pot_j_per_k: float = 400.0
    pot_room_w_per_k: float = 2.0
    water_surface_m2: float = 0.015
    air_m_per_s: float = 0.0
    bowl_j_per_k: float = 300.0
    bath_bowl_w_per_k: float = 29.0
    bowl_mass_stirred_w_per_k: float = 7.8
    bowl_mass_still_w_per_k: float = 2.3
    film_scraped: float = 0.15
    film_left: float = 0.7
    film_share: float = 0.0
    mass_air_w_per_k: float = 0.33
    room_humidity: float = 0.5
    room_swing_k: float = 0.0
    room_swing_s: float = 2400.0
    room_k_per_h: float = 0.0
    heat_ratio: float = 1.0
    latent_ratio: float = 1.0
    softer_k: float = 0.0
    chopped_w_per_kg_k: float = 120.0
    chopped_still: float = 0.3
    disperses_per_k_s: float = 0.01
    stirred_per_s: float = 12.5
    bath_probe_lag_s: float = 5.0
    bowl_probe_lag: float = 1.0
    bath_probe_at_element: float = 0.0
    guard_probe_at_element: float = 0.0
    bowl_probe_at_film: float = 0.0

    @staticmethod
    def like(parameters: Parameters) -> "Machine":
        """A machine with these parameters, as far as they are the equations'."""
        names = [each.name for each in fields(Machine)]
        return Machine(**{name: getattr(parameters, name) for name in names})


def vapour_kpa(temp_c: float) -> float:
    """Magnus form of Alduchov & Eskridge 1996."""
    return 0.61094 * math.exp(17.625 * temp_c / (243.04 + temp_c))


@dataclass
class PlantPeer:
    """A machine with 1.5 kg of chocolate, between two changes of what it is told."""

    crystals: Peer
    kind: Kind = Kind.DARK
    machine: Machine = field(default_factory=Machine)
    home_c: float = 20.0
    power_w: float = 0.0
    rpm: tuple[float, float] = (0.0, 0.0)  # sought, and short of it at the last change
    since_s: float = 0.0
    x: Vector = field(init=False)

    def __post_init__(self) -> None:
        """All as warm as the room, solid and tempered."""
        machine, table = self.machine, FATS[self.kind]
        self.fat = replace(
            table,
            softer_k=table.softer_k + machine.softer_k,
            cool=table.cool * machine.heat_ratio,
            warm=table.warm * machine.heat_ratio,
            latent=table.latent * machine.latent_ratio,
        )
        home = self.home_c
        solid = self.crystals.solid(home, self.fat.softer_k)[1]
        self.x = np.array(
            [0.0, home, machine.water_kg, home, home, 0.0, solid, 1.0, 1.5, 0.0, home, 0.0]
            + [home] * 3
        )

    def _stirred(self, t_s: float) -> float:
        """Share of the nominal speed; the motor follows within a second."""
        return (self.rpm[0] - self.rpm[1] * math.exp(-(t_s - self.since_s))) / 30.0

    def room_c(self, t_s: float) -> float:
        """The room swings and drifts."""
        machine = self.machine
        swing = machine.room_swing_k * math.sin(2.0 * math.pi * t_s / machine.room_swing_s)
        return self.home_c + swing + machine.room_k_per_h * min(t_s, 10_800.0) / 3600.0

    def _bath(self, x: list[float], to_wall_w: float, room_c: float) -> tuple[float, float]:
        """Rates of the bath's temperature and of its water; its vapour leaves with its heat."""
        machine, bath = self.machine, x[BATH]
        over_kpa = vapour_kpa(bath) - machine.room_humidity * vapour_kpa(self.home_c)
        steam_w = machine.water_surface_m2 * (89.0 + 78.2 * machine.air_m_per_s) * over_kpa
        net_w = x[ELEMENT_W] - to_wall_w - machine.pot_room_w_per_k * (bath - room_c) - steam_w
        bath_j_per_k = 4180.0 * x[WATER] + machine.pot_j_per_k
        return net_w / bath_j_per_k, -steam_w / (2.501e6 - 2380.0 * bath)

    def _to_wall_w(self, x: list[float]) -> float:
        """From bath to bowl: less as the level falls below nine tenths."""
        level = 0.25 + 0.75 * x[WATER] / self.machine.water_kg
        wet = min(1.0, max(0.0, (level - 0.35) / 0.55))
        return self.machine.bath_bowl_w_per_k * (0.08 + 0.92 * wet) * (x[BATH] - x[WALL])

    def _lumps(self, x: list[float], share: float) -> tuple[float, float, float, float]:
        """Heat into them W, rates of their temperature and form V, mass that comes off kg/s."""
        if x[LUMP_KG] < GONE_KG:
            return 0.0, 0.0, 0.0, 0.0
        machine, fat, lump = self.machine, self.fat, x[LUMP]
        pace = machine.chopped_still + (1.0 - machine.chopped_still) * min(1.0, share)
        w_per_kg = machine.chopped_w_per_kg_k * pace * (x[CORE] - lump)
        d_v = -max(0.0, x[LUMP_V] - self.crystals.solid(lump, fat.softer_k)[1]) / 90.0
        warming = (w_per_kg + fat.latent * d_v) / (fat.cool if lump < 40.0 else fat.warm)
        off = machine.disperses_per_k_s * pace * max(0.0, lump - 29.0 + fat.softer_k)
        return w_per_kg * x[LUMP_KG], warming, d_v, off * x[LUMP_KG]

    def _crystals(self, x: list[float], share: float, film_c: float) -> list[float]:
        """Rates of unstable, form V and memory; part of the content reacts in the film."""
        state = (x[UNSTABLE], x[FORM_V], x[MEMORY])
        per_s, softer_k = self.machine.stirred_per_s * share, self.fat.softer_k
        core = self.crystals.rates(x[CORE], *state, per_s, softer_k)
        if not self.machine.film_share:
            return list(core)
        film = self.crystals.rates(film_c, *state, per_s, softer_k)
        part = self.machine.film_share
        return [(1.0 - part) * one + part * other for one, other in zip(core, film, strict=True)]

    def rates(self, t_s: float, state: Vector) -> list[float]:
        """Right-hand side."""
        x, machine, fat = state.tolist(), self.machine, self.fat
        share, room_c = self._stirred(t_s), self.room_c(t_s)
        core, core_kg, crystals = x[CORE], x[CORE_KG], x[UNSTABLE] + x[FORM_V]
        still = machine.bowl_mass_still_w_per_k
        w_per_k = still + (machine.bowl_mass_stirred_w_per_k - still) * share ** (2.0 / 3.0)
        thin = machine.film_scraped - machine.film_left
        film = machine.film_left + thin * (min(1.0, share) if share > 0.0 else 0.0)
        film_c = core + film * (x[WALL] - core)
        to_wall_w, to_core_w = self._to_wall_w(x), w_per_k * (x[WALL] - core)
        d_bath, d_water = self._bath(x, to_wall_w, room_c)
        to_lumps_w, d_lump, d_lump_v, off = self._lumps(x, share)
        d_u, d_v, d_m = self._crystals(x, share, film_c)
        d_u -= off / core_kg * x[UNSTABLE]
        d_v += off / core_kg * (x[LUMP_V] - x[FORM_V])
        usual_s = machine.stirred_per_s
        load_w = fat.load_w_per_kg(core, crystals, usual_s * share, usual_s)
        net_w = to_core_w - machine.mass_air_w_per_k * (core - room_c) - to_lumps_w
        net_w += load_w * (core_kg + x[LUMP_KG])
        brought = fat.heat_j_per_kg(x[LUMP], x[LUMP_V]) - fat.heat_j_per_kg(core, crystals)
        warming = (net_w + off * brought) / core_kg + fat.latent * (d_u + d_v)
        excess_k = x[ELEMENT_W] * machine.heater_lag_s / machine.element_j_per_k
        at_bath = x[BATH] + machine.bath_probe_at_element * excess_k
        at_guard = x[BATH] + machine.guard_probe_at_element * excess_k
        at_bowl = core + machine.bowl_probe_at_film * (film_c - core)
        return [
            (self.power_w - x[ELEMENT_W]) / machine.heater_lag_s,
            d_bath,
            d_water,
            (to_wall_w - to_core_w) / machine.bowl_j_per_k,
            warming / (fat.cool if core < 40.0 else fat.warm),
            *(d_u, d_v, d_m),
            *(off, -off, d_lump, d_lump_v),
            (at_bath - x[BATH_PROBE]) / machine.bath_probe_lag_s,
            (at_guard - x[GUARD_PROBE]) / machine.bath_probe_lag_s,
            (at_bowl - x[BOWL_PROBE]) / (15.0 * machine.bowl_probe_lag),
        ]

    def advance(self, from_s: float, to_s: float) -> None:
        """Solve up to `to_s`."""
        solved = solve_ivp(
            self.rates, (from_s, to_s), self.x, method="LSODA", rtol=1e-10, atol=1e-12
        )
        assert solved.success
        self.x = solved.y[:, -1]

    def stir(self, rpm: float, at_s: float) -> None:
        """Seek another speed, from rest or from a settled one."""
        self.rpm = (rpm, rpm - self.rpm[0])
        self.since_s = at_s

    def swap_water(self, share: float, water_c: float) -> None:
        """Mix by heat: as much water as before."""
        swapped_j_per_k = share * self.x[WATER] * 4180.0
        bath_j_per_k = self.x[WATER] * 4180.0 + self.machine.pot_j_per_k
        self.x[BATH] += swapped_j_per_k * (water_c - self.x[BATH]) / bath_j_per_k

    def add_seed(self, mass_kg: float, seeded_memory: float, at_s: float) -> None:
        """Tempered lumps as warm as the room, where there are none."""
        self.x[MEMORY] = seeded_memory
        self.x[LUMP_KG], self.x[LUMP] = mass_kg, self.room_c(at_s)
        self.x[LUMP_V] = self.crystals.solid(self.x[LUMP], self.fat.softer_k)[1]
