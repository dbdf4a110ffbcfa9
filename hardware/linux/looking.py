"""Every thermometer that the kernel shows, for whoever finds out which is which.

Responsible for finding and measuring them; not for what they are (that takes a warm hand). A
converter whose element must be described first (platinum, thermistor) can't be read unnamed.
"""

from collections.abc import Callable, Sequence
from pathlib import Path

from controller.ports import Sensor
from hardware.bus import Buses
from hardware.linux import hwmon, one_wire
from hardware.linux.thermometers import ThermometerPlan, place_of

_FAMILY = "28-*"  # thermometers of 12 bit


def unnamed(root: Path) -> tuple[ThermometerPlan, ...]:
    """What can be read without being described: 1-wire, and each hwmon chip with a temperature."""
    folders = sorted((root / one_wire.DEVICES).glob(_FAMILY))
    found = [ThermometerPlan(kind="1-wire", place=folder.name) for folder in folders]
    files = sorted((root / hwmon.CHIPS).glob(f"*/{hwmon.WARMTH.file}"))
    return (
        *found,
        *(
            ThermometerPlan(kind="hwmon", place=f"/{file.relative_to(root)}")
            for file in files
            # The kernel shows each 1-wire thermometer as a chip of hwmon once more.
            if not any(folder.name in str(file.resolve()) for folder in folders)
        ),
    )


def key_of(plan: ThermometerPlan, root: Path) -> str:
    """What is the same for one thermometer by whichever name: its id, or its file."""
    if plan.kind != "hwmon":
        return plan.place
    if plan.place.startswith("/"):
        return str((root / plan.place.lstrip("/")).resolve())
    chips = hwmon.chips_named(root, plan.place)
    return str((chips[0] / hwmon.WARMTH.file).resolve()) if chips else plan.place


class Thermometers(Buses):
    """Thermometers alone, measured in a thread of each bus; a context that measures meanwhile."""

    sensors: tuple[Sensor, ...]

    def __init__(
        self, plans: Sequence[ThermometerPlan], clock_s: Callable[[], float], root: Path
    ) -> None:
        """Nothing is measured yet; AttachError for a name that stands for more than one."""
        super().__init__(clock_s)
        places = [place_of(plan, root) for plan in plans]
        self.sensors = tuple(self.hang(place.bus, place.measure) for place in places)
