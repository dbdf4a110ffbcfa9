"""How a plant moves: its state, the rate of change of each part, and the step over time.

Responsible for the equations and their integration; not for hands, books or sensors (plant). It is
the bench's innermost loop: plain numbers, nothing made anew in a step but what the law returns.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from hardware.bench.crystals import Rates as CrystalRates
from hardware.bench.crystals import Shear
from hardware.bench.moist import (
    BOILS_C,
    MAGNUS_C,
    MAGNUS_KPA,
    MAGNUS_SLOPE,
    VAPOUR_AT_0_C_J_PER_KG,
    VAPOUR_J_PER_KG_K,
)
from hardware.bench.parameters import WARM_FROM_C, WATER_J_PER_KG_K

GONE = 1e-9  # a fraction this small in a clear melt is none
LUMP_MELTS_PER_S = 1 / 90.0  # own engineering value: form V melts as in the first crystal law
LUMP_ENDS_KG = 1e-6

Rates = tuple[float, ...]


@dataclass(slots=True, eq=False)
class Motion:
    """State and equations. The plant settles the constants; `step` moves the state.

    Heat content counts from liquid at 0 °C. The element's excess is what it holds beyond the
    bath's temperature: its part under water gives it to the bath within a lag, its dry part to pot
    and room.
    """

    # State
    element_j: float = 0.0  # excess of the part under water
    dry_j: float = 0.0  # excess of the dry part
    bath_j: float = 0.0  # without the quiet water's
    quiet_c: float = 0.0  # of the water that hardly mixes
    water_kg: float = 0.0
    wall_c: float = 0.0
    core_j: float = 0.0  # of all that is in the bowl but its lumps
    core_kg: float = 0.0  # the same, without splashed water
    splashed_kg: float = 0.0
    unstable: float = 0.0
    form_v: float = 0.0
    memory: float = 0.0
    lump_kg: float = 0.0
    lump_j: float = 0.0
    lump_v: float = 0.0  # form V in the lumps
    lost_j: float = 0.0
    evaporated_kg: float = 0.0
    # What follows from it
    bath_c: float = 0.0
    content_c: float = 0.0
    lump_c: float = 0.0
    # What drives it
    wet_w: float = 0.0  # the element's power under water
    dry_w: float = 0.0
    stirrer_w: float = 0.0
    room_c: float = 0.0
    # Constants, settled by the plant
    heater_lag_s: float = 0.0
    dry_pot_per_s: float = 0.0
    dry_air_per_s: float = 0.0
    pot_j_per_k: float = 0.0  # less what of the water is quiet
    quiet_j_per_k: float = 0.0
    quiet_w_per_k: float = 0.0
    bowl_j_per_k: float = 0.0
    bath_bowl_w_per_k: float = 0.0
    content_w_per_k: float = 0.0
    pot_room_w_per_k: float = 0.0
    mass_air_w_per_k: float = 0.0
    wall_air_w_per_k: float = 0.0
    kpa_w: float = 0.0
    air_kpa: float = 0.0
    boil_w_per_k: float = 0.0
    film: float = 0.0  # where the film stands between core (0) and wall (1)
    film_share: float = 0.0
    latent_j_per_kg: float = 0.0
    cool_j_per_kg_k: float = 0.0
    warm_j_per_kg_k: float = 0.0
    clear_c: float = 0.0  # nothing solid can be above it
    softens_c: float = 0.0
    lump_w_per_kg_k: float = 0.0
    disperses_per_k_s: float = 0.0
    law_rates: Callable[[float, float, float, float, Shear], CrystalRates] = field(init=False)
    law_solid: Callable[[float], tuple[float, float]] = field(init=False)
    sheared: Shear = field(init=False)
    # The same for all that is in the bowl, from `weigh`
    latent_j: float = 0.0
    cool_j_per_k: float = 0.0
    warm_j_per_k: float = 0.0
    warm_from_j: float = 0.0

    # Temperatures of what is known by its heat

    def weigh(self) -> None:
        """Follow the mass in the bowl: what its heat and its crystals come to."""
        core_kg, splashed_j_per_k = self.core_kg, self.splashed_kg * WATER_J_PER_KG_K
        self.latent_j = core_kg * self.latent_j_per_kg
        self.cool_j_per_k = core_kg * self.cool_j_per_kg_k + splashed_j_per_k
        self.warm_j_per_k = core_kg * self.warm_j_per_kg_k + splashed_j_per_k
        self.warm_from_j = WARM_FROM_C * self.cool_j_per_k

    def feel(self) -> None:
        """Work out the temperatures anew, after hands have changed heat or mass."""
        self.weigh()
        self.bath_c = self.bath_j / (self.water_kg * WATER_J_PER_KG_K + self.pot_j_per_k)
        self.content_c = self._content_at_c(
            self.core_j + self.latent_j * (self.unstable + self.form_v)
        )
        if self.lump_kg:
            self.lump_c = self.warmth_c(
                self.lump_j / self.lump_kg + self.latent_j_per_kg * self.lump_v
            )

    def hush(self, j_per_k: float) -> None:
        """Let so much of the water hardly mix from now on; what changes sides brings its heat."""
        more = j_per_k - self.quiet_j_per_k
        if more > 0.0:
            self.bath_j -= more * self.bath_c
            self.quiet_c += more / j_per_k * (self.bath_c - self.quiet_c)
        else:
            self.bath_j -= more * self.quiet_c
        self.pot_j_per_k -= more
        self.quiet_j_per_k = j_per_k
        if more:
            self.bath_c = self.bath_j / (self.water_kg * WATER_J_PER_KG_K + self.pot_j_per_k)

    def mingle(self, span_s: float) -> None:
        """What passes between the quiet water and the rest in a short while."""
        heat_j = self.quiet_w_per_k * (self.bath_c - self.quiet_c) * span_s
        self.quiet_c += heat_j / self.quiet_j_per_k
        self.bath_j -= heat_j
        self.bath_c = self.bath_j / (self.water_kg * WATER_J_PER_KG_K + self.pot_j_per_k)

    def clear(self) -> None:
        """Take the last trace of crystals, and of their memory, out of a clear melt."""
        self.form_v = 0.0
        if self.unstable < GONE:
            self.unstable = 0.0
        if self.memory < GONE:
            self.memory = 0.0

    def _content_at_c(self, sensible_j: float) -> float:
        """Temperature of the core whose heat without crystallisation is given, °C."""
        if sensible_j <= self.warm_from_j:
            return sensible_j / self.cool_j_per_k
        return WARM_FROM_C + (sensible_j - self.warm_from_j) / self.warm_j_per_k

    def warmth_c(self, sensible_j_per_kg: float) -> float:
        """Temperature of content whose heat without crystallisation is given, °C."""
        warm_from_j = self.cool_j_per_kg_k * WARM_FROM_C
        if sensible_j_per_kg <= warm_from_j:
            return sensible_j_per_kg / self.cool_j_per_kg_k
        return WARM_FROM_C + (sensible_j_per_kg - warm_from_j) / self.warm_j_per_kg_k

    # How fast each part changes

    def _rates(  # noqa: PLR0917 - bare numbers by place: the innermost call
        self,
        element_j: float,
        bath_c: float,
        wall_c: float,
        content_c: float,
        unstable: float,
        form_v: float,
        memory: float,
    ) -> Rates:
        """Per second: element, bath, water, wall, core, unstable, form V, memory, lost."""
        room_c = self.room_c
        element_w = element_j / self.heater_lag_s
        bowl_w = self.bath_bowl_w_per_k * (bath_c - wall_c)
        content_w = self.content_w_per_k * (wall_c - content_c)
        wall_air_w = self.wall_air_w_per_k * (wall_c - room_c)
        air_w = self.mass_air_w_per_k * (content_c - room_c)
        room_w = self.pot_room_w_per_k * (bath_c - room_c)
        kpa = MAGNUS_KPA * math.exp(MAGNUS_SLOPE * bath_c / (bath_c + MAGNUS_C)) - self.air_kpa
        steam_w = self.kpa_w * kpa
        if bath_c > BOILS_C:
            steam_w += self.boil_w_per_k * (bath_c - BOILS_C)
        steam = steam_w / (VAPOUR_AT_0_C_J_PER_KG - VAPOUR_J_PER_KG_K * bath_c)
        room_w += steam_w + steam * WATER_J_PER_KG_K * bath_c
        d_unstable = d_form_v = d_memory = 0.0
        if content_c < self.clear_c or unstable or form_v or memory:
            d_unstable, d_form_v, d_memory = self.law_rates(
                content_c, unstable, form_v, memory, self.sheared
            )
        if self.film_share:
            core = (d_unstable, d_form_v, d_memory)
            film_c = content_c + self.film * (wall_c - content_c)
            film = self.law_rates(film_c, unstable, form_v, memory, self.sheared)
            d_unstable, d_form_v, d_memory = self._with_film(core, film)
        return (
            self.wet_w - element_w,
            element_w - bowl_w - room_w,
            -steam,
            (bowl_w - content_w - wall_air_w) / self.bowl_j_per_k,
            content_w - air_w + self.stirrer_w,
            d_unstable,
            d_form_v,
            d_memory,
            room_w + air_w + wall_air_w,
        )

    def _with_film(self, core: CrystalRates, film: CrystalRates) -> CrystalRates:
        """Rates of the whole where a share of it reacts at the film's temperature."""
        share = self.film_share
        unstable, form_v, memory = (
            at_core + share * (at_film - at_core)
            for at_core, at_film in zip(core, film, strict=True)
        )
        return unstable, form_v, memory

    def step(self, step_s: float) -> None:
        """One step of Heun's method; what drives the state is held over it."""
        element_j, bath_j, water_kg, wall_c = (
            self.element_j,
            self.bath_j,
            self.water_kg,
            self.wall_c,
        )
        core_j, unstable, form_v, memory = self.core_j, self.unstable, self.form_v, self.memory
        latent_j, pot_j_per_k = self.latent_j, self.pot_j_per_k
        a_element, a_bath, a_water, a_wall, a_core, a_unstable, a_form_v, a_memory, a_lost = (
            self._rates(element_j, self.bath_c, wall_c, self.content_c, unstable, form_v, memory)
        )
        ahead_u, ahead_v = unstable + step_s * a_unstable, form_v + step_s * a_form_v
        ahead_kg = water_kg + step_s * a_water
        ahead_j = core_j + step_s * a_core + latent_j * (ahead_u + ahead_v)
        b_element, b_bath, b_water, b_wall, b_core, b_unstable, b_form_v, b_memory, b_lost = (
            self._rates(
                element_j + step_s * a_element,
                (bath_j + step_s * a_bath) / (ahead_kg * WATER_J_PER_KG_K + pot_j_per_k),
                wall_c + step_s * a_wall,
                self._content_at_c(ahead_j),
                ahead_u,
                ahead_v,
                memory + step_s * a_memory,
            )
        )
        half_s = 0.5 * step_s
        self.element_j = element_j + half_s * (a_element + b_element)
        self.bath_j = bath_j = bath_j + half_s * (a_bath + b_bath)
        gone_kg = half_s * (a_water + b_water)
        self.evaporated_kg -= gone_kg
        self.water_kg = water_kg = water_kg + gone_kg
        self.wall_c = wall_c + half_s * (a_wall + b_wall)
        self.core_j = core_j = core_j + half_s * (a_core + b_core)
        self.unstable = unstable = unstable + half_s * (a_unstable + b_unstable)
        self.form_v = form_v = form_v + half_s * (a_form_v + b_form_v)
        self.memory = memory + half_s * (a_memory + b_memory)
        self.lost_j += half_s * (a_lost + b_lost)
        self.bath_c = bath_j / (water_kg * WATER_J_PER_KG_K + pot_j_per_k)
        self.content_c = self._content_at_c(core_j + latent_j * (unstable + form_v))

    def rare_step(self, step_s: float) -> None:
        """The same with lumps in the bowl or a dry element: exchanges split evenly around it."""
        self._exchange(0.5 * step_s)
        self.step(step_s)
        self._exchange(0.5 * step_s)

    def _exchange(self, span_s: float) -> None:
        """What passes between lumps and melt, and from a dry element, in a short while."""
        if self.lump_kg:
            self._melt_lumps(span_s)
        if self.dry_w or self.dry_j:
            self._glow(span_s)
        self.feel()

    def _lump_flows(
        self, content_c: float, lump_kg: float, lump_c: float, lump_v: float
    ) -> tuple[float, float, float]:
        """Heat into the lumps W, form V melting in them 1/s, mass that comes off them kg/s."""
        over = max(0.0, lump_v - self.law_solid(lump_c)[1])
        coming_off = self.disperses_per_k_s * max(0.0, lump_c - self.softens_c)
        heat_w = self.lump_w_per_kg_k * lump_kg * (content_c - lump_c)
        return heat_w, over * LUMP_MELTS_PER_S, coming_off * lump_kg

    def _melt_lumps(self, span_s: float) -> None:
        """Lumps warm, soften and join the melt with their heat and crystals; midpoint rule."""
        lump_kg, lump_j, lump_v, lump_c = self.lump_kg, self.lump_j, self.lump_v, self.lump_c
        half_s = 0.5 * span_s
        heat_w, softening, off = self._lump_flows(self.content_c, lump_kg, lump_c, lump_v)
        mid_v = lump_v - half_s * softening
        mid_j_per_kg = lump_j / lump_kg + half_s * heat_w / lump_kg
        heat_w, softening, off = self._lump_flows(
            self.content_c - half_s * heat_w / self.cool_j_per_k,
            lump_kg - half_s * off,
            self.warmth_c(mid_j_per_kg + self.latent_j_per_kg * mid_v),
            mid_v,
        )
        off_kg = min(lump_kg, span_s * off)
        if lump_kg - off_kg < LUMP_ENDS_KG:
            off_kg, span_s = lump_kg, 0.0
        self.mix(off_kg, off_kg * mid_j_per_kg if span_s else lump_j, mid_v)
        self.lump_kg = lump_kg - off_kg
        self.lump_j = lump_j - off_kg * mid_j_per_kg + span_s * heat_w if span_s else 0.0
        self.lump_v = lump_v - span_s * softening
        self.core_j -= span_s * heat_w

    def mix(self, mass_kg: float, heat_j: float, form_v: float) -> None:
        """Mix mass with its heat and its crystals into the core."""
        self.core_kg += mass_kg
        self.core_j += heat_j
        share = mass_kg / self.core_kg
        self.unstable -= share * self.unstable
        self.form_v += share * (form_v - self.form_v)

    def _glow(self, span_s: float) -> None:
        """A dry element heats itself, then pot and room; midpoint rule."""
        gives_per_s = self.dry_pot_per_s + self.dry_air_per_s
        mid_j = self.dry_j + 0.5 * span_s * (self.dry_w - gives_per_s * self.dry_j)
        self.dry_j += span_s * (self.dry_w - gives_per_s * mid_j)
        self.bath_j += span_s * self.dry_pot_per_s * mid_j
        self.lost_j += span_s * self.dry_air_per_s * mid_j
