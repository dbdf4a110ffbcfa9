"""How a plant is stepped through time: what drives it settled first, then all moved together.

Responsible for the order within a step, for its size, and for following what hands and parameters
change; not for the equations (motion), nor for hands and books (plant).
"""

import math

from hardware.bench import flow, moist
from hardware.bench.crystals import Law
from hardware.bench.motion import GONE, Motion
from hardware.bench.parameters import Filling, Parameters
from hardware.bench.probes import Lagging
from hardware.bench.settling import cover, enough_kg, settle
from hardware.bench.stirring import Stirring

STEP_S = 1.0  # Heun's method with 1 s stays within a millikelvin of a tight solution
SLIVER_S = 1e-9  # less than this of a second is rounding of the caller's clock
S_PER_H = 3600.0
DRIFTS_FOR_S = 3.0 * S_PER_H  # own engineering value: then a kitchen has found its temperature
# A bowl's wall may follow in seconds: so many steps to its time constant, and for so many of them,
# after something has moved at once. Own engineering values: within a millikelvin with both.
FINE = 40.0
CALMS_AFTER = 9.0
SLOWEST_PER_S = 0.1


class Stepper:
    """State, stirrer and thermometers of one plant, and the moment that they have come to."""

    def __init__(
        self, parameters: Parameters, filling: Filling, law: Law, mass_kg: float, room_c: float
    ) -> None:
        """Begin with everything at room temperature; its heat is the plant's to fill in."""
        self.parameters, self.filling, self.law = parameters, filling, law
        self.home_c = room_c  # what the room drifts around
        self.lid_open, self.bowl_in = False, True
        self.covered = 1.0  # share of the element that is under water
        self.element_on_j = self.stirrer_j = 0.0
        self._power_w = self._age_s = self._restless_s = 0.0
        self._now_s = math.nan
        self._thick: float | None = None
        self.motion = Motion()
        self.motion.water_kg, self.motion.core_kg = parameters.water_kg, mass_kg
        self.motion.wall_c = room_c
        self.stirring = Stirring(parameters, filling, law.shear)
        self.probes = Lagging(self.motion, room_c)
        self.settle()
        self.motion.quiet_c = room_c

    def advance(self, now_s: float) -> None:
        """Move to `now_s`; the first call sets the origin, an earlier moment does nothing."""
        if now_s == self._now_s:
            return
        elapsed_s = now_s - self._now_s
        if not elapsed_s > 0.0:
            if math.isnan(self._now_s):
                self._now_s = now_s
            return
        self._now_s = now_s
        whole = int(elapsed_s)
        for _ in range(whole):
            self._step(STEP_S)
        if elapsed_s - whole > SLIVER_S:
            self._step(elapsed_s - whole)

    def _step(self, step_s: float) -> None:
        """One step, in parts while the wall has something to catch up with."""
        parts = self._calm_parts
        if self._restless_s > 0.0:
            self._restless_s -= step_s
            parts = self._restless_parts
        for _ in range(parts):
            self._move(step_s / parts)

    def _move(self, step_s: float) -> None:
        """What drives the state is settled first, then all moves together."""
        motion, stirring, probes = self.motion, self.stirring, self.probes
        if stirring.sought_rpm or not stirring.is_settled:
            self._turn(step_s)
        if self._drifts:
            self._drift(step_s)
        if motion.water_kg < self._enough_kg:
            self._cover()
        if motion.lump_kg or motion.dry_w or motion.dry_j:
            motion.rare_step(step_s)
        else:
            motion.step(step_s)
        if motion.quiet_j_per_k:
            motion.mingle(step_s)
        probes.follow(step_s)
        self._thick = None
        self.element_on_j += self._power_w * step_s
        if motion.content_c > motion.clear_c and motion.form_v < GONE:
            motion.clear()

    def _turn(self, step_s: float) -> None:
        """Let the stirrer seek its speed against what is in the bowl, and warm that."""
        motion, stirring = self.motion, self.stirring
        mass_kg = motion.core_kg + motion.lump_kg + motion.splashed_kg
        thick_kg = self.thickness() * mass_kg
        stalled = stirring.is_stalled(thick_kg, motion.lump_kg / mass_kg)
        if stirring.turn(step_s, stalled=stalled):
            self._couple()
            self._upset()
        load_w = stirring.load_w(thick_kg)
        motion.stirrer_w = load_w
        self.stirrer_j += load_w * step_s

    def _drift(self, step_s: float) -> None:
        """Let the room be as warm as it is in the midst of the step."""
        parameters = self.parameters
        at_s = self._age_s + 0.5 * step_s
        self._age_s += step_s
        swing_k = parameters.room_swing_k * math.sin(math.tau * at_s / parameters.room_swing_s)
        drift_k = parameters.room_k_per_h * min(at_s, DRIFTS_FOR_S) / S_PER_H
        self.motion.room_c = self.home_c + swing_k + drift_k

    def thickness(self) -> float:
        """By how much the content exceeds a melt at 40 °C; worked out once a step."""
        if self._thick is None:
            motion = self.motion
            crystals = motion.unstable + motion.form_v
            self._thick = flow.thickening(motion.content_c, crystals)
        return self._thick

    # What hands and parameters change

    def heat(self, power_w: float) -> None:
        """Put `power_w` into the element from now on."""
        if power_w != self._power_w:
            self._power_w = power_w
            self._share_power()

    def stir(self, rpm: float) -> None:
        """Let the motor seek a speed from now on."""
        if rpm != self.stirring.sought_rpm:
            self.stirring.seek(rpm)
            self._upset()

    def settle(self) -> None:
        """Work out once what every step needs."""
        parameters = self.parameters
        settle(self.motion, parameters, self.filling, self.law)
        self.motion.room_c = self.home_c
        self.motion.air_kpa = parameters.room_humidity * moist.vapour_kpa(self.home_c)
        self._drifts = bool(parameters.room_swing_k or parameters.room_k_per_h)
        self.probes.settle(parameters, self.filling)
        self.stirring.settle(parameters)
        self._couple()
        self._cover()
        self._upset()

    def _couple(self) -> None:
        """Let the motion follow the stirrer."""
        motion, stirring, parameters = self.motion, self.stirring, self.parameters
        motion.content_w_per_k, motion.film = stirring.content_w_per_k, stirring.film
        motion.sheared = stirring.sheared
        pace = parameters.chopped_still + (1.0 - parameters.chopped_still) * min(
            1.0, stirring.share
        )
        motion.lump_w_per_kg_k = pace * parameters.chopped_w_per_kg_k
        motion.disperses_per_k_s = pace * parameters.disperses_per_k_s
        if not stirring.rpm:
            motion.stirrer_w = 0.0
        self.probes.look()

    def _upset(self) -> None:
        """Take small steps for a while: hands or the stirrer have moved something at once."""
        motion = self.motion
        reach_w_per_k = motion.bath_bowl_w_per_k + motion.content_w_per_k
        wall_per_s = reach_w_per_k / motion.bowl_j_per_k
        # Lumps only dwindle and the melt only grows, so this pace is their fastest.
        core_w_per_k = motion.content_w_per_k + motion.lump_w_per_kg_k * motion.lump_kg
        core_per_s = core_w_per_k / motion.cool_j_per_k if motion.cool_j_per_k else 0.0
        self._calm_parts = max(1, math.ceil(max(wall_per_s, core_per_s)))
        self._restless_parts = max(self._calm_parts, math.ceil(FINE * wall_per_s))
        self._restless_s = CALMS_AFTER / max(wall_per_s, SLOWEST_PER_S)

    def _cover(self) -> None:
        """Follow lid, bowl and level; a dry part that water reaches again gives its heat to it."""
        motion, before = self.motion, self.covered
        self._enough_kg = enough_kg(self.parameters, bowl_in=self.bowl_in)
        self.covered = cover(motion, self.parameters, lid_open=self.lid_open, bowl_in=self.bowl_in)
        if self.covered > before:
            quenched_j = motion.dry_j * (self.covered - before) / (1.0 - before)
            motion.dry_j -= quenched_j
            motion.element_j += quenched_j
        self._share_power()

    def _share_power(self) -> None:
        """Split the element's power between its parts in water and in air."""
        self.motion.wet_w = self._power_w * self.covered
        self.motion.dry_w = self._power_w - self.motion.wet_w

    def feel(self) -> None:
        """Work out what hands have changed."""
        self.motion.feel()
        self.probes.look()
        self._thick = None
        self._cover()
        self._upset()
