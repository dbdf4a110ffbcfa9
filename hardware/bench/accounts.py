"""Where heat and mass went: the books of a bench, which must close.

Responsible for the shape of the two balances; not for what is entered in them (plant).
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatBalance:
    """Where the heat went since the first call, J. Heat counts from liquid at 0 °C."""

    put_in_j: float  # by the element and the stirrer
    carried_j: float  # by what was poured in, less what was poured out or spilled
    stored_j: float  # gained by element, bath, bowl, content and lumps in it
    lost_j: float  # to the room, as warmth and with the vapour

    @property
    def gap_j(self) -> float:
        """What is unaccounted for; rounding only."""
        return self.put_in_j + self.carried_j - self.stored_j - self.lost_j


@dataclass(frozen=True, slots=True, kw_only=True)
class MassBalance:
    """Where water and content went since the first call, kg."""

    carried_kg: float  # poured or put in, less what was poured out or spilled
    evaporated_kg: float  # less what condensed
    stored_kg: float  # gained by bath and bowl

    @property
    def gap_kg(self) -> float:
        """What is unaccounted for; rounding only."""
        return self.carried_kg - self.evaporated_kg - self.stored_kg
