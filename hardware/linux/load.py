"""The stirrer's load by its motor's current, which a chip of hwmon measures.

Responsible for watts out of amperes; not for finding the chip (hwmon), nor for what a load means.
"""

from collections.abc import Callable
from dataclasses import dataclass

from controller.ports import Fault, Reading, replace
from hardware.linux.thermometers import ThermometerPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPlan:
    """A motor of direct current, and the chip that measures what it draws."""

    chip: ThermometerPlan
    supply_v: float
    idle_a: float  # what it draws with nothing in the bowl: friction and gear


def measured(plan: LoadPlan, current: Callable[[], Reading]) -> Callable[[], Reading]:
    """The load in W: supply times the current beyond idling, never under 0; or the fault.

    What the windings lose is counted in: who judges a load compares it with that of before.
    """

    def load() -> Reading:
        reading = current()
        if reading.fault is not Fault.NONE:
            return reading
        return replace(reading, value=plan.supply_v * max(0.0, reading.value - plan.idle_a))

    return load
