"""Actions that may bring a batch back into temper, and what each ends in: the records.

Responsible for the shapes and for what an action costs; not for which there are (rescuing).
"""

import math
from enum import StrEnum
from typing import NamedTuple

from msgspec import Struct

EVEN_S = 300.0  # own engineering value: times that differ by less count as equal


class Act(StrEnum):
    """What can be done."""

    WAIT = "wait"
    WARM = "warm"
    COOL = "cool"
    SEED = "seed"
    TOP_UP = "top-up"
    MELT = "melt"
    MELT_SEED = "melt-and-seed"


class Do(StrEnum):
    """What hands or the machine do in one step of an action."""

    LEAD = "lead"  # the bowl to a temperature
    KEEP = "keep"  # it for a while
    SEED = "seed"
    POUR = "pour"  # melt in


class Move(NamedTuple):
    """One step of an action."""

    do: Do
    temp_c: float = math.nan  # of the bowl, or of what comes in
    span_s: float = 0.0
    share: float = 0.0  # of what comes in, over what was in the bowl


class Action(Struct, frozen=True, kw_only=True):
    """One possible action, step by step."""

    act: Act
    moves: tuple[Move, ...]


class Done(NamedTuple):
    """One step as it was fast-forwarded: what it took."""

    move: Move
    from_c: float  # the bowl before
    takes_s: float
    swapped_kg: float
    added_kg: float


class Ending(Struct, frozen=True, kw_only=True):
    """What an action ends in."""

    action: Action
    steps: tuple[Done, ...]
    confidence: float  # that it is in temper then, and ten minutes later
    takes_s: float
    added_kg: float
    swapped_kg: float
    form_v: tuple[float, float, float]  # a tenth, half, nine tenths; of the fat

    @property
    def cost(self) -> tuple[float, float, float]:
        """What is compared: time to within five minutes, chocolate, then time as it is."""
        whole = math.floor(self.takes_s / EVEN_S) if math.isfinite(self.takes_s) else math.inf
        return whole, self.added_kg, self.takes_s
