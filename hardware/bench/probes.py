"""Thermometers: what kinds there are, and how each lags behind the place where it sits.

Responsible for step, noise, age, tolerance and lag; not for how a reading fails (faults) or is
handed out (parts).
"""

import math
from dataclasses import dataclass

from hardware.bench.motion import Motion
from hardware.bench.parameters import Filling, Parameters

STEP_S = 1.0  # the step whose decay is worked out once


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeKind:
    """A kind of thermometer with its converter."""

    step_k: float
    conversion_s: float  # so old is a value when it is read
    noise_k: float  # standard deviation
    lag_ratio: float  # over the lag of the 1-wire part in the same sleeve
    tolerance_k: float  # of its class at 0 °C
    tolerance_per_c: float  # and so much more per °C


PROBES = {
    # Data sheet of the 12 bit digital part: 0.0625 K, 750 ms, ±0.5 K from -10 to 85 °C. Noise and
    # lag: own engineering values, not published.
    "1-wire": ProbeKind(
        step_k=0.0625,
        conversion_s=0.75,
        noise_k=0.02,
        lag_ratio=1.0,
        tolerance_k=0.5,
        tolerance_per_c=0.0,
    ),
    # IEC 60751 class B: ±(0.3 + 0.005 |t|) K. A ratiometric converter of 15 bit on 400 Ω has steps
    # of 0.0122 Ω, which is 0.0317 K at 40 °C by the same standard. The rest is our own.
    "pt100": ProbeKind(
        step_k=0.0317,
        conversion_s=0.065,
        noise_k=0.015,
        lag_ratio=0.8,
        tolerance_k=0.3,
        tolerance_per_c=0.005,
    ),
    # A thermistor read by a driver of the kernel in steps of 0.1 K; own engineering values.
    "thermistor": ProbeKind(
        step_k=0.1,
        conversion_s=0.1,
        noise_k=0.03,
        lag_ratio=0.4,
        tolerance_k=0.3,
        tolerance_per_c=0.004,
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """One thermometer as a machine has it."""

    kind: ProbeKind
    off_k: float  # what it reads too much at 0 °C
    off_per_c: float  # and so much more per °C


def fit(word: str, off: float) -> Fit:
    """A thermometer of a kind whose offset is `off` (-1 to 1) times the tolerance of its class."""
    kind = PROBES[word]
    return Fit(kind=kind, off_k=off * kind.tolerance_k, off_per_c=off * kind.tolerance_per_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fits:
    """The three thermometers of a machine."""

    bath: Fit
    bowl: Fit
    guard: Fit


def fits_of(parameters: Parameters) -> Fits:
    """The thermometers that the table of parameters names."""
    return Fits(
        bath=fit(parameters.bath_probe, parameters.bath_probe_off),
        bowl=fit(parameters.bowl_probe, parameters.bowl_probe_off),
        guard=fit(parameters.guard_probe, parameters.guard_probe_off),
    )


class Lagging:
    """The three thermometers' own temperatures, which follow the plant and don't act on it."""

    __slots__ = (
        "_bath_at",
        "_bath_lag_s",
        "_bath_p_c",
        "_bath_there_c",
        "_bowl_at",
        "_bowl_lag_s",
        "_bowl_p_c",
        "_bowl_there_c",
        "_decays",
        "_guard_at",
        "_guard_lag_s",
        "_guard_p_c",
        "_guard_there_c",
        "_motion",
        "_see_film",
    )

    _bath_there_c: float  # where each sits, as warm as it would be without its lag
    _bowl_there_c: float
    _guard_there_c: float

    def __init__(self, motion: Motion, room_c: float) -> None:
        """As warm as the room."""
        self._motion = motion
        self._bath_p_c = self._guard_p_c = self._bowl_p_c = room_c

    def settle(self, parameters: Parameters, filling: Filling) -> None:
        """Sit where the machine has them."""
        per_k = parameters.element_j_per_k
        self._bath_at = parameters.bath_probe_at_element / per_k
        self._guard_at = parameters.guard_probe_at_element / per_k
        self._see_film = parameters.bowl_probe_at_film
        in_bath_s = parameters.bath_probe_lag_s
        self._bath_lag_s = in_bath_s * PROBES[parameters.bath_probe].lag_ratio
        self._guard_lag_s = in_bath_s * PROBES[parameters.guard_probe].lag_ratio
        in_bowl_s = filling.probe_lag_s * parameters.bowl_probe_lag
        self._bowl_lag_s = in_bowl_s * PROBES[parameters.bowl_probe].lag_ratio
        self._decays = self._decays_over(STEP_S)
        self.look()

    def look(self) -> None:
        """See anew how warm it is around them, after hands or the stirrer's speed changed that."""
        motion = self._motion
        self._bowl_at = self._see_film * motion.film
        self._bath_there_c = motion.bath_c + self._bath_at * motion.element_j
        self._guard_there_c = motion.bath_c + self._guard_at * motion.element_j
        self._bowl_there_c = motion.content_c + self._bowl_at * (motion.wall_c - motion.content_c)

    def _decays_over(self, span_s: float) -> tuple[float, float, float]:
        """What is left of a difference after a time, of each."""
        lags_s = self._bath_lag_s, self._guard_lag_s, self._bowl_lag_s
        bath, guard, bowl = (math.exp(-span_s / lag_s) for lag_s in lags_s)
        return bath, guard, bowl

    def follow(self, step_s: float) -> None:
        """Move over a step in which all went straight from the last look to now: exact for that."""
        motion = self._motion
        bath, guard, bowl = self._decays if step_s == STEP_S else self._decays_over(step_s)
        bath_c, content_c, element_j = motion.bath_c, motion.content_c, motion.element_j
        was_c, there_c = self._bath_there_c, bath_c + self._bath_at * element_j
        behind_k = (there_c - was_c) * self._bath_lag_s / step_s
        self._bath_p_c = there_c - behind_k + (self._bath_p_c - was_c + behind_k) * bath
        self._bath_there_c = there_c
        was_c, there_c = self._guard_there_c, bath_c + self._guard_at * element_j
        behind_k = (there_c - was_c) * self._guard_lag_s / step_s
        self._guard_p_c = there_c - behind_k + (self._guard_p_c - was_c + behind_k) * guard
        self._guard_there_c = there_c
        was_c, there_c = self._bowl_there_c, content_c + self._bowl_at * (motion.wall_c - content_c)
        behind_k = (there_c - was_c) * self._bowl_lag_s / step_s
        self._bowl_p_c = there_c - behind_k + (self._bowl_p_c - was_c + behind_k) * bowl
        self._bowl_there_c = there_c

    def bath_c(self, ago_s: float) -> float:
        """What the bath's thermometer was at `ago_s` before now, °C."""
        return self._bath_p_c - ago_s * (self._bath_there_c - self._bath_p_c) / self._bath_lag_s

    def guard_c(self, ago_s: float) -> float:
        """What the guard's own thermometer in the bath was at `ago_s` before now, °C."""
        return self._guard_p_c - ago_s * (self._guard_there_c - self._guard_p_c) / self._guard_lag_s

    def bowl_c(self, ago_s: float) -> float:
        """What the bowl's thermometer was at `ago_s` before now, °C."""
        return self._bowl_p_c - ago_s * (self._bowl_there_c - self._bowl_p_c) / self._bowl_lag_s
