"""Every thermometer that the kernel shows, for whoever finds out which is which.

Responsible for finding and measuring them; not for what they are (that takes a warm hand). A
converter whose element must be described first (platinum, thermistor) can't be read unnamed.
"""

from collections import defaultdict
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.ports import Sensor
from hardware.bus import Bus, Thermometer
from hardware.linux import hwmon, one_wire
from hardware.linux.thermometers import ThermometerPlan, place_of

_FAMILY = "28-*"  # thermometers of 12 bit
FIRST_ROUND_S = 3.0  # as for a machine's own


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


class Thermometers:
    """Thermometers alone, measured in a thread of each bus; a context that measures meanwhile."""

    sensors: tuple[Sensor, ...]

    def __init__(
        self, plans: Sequence[ThermometerPlan], clock_s: Callable[[], float], root: Path
    ) -> None:
        """Nothing is measured yet; AttachError for a name that stands for more than one."""
        buses: dict[Path, list[Thermometer]] = defaultdict(list)
        sensors = []
        for plan in plans:
            place = place_of(plan, root)
            sensors.append(sensor := Thermometer(place.measure, clock_s))
            buses[place.bus].append(sensor)
        self.sensors = tuple(sensors)
        self._buses = [Bus(path.name, members) for path, members in buses.items()]

    def __enter__(self) -> Self:
        """Begin to measure."""
        for bus in self._buses:
            bus.start()
        for bus in self._buses:
            bus.wait(FIRST_ROUND_S)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Measure no more."""
        for bus in self._buses:
            bus.close()

    def take(self) -> None:
        """One round on every bus, by the caller: for tests."""
        for bus in self._buses:
            bus.take()
