"""A lump of water with a heater, a loss and a bowl, and the account that the evidence keeps of it.

Responsible for physics plain enough to see heat in; not for any expectation. Values are own
inventions.
"""

import math
from dataclasses import dataclass
from random import Random

from controller.core.evidence import HeatMemory, ProbeMemory, heat_evidence
from controller.core.machine import Machine
from tests.helpers.scene import CODE_K, ROOM_C, machine

OWN = machine()
NOISE_K = 0.02  # as the bench's 1-wire thermometer


@dataclass(kw_only=True)
class Bath:
    """Water with a heater of full power, its loss, and a bowl that only matters if told so."""

    bath_c: float = 40.0
    bowl_c: float = 40.0
    heat_share: float = 1.0  # what the element makes of full power
    is_welded: bool = False
    transfer_w_per_k: float = 10.0
    machine: Machine = OWN
    true_loss_w_per_k: float = OWN.loss_w_per_k
    noise: Random | None = None
    memory: HeatMemory = HeatMemory()  # noqa: RUF009 - frozen: sharing it is harmless
    was_c: float = math.nan
    now_s: float = 0.0

    def step(self, *, on: bool, disturbed: bool = False) -> HeatMemory:
        """One second of physics, then the account of it."""
        lead_w = self.transfer_w_per_k * (self.bath_c - self.bowl_c)
        heat_w = self.machine.heater_w * self.heat_share if on or self.is_welded else 0.0
        loss_w = self.true_loss_w_per_k * (self.bath_c - ROOM_C)
        self.bath_c += (heat_w - loss_w - lead_w) / self.machine.bath_j_per_k
        self.bowl_c += lead_w / 2600.0
        noise_k = 0.0 if self.noise is None else self.noise.gauss(0.0, NOISE_K)
        code_c = round((self.bath_c + noise_k) / CODE_K) * CODE_K
        changed = code_c != self.was_c
        self.was_c = code_c
        self.memory = heat_evidence(
            self.memory,
            bath=ProbeMemory(
                value_c=code_c, code_c=code_c, unchanged_s=0.0 if changed else self.memory.now_s
            ),
            bowl=ProbeMemory(value_c=self.bowl_c, code_c=self.bowl_c),
            was_on=on,
            disturbed=disturbed,
            machine=self.machine,
            dt_s=1.0,
        )
        return self.memory

    def run(self, seconds: int, *, on: bool) -> int:
        """Seconds until the hits would make a trip, or all of them."""
        for second in range(seconds):
            if self.step(on=on).stuck_hits >= 3:
                return second
        return seconds
