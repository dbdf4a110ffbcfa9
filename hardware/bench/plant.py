"""The plant: heater, bath, bowl and what is in it, integrated lazily up to a moment.

Responsible for what can be seen of it, what hands can do to it, and its books of heat and mass;
not for the equations (motion), sensors' faults or who calls. A plant has no clock and no thread:
each call carries the moment up to which it is to move.
"""

from collections.abc import Callable

from controller.ports import Kind
from hardware.bench.accounts import HeatBalance, MassBalance
from hardware.bench.crystals import Law, two_pools
from hardware.bench.parameters import FILLINGS, WATER_J_PER_KG_K, Parameters
from hardware.bench.settling import filling_of, water_for
from hardware.bench.stepping import Stepper

__all__ = ["HeatBalance", "MassBalance", "Plant"]


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
        filling = self.filling = filling_of(FILLINGS[kind], parameters)
        self._law = law(filling.shift_k)
        self._stepper = Stepper(parameters, filling, self._law, mass_kg, room_c)
        motion = self._motion = self._stepper.motion
        self._stirring = self._stepper.stirring
        # Straight through: asked for in every second, these cost as little as can be.
        self.advance = self._stepper.advance
        self.heat = self._stepper.heat
        self.stir = self._stepper.stir
        self.bath_probe_c = self._stepper.probes.bath_c
        self.guard_probe_c = self._stepper.probes.guard_c
        self.bowl_probe_c = self._stepper.probes.bowl_c
        motion.form_v = self._tempered_at_room()
        motion.memory = 1.0 if motion.form_v else 0.0
        motion.bath_j = room_c * (motion.water_kg * WATER_J_PER_KG_K + motion.pot_j_per_k)
        motion.core_j = mass_kg * filling.heat_j_per_kg(room_c, motion.form_v)
        self._stepper.feel()
        self._carried_j = self._carried_kg = 0.0
        self._start_j, self._start_kg = self._stored_j(), self._stored_kg()

    # What can be seen

    @property
    def parameters(self) -> Parameters:
        """The machine; another may be put in its place, which keeps all temperatures' causes."""
        return self._stepper.parameters

    @parameters.setter
    def parameters(self, parameters: Parameters) -> None:
        self._stepper.parameters = parameters
        self._stepper.settle()

    @property
    def room_c(self) -> float:
        """Temperature of the room now, °C; setting it sets what it drifts around."""
        return self._motion.room_c

    @room_c.setter
    def room_c(self, room_c: float) -> None:
        self._stepper.home_c = room_c
        self._stepper.settle()

    @property
    def bath_c(self) -> float:
        """Temperature of the water, or of a dry pot, °C."""
        return self._motion.bath_c

    @property
    def quiet_c(self) -> float:
        """Temperature of the water that lies apart and hardly mixes, °C."""
        return self._motion.quiet_c

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
        motion, j_per_k = self._motion, self._stepper.parameters.element_j_per_k
        excess_j = motion.element_j / self.covered if self.covered else 0.0
        if self.covered < 1.0:
            excess_j = max(excess_j, motion.dry_j / (1.0 - self.covered))
        return motion.bath_c + excess_j / j_per_k

    @property
    def covered(self) -> float:
        """Share of the element that is under water, 0 to 1."""
        return self._stepper.covered

    @property
    def lid_open(self) -> bool:
        """Whether the lid is off."""
        return self._stepper.lid_open

    @property
    def bowl_in(self) -> bool:
        """Whether the bowl stands in the bath."""
        return self._stepper.bowl_in

    @property
    def element_on_j(self) -> float:
        """Heat that has gone into the element, J."""
        return self._stepper.element_on_j

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
        return self._stirring.load_w(self.mass_kg * self._stepper.thickness())

    def balance(self) -> HeatBalance:
        """Where the heat went since the first call."""
        return HeatBalance(
            put_in_j=self.element_on_j + self._stepper.stirrer_j,
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

    def swap_water(self, *, share: float, water_c: float) -> None:
        """Replace `share` (0 to 1) of the water that is in the bath by as much at `water_c`."""
        motion = self._motion
        quiet_k = share * (water_c - motion.quiet_c)
        motion.quiet_c += quiet_k
        self._carried_j += motion.quiet_j_per_k * quiet_k
        mass_kg = share * (motion.water_kg - motion.quiet_j_per_k / WATER_J_PER_KG_K)
        self._carry_water(-mass_kg, self._motion.bath_c)
        self._carry_water(mass_kg, water_c)

    def pour_water(self, *, mass_kg: float, water_c: float) -> None:
        """Add water at `water_c`; what the pot can't hold runs over, mixed."""
        self._carry_water(mass_kg, water_c)
        holds_kg = water_for(
            self._stepper.parameters.pot_holds, self._stepper.parameters, bowl_in=self.bowl_in
        )
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
        heat_j = mass_kg * self.filling.heat_j_per_kg(room_c, form_v)
        self._carried_j += heat_j
        self._carried_kg += mass_kg
        if not self.filling.fat:
            motion.mix(mass_kg, heat_j, 0.0)
        else:
            motion.memory = self._law.seeded(motion.memory, mass_kg / (self.mass_kg + mass_kg))
            lumps_kg = motion.lump_kg + mass_kg
            motion.lump_v += mass_kg / lumps_kg * (form_v - motion.lump_v)
            motion.lump_kg, motion.lump_j = lumps_kg, motion.lump_j + heat_j
        self._stepper.feel()

    def top_up(self, *, mass_kg: float, content_c: float) -> None:
        """Mix in melted, untempered chocolate at `content_c` (of water: water), at once."""
        if mass_kg <= 0.0:
            return
        motion = self._motion
        heat_j = mass_kg * self.filling.heat_j_per_kg(content_c, 0.0)
        self._carried_j += heat_j
        self._carried_kg += mass_kg
        motion.memory *= motion.core_kg / (motion.core_kg + mass_kg)
        motion.mix(mass_kg, heat_j, 0.0)
        self._stepper.feel()

    def open_lid(self, open_: bool) -> None:
        """Take the lid off, or put it back."""
        self._stepper.lid_open = open_
        self._stepper.settle()

    def lift_bowl(self, out: bool) -> None:
        """Lift the bowl out of the bath into the room's air, or put it back."""
        self._stepper.bowl_in = not out
        self._stepper.settle()

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
        self._stepper.feel()

    def _carry_water(self, mass_kg: float, water_c: float) -> None:
        """Bring water of a temperature into the bath, or take it out."""
        heat_j = mass_kg * WATER_J_PER_KG_K * water_c
        self._motion.water_kg += mass_kg
        self._motion.bath_j += heat_j
        self._carried_kg += mass_kg
        self._carried_j += heat_j
        self._stepper.feel()

    def _tempered_at_room(self) -> float:
        """Form V in well tempered chocolate at room temperature, fraction of the fat."""
        return self._law.solid(self.room_c)[1] if self.filling.fat else 0.0

    def _stored_j(self) -> float:
        """Heat in everything, J, counted from liquid at 0 °C."""
        motion = self._motion
        vessel_j = motion.bath_j + motion.bowl_j_per_k * motion.wall_c
        vessel_j += motion.quiet_j_per_k * motion.quiet_c
        return motion.element_j + motion.dry_j + vessel_j + motion.core_j + motion.lump_j

    def _stored_kg(self) -> float:
        """Water in the bath and all that is in the bowl, kg."""
        return self._motion.water_kg + self.mass_kg
