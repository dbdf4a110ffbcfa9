"""The plant: heater, bath, bowl and what is in it, integrated lazily up to a moment.

Responsible for temperatures, crystals, heat and mass; not for sensors' faults or for who calls.
A plant has no clock and no thread: each call carries the moment up to which it is to move.
"""

import math
from dataclasses import dataclass

from controller.ports import Kind
from hardware.bench import crystals, flow, moist
from hardware.bench.parameters import FILLINGS, WATER_J_PER_KG_K, Parameters

STEP_S = 1.0  # Heun's method with 1 s stays within a millikelvin of a tight solution
SLIVER_S = 1e-9  # less than this of a second is rounding of the caller's clock
WARM_FROM_C = 40.0  # where the tables of chocolate's specific heat change
STANDS_BELOW_RPM = 0.01
# Film conductance of a stirred vessel rises with the 2/3 power of the speed (textbook
# correlation, from memory, not checked).
SPEED_POWER = 2.0 / 3.0

State = list[float]
Rates = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatBalance:
    """Where the heat went since the first call, J. Heat counts from liquid at 0 °C."""

    put_in_j: float  # by the element and the stirrer
    carried_j: float  # by what the cook poured in, less what was poured out
    stored_j: float  # gained by element, bath, bowl and content
    lost_j: float  # to the room, as warmth and as vapour

    @property
    def gap_j(self) -> float:
        """What is unaccounted for; rounding only."""
        return self.put_in_j + self.carried_j - self.stored_j - self.lost_j


class Plant:
    """The physics of one bench."""

    def __init__(
        self, *, parameters: Parameters, kind: Kind, mass_kg: float, room_c: float
    ) -> None:
        """Everything at room temperature; chocolate is solid and well tempered."""
        self.parameters = parameters
        self.filling = FILLINGS[kind]
        self.room_c = room_c
        self.mass_kg = mass_kg
        self.rpm = 0.0
        self.element_on_j = 0.0
        self._now_s: float | None = None
        self._element_w = 0.0
        self._target_rpm = 0.0
        self._stirrer_j = 0.0
        self._carried_j = 0.0
        self._settle_constants()
        self._couple()
        form_v = self._tempered_at_room()
        content_j = self._content_j_per_kg(room_c, form_v)
        # element J, bath °C, bowl °C, content J/kg, unstable, form V, memory, probes °C, lost J
        memory = 1.0 if form_v else 0.0
        self._x: State = [0.0, room_c, room_c, content_j, 0.0, form_v, memory, room_c, room_c, 0.0]
        self._start_j = self._stored_j()

    def _settle_constants(self) -> None:
        """Work out once what the rates need in every step."""
        parameters, filling = self.parameters, self.filling
        self._latent = filling.latent_j_per_kg
        self._cool, self._warm = filling.cool_j_per_kg_k, filling.warm_j_per_kg_k
        self._warm_from_j = self._cool * WARM_FROM_C
        self._curves = crystals.curves(filling.shift_k)
        self._bath_j_per_k = parameters.water_kg * WATER_J_PER_KG_K + parameters.pot_j_per_k
        self._air_kpa = parameters.room_humidity * moist.vapour_kpa(self.room_c)
        self._kpa_w = moist.per_kpa_w(parameters.water_surface_m2, parameters.air_m_per_s)

    def _couple(self) -> None:
        """Follow the stirrer's speed: conductance, shear and the load per thickness."""
        parameters = self.parameters
        share = self.rpm / parameters.stirred_rpm
        still = parameters.bowl_mass_still_w_per_k
        stirred = parameters.bowl_mass_stirred_w_per_k
        self._content_w_per_k = still + (stirred - still) * share**SPEED_POWER
        per_s = parameters.stirred_per_s * share
        self._shear = crystals.shear(per_s)
        self._unit_load_w = flow.unit_load_w(self.filling, per_s, parameters.stirred_per_s)

    # What can be seen

    @property
    def bath_c(self) -> float:
        """Temperature of the water, °C."""
        return self._x[1]

    @property
    def content_c(self) -> float:
        """Temperature of what is in the bowl, °C."""
        return self._content_at_c(self._x[3] + self._latent * (self._x[4] + self._x[5]))

    @property
    def unstable(self) -> float:
        """Fat solid in forms I to IV, fraction of all fat."""
        return self._x[4]

    @property
    def form_v(self) -> float:
        """Fat solid in form V, fraction of all fat."""
        return self._x[5]

    @property
    def memory(self) -> float:
        """What the melt remembers of crystals, 0 to 1."""
        return self._x[6]

    @property
    def load_w(self) -> float:
        """What the stirrer's shaft takes, W; all of it ends as heat in the bowl."""
        if not self.rpm:
            return 0.0
        thick = flow.thickening(self.content_c, self._x[4] + self._x[5])
        return self._unit_load_w * self.mass_kg * thick

    def bath_probe_c(self, ago_s: float) -> float:
        """What the bath's thermometer was at `ago_s` before now, °C."""
        probe_c = self._x[7]
        return probe_c - ago_s * (self.bath_c - probe_c) / self.parameters.bath_probe_lag_s

    def bowl_probe_c(self, ago_s: float) -> float:
        """What the bowl's thermometer was at `ago_s` before now, °C."""
        probe_c = self._x[8]
        return probe_c - ago_s * (self.content_c - probe_c) / self.filling.probe_lag_s

    def balance(self) -> HeatBalance:
        """Where the heat went since the first call."""
        return HeatBalance(
            put_in_j=self.element_on_j + self._stirrer_j,
            carried_j=self._carried_j,
            stored_j=self._stored_j() - self._start_j,
            lost_j=self._x[9],
        )

    # What can be done

    def heat(self, power_w: float) -> None:
        """Put `power_w` into the element from now on."""
        self._element_w = power_w

    def stir(self, rpm: float) -> None:
        """Let the motor seek `rpm`, or the most it can, from now on."""
        self._target_rpm = min(rpm, self.parameters.most_rpm)

    def swap_water(self, *, share: float, water_c: float) -> None:
        """Replace `share` (0 to 1) of the bath's water by as much at `water_c`."""
        swapped_j_per_k = share * self.parameters.water_kg * WATER_J_PER_KG_K
        brought_j = swapped_j_per_k * (water_c - self._x[1])
        self._x[1] += brought_j / self._bath_j_per_k
        self._carried_j += brought_j

    def add_seed(self, mass_kg: float) -> None:
        """Mix in tempered seed (of water: water) at room temperature; all masses in kg."""
        form_v = self._tempered_at_room()
        seed_j_per_kg = self._content_j_per_kg(self.room_c, form_v)
        total_kg = self.mass_kg + mass_kg
        share = mass_kg / total_kg
        self._x[3] += share * (seed_j_per_kg - self._x[3])
        self._x[4] -= share * self._x[4]
        self._x[5] += share * (form_v - self._x[5])
        self._x[6] = 1.0 if form_v else 0.0
        self._carried_j += mass_kg * seed_j_per_kg
        self.mass_kg = total_kg

    def advance(self, now_s: float) -> None:
        """Move to `now_s`; the first call sets the origin, an earlier moment does nothing."""
        if self._now_s is None:
            self._now_s = now_s
        elapsed_s = now_s - self._now_s
        if not elapsed_s > 0.0:
            return
        self._now_s = now_s
        whole = int(elapsed_s)
        for _ in range(whole):
            self._step(STEP_S)
        if elapsed_s - whole > SLIVER_S:
            self._step(elapsed_s - whole)

    # How it moves

    def _step(self, step_s: float) -> None:
        """One step of Heun's method; speed and load are held over it."""
        if self.rpm != self._target_rpm:
            self._turn(step_s)
        stirrer_w = self.load_w
        state = self._x
        first = self._rates(state, stirrer_w)
        ahead = [value + step_s * rate for value, rate in zip(state, first, strict=True)]
        second = self._rates(ahead, stirrer_w)
        half_s = 0.5 * step_s
        self._x = [
            value + half_s * (one + two)
            for value, one, two in zip(state, first, second, strict=True)
        ]
        self.element_on_j += self._element_w * step_s
        self._stirrer_j += stirrer_w * step_s

    def _turn(self, step_s: float) -> None:
        """Let the stirrer come nearer to the speed it seeks."""
        left = (self.rpm - self._target_rpm) * math.exp(-step_s / self.parameters.spin_up_s)
        self.rpm = self._target_rpm + (left if abs(left) > STANDS_BELOW_RPM else 0.0)
        self._couple()

    def _rates(self, state: State, stirrer_w: float) -> Rates:
        """Rate of change of each entry of the state, per second."""
        element_j, bath_c, bowl_c, content, unstable, form_v, memory, bath_p_c, bowl_p_c, _ = state
        parameters, room_c = self.parameters, self.room_c
        content_c = self._content_at_c(content + self._latent * (unstable + form_v))
        element_w = element_j / parameters.heater_lag_s
        bowl_w = parameters.bath_bowl_w_per_k * (bath_c - bowl_c)
        content_w = self._content_w_per_k * (bowl_c - content_c)
        air_w = parameters.mass_air_w_per_k * (content_c - room_c)
        room_w = parameters.pot_room_w_per_k * (bath_c - room_c)
        room_w += moist.evaporation_w(bath_c, self._air_kpa, self._kpa_w)
        solidifying = (0.0, 0.0, 0.0)
        if self._latent:
            pools = crystals.Pools(unstable, form_v, memory)
            solidifying = crystals.rates(content_c, pools, self._shear, self._curves)
        return (
            self._element_w - element_w,
            (element_w - bowl_w - room_w) / self._bath_j_per_k,
            (bowl_w - content_w) / parameters.bowl_j_per_k,
            (content_w - air_w + stirrer_w) / self.mass_kg,
            *solidifying,
            (bath_c - bath_p_c) / parameters.bath_probe_lag_s,
            (content_c - bowl_p_c) / self.filling.probe_lag_s,
            room_w + air_w,
        )

    # How heat and temperature belong together

    def _content_at_c(self, sensible_j_per_kg: float) -> float:
        """Temperature of the content whose heat without crystallisation is given, °C."""
        if sensible_j_per_kg <= self._warm_from_j:
            return sensible_j_per_kg / self._cool
        return WARM_FROM_C + (sensible_j_per_kg - self._warm_from_j) / self._warm

    def _content_j_per_kg(self, temp_c: float, crystals_share: float) -> float:
        """Heat in 1 kg of content, J/kg, counted from liquid at 0 °C."""
        warm_j = (self._warm - self._cool) * max(0.0, temp_c - WARM_FROM_C)
        return self._cool * temp_c + warm_j - self._latent * crystals_share

    def _tempered_at_room(self) -> float:
        """Form V in well tempered chocolate at room temperature, fraction of the fat."""
        if not self._latent:
            return 0.0
        return crystals.solid(self._curves, self.room_c)[1]

    def _stored_j(self) -> float:
        """Heat in everything, J, counted from liquid at 0 °C."""
        element_j, bath_c, bowl_c, content = self._x[:4]
        vessel_j = self._bath_j_per_k * bath_c + self.parameters.bowl_j_per_k * bowl_c
        return element_j + vessel_j + self.mass_kg * content
