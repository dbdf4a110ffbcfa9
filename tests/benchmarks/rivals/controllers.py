"""The rivals: what people build for this machine when they build something simple.

Responsible for three controllers, each as good as its kind allows; not for running them (stage).
They are no straw men: each has anti-windup where it integrates, starts its integral at the duty
that the machine file's losses ask for, and is tuned on the machines drawn-1-1 to drawn-1-24 by
`python tests/benchmarks/rivals/tuning.py`, never on a seed that is judged. The thermostat and the
single loop have one thermometer, in the bowl, so they can't know the bath; the cascade has both.
"""

from typing import Final

from controller.core.machine import Machine
from tests.benchmarks.rivals.bound import Aim

# Found by tuning.py, which prints the costs around them.
HYSTERESIS_K: Final = 0.05  # 0.02 is as good, and less than a step of the thermometers
PI_GAIN: Final = 0.1  # duty per K
PI_TI_S: Final = 5400.0
# The study's nominal machine, which the textbook's rule is given besides the machine file: own
# engineering values, not published.
NOMINAL_W_PER_K: Final = 15.0
NOMINAL_ELEMENT_LAG_S: Final = 20.0
NOMINAL_BATH_PROBE_LAG_S: Final = 5.0
NOMINAL_BOWL_PROBE_LAG_S: Final = 15.0
NOMINAL_WALL_LAG_S: Final = 8.0  # 300 J/K of wall between 29 and 7.8 W/K
SAMPLING_S: Final = 1.0  # half a second of holding, and half a conversion
CHOCOLATE_J_PER_KG_K: Final = 1600.0  # Beckett, 4th ed., pp. 667-668: 1590 to 1670


def steady_duty(machine: Machine, target_c: float) -> float:
    """What the machine file's losses ask for at a temperature."""
    loss_w = machine.loss_w_per_k * (target_c - machine.room_c)
    return min(max(loss_w / machine.heater_w, 0.0), 1.0)


class Loop:
    """A PI controller that integrates only where its output is free to follow."""

    def __init__(self, gain: float, ti_s: float, integral: float) -> None:
        """Begin with an integral, in the unit of the output."""
        self._gain, self._ti_s, self._integral = gain, ti_s, integral

    def output(self, error: float, low: float, high: float, *, stuck: int = 0) -> float:
        """One second on; `stuck` is the sign of what whoever follows the output can't follow."""
        wanted = self._gain * error + self._integral
        free_up = wanted < high and stuck <= 0
        free_down = wanted > low and stuck >= 0
        if free_up if error > 0.0 else free_down:
            self._integral += self._gain * error / self._ti_s
        return min(max(wanted, low), high)


class Thermostat:
    """On below the target by a hysteresis, off at the target."""

    def __init__(self, hysteresis_k: float = HYSTERESIS_K) -> None:
        """Off."""
        self._hysteresis_k = hysteresis_k
        self._on = False

    def duty(self, aim: Aim, bowl_c: float, bath_c: float) -> float:  # noqa: ARG002 - it has no bath thermometer
        """All or nothing."""
        if bowl_c >= aim.target_c:
            self._on = False
        elif bowl_c <= aim.target_c - self._hysteresis_k:
            self._on = True
        return 1.0 if self._on else 0.0


class SinglePi:
    """One PI loop from the bowl to the heater, with one setting for every machine."""

    def __init__(
        self, machine: Machine, target_c: float, gain: float = PI_GAIN, ti_s: float = PI_TI_S
    ) -> None:
        """Begin at the duty that losses ask for."""
        self._loop = Loop(gain, ti_s, steady_duty(machine, target_c))

    def duty(self, aim: Aim, bowl_c: float, bath_c: float) -> float:  # noqa: ARG002 - it has no bath thermometer
        """The loop's output."""
        return self._loop.output(aim.target_c - bowl_c, 0.0, 1.0)


class Cascade:
    """Bowl to bath set-point to duty, both by Skogestad's SIMC rule from nominal values.

    SIMC: Kc = tau / (k (tau_c + theta)), Ti = min(tau, 4 (tau_c + theta)), tau_c = theta; lags
    beyond the first add to the delay by the half rule (J. Process Control 13:291, 2003).
    """

    def __init__(self, machine: Machine, target_c: float) -> None:
        """Both loops from the machine file and the nominal machine."""
        delay_s = NOMINAL_ELEMENT_LAG_S / 2 + NOMINAL_BATH_PROBE_LAG_S + SAMPLING_S
        bath_tau_s = machine.bath_j_per_k / (NOMINAL_W_PER_K + machine.loss_w_per_k)
        self._bath = Loop(
            machine.bath_j_per_k / (machine.heater_w * 2 * delay_s),
            min(bath_tau_s, 8 * delay_s),
            steady_duty(machine, target_c),
        )
        # The bath loop is a delay and a lag of `delay_s` each.
        outer_delay_s = delay_s + delay_s / 2 + NOMINAL_BOWL_PROBE_LAG_S + NOMINAL_WALL_LAG_S
        bowl_j_per_k = machine.batch_kg * CHOCOLATE_J_PER_KG_K
        tau_s = bowl_j_per_k / NOMINAL_W_PER_K + delay_s / 2
        self._bowl = Loop(tau_s / (2 * outer_delay_s), min(tau_s, 8 * outer_delay_s), 0.0)
        self._stuck = 0  # 1 with the heater full on, -1 with it off: the bath can't follow further

    def duty(self, aim: Aim, bowl_c: float, bath_c: float) -> float:
        """Outer loop, then inner; the bath's set-point stays under the phase's ceiling."""
        over_k = self._bowl.output(
            aim.target_c - bowl_c,
            -aim.target_c,
            aim.ceiling_c - aim.target_c,
            stuck=self._stuck,
        )
        duty = self._bath.output(aim.target_c + over_k - bath_c, 0.0, 1.0)
        self._stuck = (duty >= 1.0) - (duty <= 0.0)
        return duty
