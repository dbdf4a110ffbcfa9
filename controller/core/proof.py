"""How far the proof of a start has come, before which nothing is heated.

Responsible for its steps and for what is remembered of them; not for taking them (start_proof), nor
for what a defect leads to (start_rows).
"""

import math
from enum import StrEnum

from msgspec import Struct


class Step(StrEnum):
    """What is being proven, in this order; heat is given from `HEAT` on."""

    KIND = "kind"  # somebody says what is in the bowl
    LOOK = "look"  # every sensor gives a sound value, and those in one water agree
    OFF = "off"  # the heater is told to be off and seen to be
    FIRST = "first"  # the first switch alone closes, and the heater stays off
    SECOND = "second"  # and so the second
    HEAT = "heat"  # a first heat, and the bath answers it
    DONE = "done"


class Proof(Struct, frozen=True, kw_only=True):
    """What is proven so far, and what was found wanting."""

    step: Step = Step.DONE
    step_s: float = 0.0  # how long it has been at it
    mistaken: str = ""  # what is in the bowl, where that is not what the profile is for
    apart_k: float = 0.0  # the guard's thermometer over the bath probe before any heat
    cold_apart_k: float = math.nan  # the same, kept for the run; NaN for water that was warm
    colder_k: float = 0.0  # by which the bowl is colder than a bath as warm as the room
    stuck: int = 0  # 1 or 2: the switch that was closed though it was told to be open
    bowl_from_c: float = math.nan  # as heat began; NaN before it, and once the bowl has followed
    bowl_due_k: float = 0.0  # what the bath has warmed the slowest bowl by since then
    bowl_rise_k: float = 0.0


PROVEN = Proof()
