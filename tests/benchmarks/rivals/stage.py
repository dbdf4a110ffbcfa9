"""The stage on which rivals play: the same machine, thermometers and moment as production.

Responsible for running a rival at 1 Hz on a plant; not for any rival, nor for judging. Rivals are
given the bench's own thermometers, with noise, steps, lag and age, and a relay that may switch
every second, which is better than production's. A thermal cut-out at the machine's bath limit
stands over each of them, as over every machine.
"""

from array import array
from dataclasses import dataclass, field
from typing import Protocol

from controller.core.machine import Machine
from hardware.bench.faults import Faults
from hardware.bench.parts import Bed, Probe, Relay
from hardware.bench.probes import fits_of
from hardware.bench.upsets import Part, Scene
from tests.benchmarks.rivals.bound import STIR_RPM, Aim
from tests.benchmarks.rivals.eye import Eye, Start

NOISE_SEED = 1


class Rival(Protocol):
    """A controller of a bowl in a bath."""

    def duty(self, aim: Aim, bowl_c: float, bath_c: float) -> float:
        """What share of the next second to heat, 0 to 1."""
        ...


@dataclass(slots=True, kw_only=True)
class Trace:
    """What one leg was like, second by second."""

    target_c: float
    seen: "array[float]" = field(default_factory=lambda: array("d"))  # °C, see eye
    true: "array[float]" = field(default_factory=lambda: array("d"))  # °C, see eye
    bath: "array[float]" = field(default_factory=lambda: array("d"))  # °C, the water itself
    heated: bytearray = field(default_factory=bytearray)  # 1 where the relay was on
    switches: int = 0


class Stage:
    """One plant with two thermometers and a relay."""

    def __init__(self, start: Start, machine: Machine) -> None:
        """A copy of the plant at its start."""
        plant = self.plant = start.again()
        self._now_s = start.now_s
        self._cut_out_c = machine.bath_max_c
        scene = Scene(plant=plant, batch_kg=machine.batch_kg, seed=NOISE_SEED)
        bed = Bed(plant=plant, faults=Faults(scene), seed=NOISE_SEED)
        fits = fits_of(plant.parameters)
        self._bath = Probe(bed, Part.BATH_PROBE, plant.bath_probe_c, fits.bath)
        self._bowl = Probe(bed, Part.BOWL_PROBE, plant.bowl_probe_c, fits.bowl)
        self._relay = Relay(bed)
        self._eye = Eye(plant)
        self._owed_s = 0.0
        self._on = False

    def play(self, rival: Rival, aim: Aim, span_s: int) -> Trace:
        """Let the rival do a leg of this length."""
        trace = Trace(target_c=aim.target_c)
        plant = self.plant
        for _ in range(span_s):
            now_s = self._now_s
            bowl_c, bath_c = self._bowl.read(now_s).value, self._bath.read(now_s).value
            on = self._shape(rival.duty(aim, bowl_c, bath_c)) and bath_c <= self._cut_out_c
            trace.switches += on is not self._on
            trace.heated.append(on)
            self._on = on
            self._relay.drive(on=on, now_s=now_s)
            plant.stir(STIR_RPM if bowl_c >= aim.stir_from_c else 0.0)
            self._now_s = now_s + 1.0
            plant.advance(self._now_s)
            trace.seen.append(self._eye.seen_c())
            trace.true.append(self._eye.true_c())
            trace.bath.append(plant.bath_c)
        return trace

    def _shape(self, duty: float) -> bool:
        """Sigma-delta: heat for a second whenever as much is owed."""
        self._owed_s += min(max(duty, 0.0), 1.0)
        if self._owed_s >= 1.0 or (duty >= 1.0 and self._owed_s > 0.0):
            self._owed_s = max(0.0, self._owed_s - 1.0)
            return True
        return False
