"""Which thermometer is meant, how it is measured, and which bus it hangs on.

Responsible for turning a plan into a measurement; not for the measurement, nor for its thread.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Literal

from controller.ports import Fault, Reading
from hardware.linux import hwmon, iio, one_wire
from hardware.linux.errors import AttachError
from hardware.linux.platinum import Platinum
from hardware.linux.thermistor import Thermistor

# How the kernel names the folders of the buses that serve one device after the other.
_BUS = re.compile(r"w1_bus_master[0-9]+|i2c-[0-9]+|spi[0-9]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermometerPlan:
    """Where a thermometer is found, and what it is made of."""

    kind: Literal["1-wire", "hwmon", "iio", "platinum", "thermistor"]
    # 1-wire: its id; hwmon: the chip's name, or the whole path of a file; the others: the name of
    # the converter, or the path of its folder with a * for the number.
    place: str
    platinum: Platinum | None = None
    thermistor: Thermistor | None = None
    channel: int = 0  # of a thermistor's converter


@dataclass(frozen=True, slots=True)
class Place:
    """A thermometer that can be measured."""

    measure: Callable[[], Reading]  # may block as long as its bus does
    bus: Path  # what is the same for all that share a bus


def place_of(plan: ThermometerPlan, root: Path, what: hwmon.Quantity = hwmon.WARMTH) -> Place:
    """The thermometer of that plan, or what else its chip of hwmon measures.

    Raises:
        AttachError: its name stands for more than one.
    """
    if plan.kind == "1-wire":
        folder = root / one_wire.DEVICES / plan.place
        return Place(partial(one_wire.measure, folder), folder.resolve().parent)
    if plan.kind == "hwmon":
        return _hwmon(plan.place, root, what)
    folder = _converter(plan.place, root)
    return Place(_converted(plan, root), bus_of(folder))


def bus_of(device: Path) -> Path:
    """The folder of the bus that a device hangs on; the device's own where none is named."""
    resolved = device.resolve()
    buses = [parent for parent in resolved.parents if _BUS.fullmatch(parent.name)]
    return buses[0] if buses else resolved


def _hwmon(place: str, root: Path, what: hwmon.Quantity) -> Place:
    if place.startswith("/"):
        path = root / place.lstrip("/")
        return Place(partial(hwmon.measure, path, what), bus_of(path.resolve().parent))
    found = hwmon.chips_named(root, place)
    if len(found) > 1:
        raise AttachError(
            f'There are {len(found)} hwmon chips named "{place}"; write in the machine file '
            f'path = "{found[0] / what.file}" instead, or the path of the right one.'
        )
    chip = found[0] if found else root / hwmon.CHIPS / place
    return Place(partial(hwmon.measure_named, root, place, what), bus_of(chip))


def _converter(place: str, root: Path) -> Path:
    """The converter's folder, or where it would be."""
    folder = iio.folder_of(root, place)
    if folder is Fault.DEVICE:
        raise AttachError(
            f'There is more than one IIO device at "{place}"; write in the machine file the path '
            'of the right one by its bus, like path = "/sys/bus/spi/devices/spi0.0/iio:device*".'
        )
    return root / iio.DEVICES / place.lstrip("/") if isinstance(folder, Fault) else folder


def _converted(plan: ThermometerPlan, root: Path) -> Callable[[], Reading]:
    if plan.platinum is not None:
        return partial(iio.measure_platinum, root, plan.place, plan.platinum)
    if plan.thermistor is not None:
        return partial(iio.measure_thermistor, root, plan.place, plan.channel, plan.thermistor)
    return partial(iio.measure, root, plan.place)
