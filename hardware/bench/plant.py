"""The plant: heater, bath, bowl and what is in it, integrated lazily up to a moment.

Responsible for what can be seen of it, what hands can do to it, and its books of heat and mass;
not for the equations (motion), sensors' faults or who calls. A plant has no clock and no thread:
each call carries the moment up to which it is to move.
"""

import math
from collections.abc import Callable

from controller.ports import Kind
from hardware.bench import flow, moist
from hardware.bench.accounts import HeatBalance, MassBalance
from hardware.bench.crystals import Law, two_pools
from hardware.bench.motion import GONE, WARM_FROM_C, Motion
from hardware.bench.parameters import FILLINGS, WATER_J_PER_KG_K, Parameters
from hardware.bench.probes import Lagging
from hardware.bench.settling import cover, enough_kg, filling_of, settle, water_for
from hardware.bench.stirring import Stirring

__all__ = ["HeatBalance", "MassBalance", "Plant"]

STEP_S = 1.0  # Heun's method with 1 s stays within a millikelvin of a tight solution
SLIVER_S = 1e-9  # less than this of a second is rounding of the caller's clock
S_PER_H = 3600.0
# A bowl's wall may follow in seconds: so many steps to its time constant, and for so many of them,
# after something has moved at once. Own engineering values: within a millikelvin with both.
FINE = 40.0
CALMS_AFTER = 9.0
SLOWEST_PER_S = 0.1


class Plant:
    """The physics of one bench."""

    def __init__(
        self,
        *,
        parameters: Parameters,
        kind: Kind,
        mass_kg: float,
        room_c: float,
        law: Callable[[float], Law] = two_pools,
    ) -> None:
        """Everything at room temperature; chocolate is solid and well tempered.

        Args:
            parameters: The machine.
            kind: What is in the bowl.
            mass_kg: How much of it.
            room_c: Temperature of the room at first, °C.
            law: The crystal law, from the shift in K by which the fat melts lower than dark's.
        """
        self.filling = filling_of(FILLINGS[kind], parameters)
        self.element_on_j = 0.0
        self.lid_open = False
        self.bowl_in = True
        self.covered = 1.0  # share of the element that is under water
        self._parameters = parameters
        self._law = law(self.filling.shift_k)
        self._now_s = math.nan
        self._age_s = 0.0
        self._home_c = room_c
        self._power_w = self._stirrer_j = self._carried_j = self._carried_kg = 0.0
        self._thick: float | None = None
        self._restless_s = 0.0
        motion = self._motion = Motion()
        motion.water_kg, motion.core_kg, motion.wall_c = parameters.water_kg, mass_kg, room_c
        self._stirring = Stirring(parameters, self.filling, self._law.shear)
        self._probes = Lagging(motion, room_c)
        self.bath_probe_c = self._probes.bath_c
        self.guard_probe_c = self._probes.guard_c
        self.bowl_probe_c = self._probes.bowl_c
        self._settle()
        motion.form_v = self._tempered_at_room()
        motion.memory = 1.0 if motion.form_v else 0.0
        motion.bath_j = room_c * (motion.water_kg * WATER_J_PER_KG_K + motion.pot_j_per_k)
        motion.core_j = mass_kg * self._content_j_per_kg(room_c, motion.form_v)
        self._feel()
        self._start_j, self._start_kg = self._stored_j(), self._stored_kg()

    # What can be seen

    @property
    def parameters(self) -> Parameters:
        """The machine; another may be put in its place, which keeps all temperatures' causes."""
        return self._parameters

    @parameters.setter
    def parameters(self, parameters: Parameters) -> None:
        self._parameters = parameters
        self._settle()

    @property
    def room_c(self) -> float:
        """Temperature of the room now, °C; setting it sets what it drifts around."""
        return self._motion.room_c

    @room_c.setter
    def room_c(self, room_c: float) -> None:
        self._home_c = room_c
        self._settle()

    @property
    def bath_c(self) -> float:
        """Temperature of the water, or of a dry pot, °C."""
        return self._motion.bath_c

    @property
    def content_c(self) -> float:
        """Temperature of what is in the bowl, well mixed, lumps aside, °C."""
        return self._motion.content_c

    @property
    def bowl_wall_c(self) -> float:
        """Temperature of the bowl itself, °C."""
        return self._motion.wall_c

    @property
    def film_c(self) -> float:
        """Temperature of the chocolate at the wall, between wall and core, °C."""
        motion = self._motion
        return motion.content_c + motion.film * (motion.wall_c - motion.content_c)

    @property
    def element_c(self) -> float:
        """Temperature of the hottest part of the element, °C."""
        motion, j_per_k = self._motion, self._parameters.element_j_per_k
        excess_j = motion.element_j / self.covered if self.covered else 0.0
        if self.covered < 1.0:
            excess_j = max(excess_j, motion.dry_j / (1.0 - self.covered))
        return motion.bath_c + excess_j / j_per_k

    @property
    def water_kg(self) -> float:
        """Water in the bath, kg."""
        return self._motion.water_kg

    @property
    def solid_kg(self) -> float:
        """Lumps not yet melted, kg."""
        return self._motion.lump_kg

    @property
    def mass_kg(self) -> float:
        """All that is in the bowl, lumps and splashed water included, kg."""
        motion = self._motion
        return motion.core_kg + motion.lump_kg + motion.splashed_kg

    @property
    def unstable(self) -> float:
        """Fat solid in forms I to IV, fraction of the fat, lumps aside."""
        return self._motion.unstable

    @property
    def form_v(self) -> float:
        """Fat solid in form V, fraction of the fat, lumps aside."""
        return self._motion.form_v

    @property
    def memory(self) -> float:
        """What the melt remembers of crystals, 0 to 1."""
        return self._motion.memory

    @property
    def rpm(self) -> float:
        """Speed of the stirrer's shaft; below 0 the wrong way."""
        return self._stirring.rpm

    @property
    def load_w(self) -> float:
        """What the stirrer's shaft takes, W; all of it ends as heat in the bowl."""
        stirring = self._stirring
        if not stirring.rpm:
            return 0.0
        return stirring.unit_load_w * stirring.seized * self.mass_kg * self._thickness()

    def balance(self) -> HeatBalance:
        """Where the heat went since the first call."""
        return HeatBalance(
            put_in_j=self.element_on_j + self._stirrer_j,
            carried_j=self._carried_j,
            stored_j=self._stored_j() - self._start_j,
            lost_j=self._motion.lost_j,
        )

    def mass(self) -> MassBalance:
        """Where water and content went since the first call."""
        return MassBalance(
            carried_kg=self._carried_kg,
            evaporated_kg=self._motion.evaporated_kg,
            stored_kg=self._stored_kg() - self._start_kg,
        )

    # What can be done

    def heat(self, power_w: float) -> None:
        """Put `power_w` into the element from now on; its dry part keeps its share."""
        if power_w != self._power_w:
            self._power_w = power_w
            self._share_power()

    def stir(self, rpm: float) -> None:
        """Let the motor seek `rpm`, or the most it can, from now on; below 0 the wrong way."""
        if rpm != self._stirring.sought_rpm:
            self._stirring.seek(rpm)
            self._upset()

    def swap_water(self, *, share: float, water_c: float) -> None:
        """Replace `share` (0 to 1) of the water that is in the bath by as much at `water_c`."""
        mass_kg = share * self._motion.water_kg
        self._carry_water(-mass_kg, self._motion.bath_c)
        self._carry_water(mass_kg, water_c)

    def pour_water(self, *, mass_kg: float, water_c: float) -> None:
        """Add water at `water_c`; what the pot can't hold runs over, mixed."""
        self._carry_water(mass_kg, water_c)
        holds_kg = water_for(self._parameters.pot_holds, self._parameters, bowl_in=self.bowl_in)
        over_kg = self._motion.water_kg - holds_kg
        if over_kg > 0.0:
            self._carry_water(-over_kg, self._motion.bath_c)

    def spill(self, *, share: float) -> None:
        """Lose `share` (0 to 1) of the water."""
        self._carry_water(-share * self._motion.water_kg, self._motion.bath_c)

    def add_seed(self, mass_kg: float) -> None:
        """Put in tempered seed at room temperature: lumps that melt; of water: water, at once."""
        if mass_kg <= 0.0:
            return
        motion, room_c = self._motion, self.room_c
        form_v = self._tempered_at_room()
        heat_j = mass_kg * self._content_j_per_kg(room_c, form_v)
        self._carried_j += heat_j
        self._carried_kg += mass_kg
        if not self.filling.fat:
            motion.mix(mass_kg, heat_j, 0.0)
        else:
            motion.memory = self._law.seeded(motion.memory, mass_kg / (self.mass_kg + mass_kg))
            lumps_kg = motion.lump_kg + mass_kg
            motion.lump_v += mass_kg / lumps_kg * (form_v - motion.lump_v)
            motion.lump_kg, motion.lump_j = lumps_kg, motion.lump_j + heat_j
        self._feel()

    def top_up(self, *, mass_kg: float, content_c: float) -> None:
        """Mix in melted, untempered chocolate at `content_c` (of water: water), at once."""
        if mass_kg <= 0.0:
            return
        motion = self._motion
        heat_j = mass_kg * self._content_j_per_kg(content_c, 0.0)
        self._carried_j += heat_j
        self._carried_kg += mass_kg
        motion.memory *= motion.core_kg / (motion.core_kg + mass_kg)
        motion.mix(mass_kg, heat_j, 0.0)
        self._feel()

    def open_lid(self, open_: bool) -> None:
        """Take the lid off, or put it back."""
        self.lid_open = open_
        self._settle()

    def lift_bowl(self, out: bool) -> None:
        """Lift the bowl out of the bath into the room's air, or put it back."""
        self.bowl_in = not out
        self._settle()

    def splash(self, water_kg: float) -> None:
        """Let water of the bath get into the bowl; chocolate seizes of it."""
        motion = self._motion
        water_kg = min(water_kg, motion.water_kg)
        heat_j = water_kg * WATER_J_PER_KG_K * motion.bath_c
        motion.water_kg -= water_kg
        motion.bath_j -= heat_j
        if self.filling.fat:
            motion.splashed_kg += water_kg
            motion.core_j += heat_j
            self._stirring.splashed(motion.splashed_kg / self.mass_kg)
        else:
            motion.mix(water_kg, heat_j, 0.0)
        self._feel()

    # How it moves

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
        motion, stirring, probes = self._motion, self._stirring, self._probes
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
        probes.follow(step_s)
        self._thick = None
        self.element_on_j += self._power_w * step_s
        if motion.content_c > motion.clear_c and motion.form_v < GONE:
            motion.clear()

    def _turn(self, step_s: float) -> None:
        """Let the stirrer seek its speed against what is in the bowl, and warm that."""
        motion, stirring = self._motion, self._stirring
        mass_kg = motion.core_kg + motion.lump_kg + motion.splashed_kg
        thick_kg = self._thickness() * mass_kg
        stalled = stirring.is_stalled(thick_kg, motion.lump_kg / mass_kg)
        if stirring.turn(step_s, stalled=stalled):
            self._couple()
            self._upset()
        load_w = stirring.unit_load_w * stirring.seized * thick_kg if stirring.rpm else 0.0
        motion.stirrer_w = load_w
        self._stirrer_j += load_w * step_s

    def _drift(self, step_s: float) -> None:
        """Let the room be as warm as it is in the midst of the step."""
        parameters = self._parameters
        at_s = self._age_s + 0.5 * step_s
        self._age_s += step_s
        swing_k = parameters.room_swing_k * math.sin(math.tau * at_s / parameters.room_swing_s)
        self._motion.room_c = self._home_c + swing_k + parameters.room_k_per_h * at_s / S_PER_H

    def _thickness(self) -> float:
        """By how much the content exceeds a melt at 40 °C; worked out once a step."""
        if self._thick is None:
            motion = self._motion
            crystals = motion.unstable + motion.form_v
            self._thick = flow.thickening(motion.content_c, crystals)
        return self._thick

    # What hands and parameters change

    def _settle(self) -> None:
        """Work out once what every step needs."""
        parameters = self._parameters
        settle(self._motion, parameters, self.filling, self._law)
        self._motion.room_c = self._home_c
        self._motion.air_kpa = parameters.room_humidity * moist.vapour_kpa(self._home_c)
        self._drifts = bool(parameters.room_swing_k or parameters.room_k_per_h)
        self._probes.settle(parameters, self.filling)
        self._stirring.settle(parameters)
        self._couple()
        self._cover()
        self._upset()

    def _couple(self) -> None:
        """Let the motion follow the stirrer."""
        motion, stirring, parameters = self._motion, self._stirring, self._parameters
        motion.content_w_per_k, motion.film = stirring.content_w_per_k, stirring.film
        motion.sheared = stirring.sheared
        pace = parameters.chopped_still + (1.0 - parameters.chopped_still) * min(
            1.0, stirring.share
        )
        motion.lump_w_per_kg_k = pace * parameters.chopped_w_per_kg_k
        motion.disperses_per_k_s = pace * parameters.disperses_per_k_s
        if not stirring.rpm:
            motion.stirrer_w = 0.0
        self._probes.look()

    def _upset(self) -> None:
        """Take small steps for a while: hands or the stirrer have moved something at once."""
        motion = self._motion
        reach_w_per_k = motion.bath_bowl_w_per_k + motion.content_w_per_k
        wall_per_s = reach_w_per_k / motion.bowl_j_per_k
        self._calm_parts = max(1, math.ceil(wall_per_s))
        self._restless_parts = max(1, math.ceil(FINE * wall_per_s))
        self._restless_s = CALMS_AFTER / max(wall_per_s, SLOWEST_PER_S)

    def _cover(self) -> None:
        """Follow lid, bowl and level; a dry part that water reaches again gives its heat to it."""
        motion, before = self._motion, self.covered
        self._enough_kg = enough_kg(self._parameters, bowl_in=self.bowl_in)
        self.covered = cover(motion, self._parameters, lid_open=self.lid_open, bowl_in=self.bowl_in)
        if self.covered > before:
            quenched_j = motion.dry_j * (self.covered - before) / (1.0 - before)
            motion.dry_j -= quenched_j
            motion.element_j += quenched_j
        self._share_power()

    def _share_power(self) -> None:
        """Split the element's power between its parts in water and in air."""
        self._motion.wet_w = self._power_w * self.covered
        self._motion.dry_w = self._power_w - self._motion.wet_w

    def _carry_water(self, mass_kg: float, water_c: float) -> None:
        """Bring water of a temperature into the bath, or take it out."""
        heat_j = mass_kg * WATER_J_PER_KG_K * water_c
        self._motion.water_kg += mass_kg
        self._motion.bath_j += heat_j
        self._carried_kg += mass_kg
        self._carried_j += heat_j
        self._feel()

    def _feel(self) -> None:
        """Work out what hands have changed."""
        self._motion.feel()
        self._probes.look()
        self._thick = None
        self._cover()
        self._upset()

    # How heat and mass are counted

    def _content_j_per_kg(self, temp_c: float, crystals_share: float) -> float:
        """Heat in 1 kg of content, J/kg, counted from liquid at 0 °C."""
        filling = self.filling
        warm_j = (filling.warm_j_per_kg_k - filling.cool_j_per_kg_k) * max(
            0.0, temp_c - WARM_FROM_C
        )
        return filling.cool_j_per_kg_k * temp_c + warm_j - filling.latent_j_per_kg * crystals_share

    def _tempered_at_room(self) -> float:
        """Form V in well tempered chocolate at room temperature, fraction of the fat."""
        return self._law.solid(self.room_c)[1] if self.filling.fat else 0.0

    def _stored_j(self) -> float:
        """Heat in everything, J, counted from liquid at 0 °C."""
        motion = self._motion
        vessel_j = motion.bath_j + motion.bowl_j_per_k * motion.wall_c
        return motion.element_j + motion.dry_j + vessel_j + motion.core_j + motion.lump_j

    def _stored_kg(self) -> float:
        """Water in the bath and all that is in the bowl, kg."""
        return self._motion.water_kg + self.mass_kg
