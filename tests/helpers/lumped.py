"""A lumped machine for tests of control: element, bath, bowl and two probes, all melted.

Responsible for a plain plant with numbers of its own invention and for closing the loop around it;
not for chocolate that melts or sets (hardware/bench), nor for any expectation.
"""

import math
from dataclasses import dataclass, field
from random import Random

from controller.core.estimate import Belief
from controller.core.estimator import follow, stir
from controller.core.evidence import Memory, ProbeMemory
from controller.core.machine import Machine
from controller.core.profile import Kind
from controller.core.regulator import regulate
from controller.core.relay import shape
from controller.core.state import RelayMemory, State, Watch
from controller.core.thermal import begin, prior_of
from tests.helpers.records import replace
from tests.helpers.scene import machine

CODE_K = 0.0625
NOISE_K = 0.02
PART_S = 0.5
J_PER_KG_K = 1750.0
WATER_J_PER_KG_K = 4180.0


@dataclass(slots=True, kw_only=True)
class Lumped:
    """The plant; temperatures in °C."""

    heater_w: float = 500.0
    bath_j_per_k: float = 3.0 * WATER_J_PER_KG_K + 450.0
    bowl_j_per_k: float = 1.5 * J_PER_KG_K + 50.0
    transfer_w_per_k: float = 11.0
    bath_loss_w_per_k: float = 3.5
    bowl_loss_w_per_k: float = 0.4
    bowl_gains_w: float = 0.0  # of crystals that grow, of stirring
    element_lag_s: float = 20.0
    bath_lag_s: float = 5.0
    bowl_lag_s: float = 12.0
    bath_reads_k: float = 0.0  # beyond the truth
    room_c: float = 20.0
    bath_c: float = 30.0
    bowl_c: float = 30.0
    element_w: float = 0.0
    bath_probe_c: float = math.nan
    bowl_probe_c: float = math.nan
    chance: Random = field(default_factory=lambda: Random(7))  # noqa: S311 - noise, no cryptography

    def __post_init__(self) -> None:
        """Probes as warm as what they stand in."""
        self.bath_probe_c, self.bowl_probe_c = self.bath_c, self.bowl_c

    def run(self, *, on: bool, dt_s: float) -> None:
        """Let time pass with the heater on or off: explicit Euler in steps of half a second."""
        parts = round(dt_s / PART_S)
        for _ in range(parts):
            self.element_w += PART_S / self.element_lag_s * (on * self.heater_w - self.element_w)
            flux_w = self.transfer_w_per_k * (self.bath_c - self.bowl_c)
            loss_w = self.bath_loss_w_per_k * (self.bath_c - self.room_c)
            air_w = self.bowl_loss_w_per_k * (self.bowl_c - self.room_c) - self.bowl_gains_w
            self.bath_probe_c += PART_S / self.bath_lag_s * (self.bath_c - self.bath_probe_c)
            self.bowl_probe_c += PART_S / self.bowl_lag_s * (self.bowl_c - self.bowl_probe_c)
            self.bath_c += PART_S * (self.element_w - flux_w - loss_w) / self.bath_j_per_k
            self.bowl_c += PART_S * (flux_w - air_w) / self.bowl_j_per_k

    def read(self) -> tuple[float, float]:
        """What bath's and bowl's thermometers say."""
        return self._code(self.bath_probe_c + self.bath_reads_k), self._code(self.bowl_probe_c)

    def _code(self, temp_c: float) -> float:
        return round((temp_c + self.chance.gauss(0.0, NOISE_K)) / CODE_K) * CODE_K


@dataclass(slots=True, kw_only=True)
class Loop:
    """Estimator, regulator and relay around a plant."""

    plant: Lumped
    told: Machine = field(default_factory=machine)
    dt_s: float = 1.0
    ceiling_c: float = 58.0
    is_stirred: bool = True
    state: State = field(default_factory=State)
    on: bool = False

    def __post_init__(self) -> None:
        """Begin with what the probes say first."""
        prior = prior_of(self.told, Kind.DARK, 1.0)
        belief = begin(prior, *self.plant.read(), has_melted=True)
        self.state = State(belief=belief, relay=RelayMemory())

    @property
    def belief(self) -> Belief:
        """What is believed now."""
        assert self.state.belief is not None
        return self.state.belief

    def step(self, setpoint_c: float) -> float:
        """One tick towards a target; how far the bowl is over it, K."""
        self.plant.run(on=self.on, dt_s=self.dt_s)
        bath_c, bowl_c = self.plant.read()
        belief = stir(self.belief, is_stirred=self.is_stirred)
        belief = follow(belief, bath_c, bowl_c, was_on=self.on, dt_s=self.dt_s)
        watch = Watch(memory=Memory(bath=ProbeMemory(value_c=bath_c)))
        state = replace(self.state, bath_c=bath_c, bowl_c=bowl_c, belief=belief, watch=watch)
        regulation = regulate(
            state,
            belief,
            setpoint_c=setpoint_c,
            ceiling_c=self.ceiling_c,
            machine=self.told,
            dt_s=self.dt_s,
        )
        relay = shape(
            state.relay,
            regulation.duty,
            dt_s=self.dt_s,
            min_on_s=self.told.min_on_s,
            min_off_s=self.told.min_off_s,
        )
        self.state = replace(state, regulation=regulation, relay=relay)
        self.on = relay.on
        return self.plant.bowl_c - setpoint_c

    def run(self, setpoint_c: float, seconds: float) -> list[float]:
        """Many ticks; how far the bowl was over the target in each, K."""
        return [self.step(setpoint_c) for _ in range(round(seconds / self.dt_s))]
