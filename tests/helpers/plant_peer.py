"""The reference machine's plant written a second time, for a solver with tight tolerances.

Responsible for being an independent opinion: temperatures instead of heat contents, no table, no
step of its own; not for what only faults reach (a dry element, a spilled or lidless bath, a stalled
stirrer). The constants are own engineering values, not published, and stand here a second time on
purpose; where one is published, the plant's parameters name the source.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from scipy.integrate import solve_ivp

from tests.helpers import crystal_peers

Vector = np.ndarray[tuple[int], np.dtype[np.float64]]

# What the state's entries are.
ELEMENT_W, BATH, WATER, WALL, CORE, UNSTABLE, FORM_V, MEMORY = range(8)
CORE_KG, LUMP_KG, LUMP, LUMP_V, BATH_PROBE, BOWL_PROBE = range(8, 14)
LATENT_J_PER_KG = 0.35 * 157_000.0
GONE_KG = 1e-6


def vapour_kpa(temp_c: float) -> float:
    """Magnus form of Alduchov & Eskridge 1996."""
    return 0.61094 * math.exp(17.625 * temp_c / (243.04 + temp_c))


def load_w_per_kg(temp_c: float, crystals: float, rpm: float) -> float:
    """Stirrer load of dark chocolate: 1.2 W for 1.5 kg at 30 rpm, 31.5 °C and 2 % crystals."""

    def thick(at_c: float, share: float) -> float:
        cold = 30_000.0 / 8.314462618 * (1.0 / (at_c + 273.15) - 1.0 / 313.15)
        return math.exp(cold + 30.0 * min(share, 0.10))

    def turning(per_s: float) -> float:
        return per_s * (math.sqrt(29.0) + math.sqrt(6.06 * per_s)) ** 2

    flow = turning(12.5 * rpm / 30.0) / turning(12.5)
    return 1.2 / 1.5 * flow * thick(temp_c, crystals) / thick(31.5, 0.02)


def heat_j_per_kg(temp_c: float, form_v: float) -> float:
    """Heat in dark chocolate, counted from liquid at 0 °C."""
    return 1590.0 * temp_c + 80.0 * max(0.0, temp_c - 40.0) - LATENT_J_PER_KG * form_v


@dataclass
class PlantPeer:
    """The reference machine with dark chocolate, between two changes of what it is told."""

    crystals: crystal_peers.Peer
    mass_kg: float = 1.5
    power_w: float = 0.0
    rpm: tuple[float, float] = (0.0, 0.0)  # sought, and short of it at the last change
    since_s: float = 0.0
    x: Vector = field(init=False)

    def __post_init__(self) -> None:
        """All at 20 °C, solid and tempered."""
        solid = self.crystals.solid(20.0, 0.0)[1]
        self.x = np.array(
            [0.0, 20.0, 3.0, 20.0, 20.0, 0.0, solid, 1.0, self.mass_kg, 0.0, 20.0, 0.0, 20.0, 20.0]
        )

    def _stirred(self, t_s: float) -> float:
        """Share of the nominal speed."""
        return (self.rpm[0] - self.rpm[1] * math.exp(-(t_s - self.since_s))) / 30.0

    def _bath(self, x: list[float], to_wall_w: float) -> tuple[float, float]:
        """Rates of the bath's temperature and of its water; its vapour leaves with its heat."""
        bath = x[BATH]
        steam_w = 0.015 * 89.0 * (vapour_kpa(bath) - 0.5 * vapour_kpa(20.0))
        net_w = x[ELEMENT_W] - to_wall_w - 2.0 * (bath - 20.0) - steam_w
        return net_w / (4180.0 * x[WATER] + 400.0), -steam_w / (2.501e6 - 2380.0 * bath)

    def _lumps(self, x: list[float], share: float) -> tuple[float, float, float, float]:
        """Heat into them W, rates of their temperature and form V, mass that comes off kg/s."""
        if x[LUMP_KG] < GONE_KG:
            return 0.0, 0.0, 0.0, 0.0
        pace = 0.3 + 0.7 * min(1.0, share)
        w_per_kg = 120.0 * pace * (x[CORE] - x[LUMP])
        d_v = -max(0.0, x[LUMP_V] - self.crystals.solid(x[LUMP], 0.0)[1]) / 90.0
        warming = (w_per_kg + LATENT_J_PER_KG * d_v) / (1590.0 if x[LUMP] < 40.0 else 1670.0)
        off = 0.01 * pace * max(0.0, x[LUMP] - 29.0) * x[LUMP_KG]
        return w_per_kg * x[LUMP_KG], warming, d_v, off

    def rates(self, t_s: float, state: Vector) -> list[float]:
        """Right-hand side."""
        x = state.tolist()
        share = self._stirred(t_s)
        core, core_kg, unstable, form_v = x[CORE], x[CORE_KG], x[UNSTABLE], x[FORM_V]
        to_wall_w = 29.0 * (x[BATH] - x[WALL])
        to_core_w = (2.3 + 5.5 * share ** (2.0 / 3.0)) * (x[WALL] - core)
        d_bath, d_water = self._bath(x, to_wall_w)
        to_lumps_w, d_lump, d_lump_v, off = self._lumps(x, share)
        d_u, d_v, d_m = self.crystals.rates(core, unstable, form_v, x[MEMORY], 12.5 * share, 0.0)
        d_u -= off / core_kg * unstable
        d_v += off / core_kg * (x[LUMP_V] - form_v)
        stirrer_w = (core_kg + x[LUMP_KG]) * load_w_per_kg(core, unstable + form_v, 30.0 * share)
        net_w = to_core_w - 0.33 * (core - 20.0) + stirrer_w - to_lumps_w
        brought = heat_j_per_kg(x[LUMP], x[LUMP_V]) - heat_j_per_kg(core, unstable + form_v)
        warming = (net_w + off * brought) / core_kg + LATENT_J_PER_KG * (d_u + d_v)
        return [
            (self.power_w - x[ELEMENT_W]) / 20.0,
            d_bath,
            d_water,
            (to_wall_w - to_core_w) / 300.0,
            warming / (1590.0 if core < 40.0 else 1670.0),
            d_u,
            d_v,
            d_m,
            off,
            -off,
            d_lump,
            d_lump_v,
            (x[BATH] - x[BATH_PROBE]) / 5.0,
            (core - x[BOWL_PROBE]) / 15.0,
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
        bath_j_per_k = self.x[WATER] * 4180.0 + 400.0
        self.x[BATH] += swapped_j_per_k * (water_c - self.x[BATH]) / bath_j_per_k

    def add_seed(self, mass_kg: float, seeded_memory: float) -> None:
        """Tempered lumps at 20 °C, where there are none."""
        self.x[MEMORY] = seeded_memory
        self.x[LUMP_KG], self.x[LUMP] = mass_kg, 20.0
        self.x[LUMP_V] = self.crystals.solid(20.0, 0.0)[1]
