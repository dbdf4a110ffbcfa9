"""A machine as the core sees it: limits, nominal sizes and what is fitted.

Responsible for the compiled ceilings that no file may raise; not for reading machine.toml.
"""

from msgspec import Struct

BATH_CEILING_C = 70.0
BOWL_CEILING_C = 60.0
MAINS_V = 230.0  # nominal voltage after IEC 60038 (from memory); a machine file may say otherwise
COLD_WATER_C = 15.0  # own engineering value: a tap that has run a while, in summer
WATER_J_PER_KG_K = 4180.0  # IAPWS: 4184 at 20 °C, 4181 at 50 °C; 0.1 % is no matter here


class Cooler(Struct, frozen=True, kw_only=True):
    """A cooling output, as its owner describes it."""

    carries_w_per_k: float  # out of the bath, for each kelvin that the bath is over `sink_c`
    sink_c: float  # of the water that a pump brings, or of the room for a fan
    min_on_s: float
    min_off_s: float
    is_fan: bool = False


class Machine(Struct, frozen=True, kw_only=True):
    """The machine as its owner describes it; all of it may be wrong by 10 to 20 %."""

    name: str
    period_s: float
    bath_max_c: float
    bowl_max_c: float
    water_kg: float
    vessel_j_per_k: float  # bath vessel and bowl together
    batch_kg: float
    heater_w: float
    loss_w_per_k: float  # bath to room, lid on
    room_c: float
    min_on_s: float
    min_off_s: float
    bath_offset_k: float  # added to the raw reading
    bowl_offset_k: float
    has_level: bool
    has_shaft: bool
    has_load: bool
    has_guard: bool = False
    keeps_trips: bool = False  # the guard remembers a trip until somebody re-arms it
    file: str = "FILE"  # as it is typed in a command
    has_second: bool = False  # another switch in series with the heater's relay
    has_mains: bool = False  # the guard sees whether voltage stands behind the switches
    has_current: bool = False  # the element's current is measured
    has_lid: bool = False  # a switch under the lid
    has_stop: bool = False  # a stop button that is read, too
    mains_v: float = MAINS_V
    has_bath: bool = True  # a thermometer in the bath
    has_bowl: bool = True  # and one in the bowl
    has_stirrer: bool = True
    cooler: Cooler | None = None
    cold_water_c: float = COLD_WATER_C  # what a cook has at hand to swap the bath's for

    @property
    def bath_j_per_k(self) -> float:
        """Heat capacity of the bath with its vessel, J/K."""
        return self.water_kg * WATER_J_PER_KG_K + self.vessel_j_per_k

    @property
    def heater_a(self) -> float:
        """What the element draws at its nominal power, A."""
        return self.heater_w / self.mains_v
