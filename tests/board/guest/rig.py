"""A rig of the board's own lines and chips for the conformance suite, in place of all others.

A plugin for pytest inside the board. Responsible for real drivers on a real kernel, fed by a plant
whose time is handed in; not for the shaft, whose pulses the kernel dates by its own clock, nor for
what is expected of a device.
"""

from functools import partial
from pathlib import Path

from controller.guard.lines import GpioLine
from hardware.linux.attach import InputPlan, LinuxMachine, LinuxPlan, Thermistor, ThermometerPlan
from tests.board.guest import agent, plant
from tests.helpers.rigs import RIGS, LineHeater, Rig
from tests.helpers.served_board import Hand

BOWL = "/sys/bus/i2c/devices/*-004b/iio:device*"
TOO_COLD, OPEN, NONE = 0x8100, 26_400, 0  # -127 °C; the whole supply at 0.125 mV a code
LET_GO, TAKE = "unbind", "bind"  # Documentation/ABI/testing/sysfs-bus of Linux


class BothSwitches:
    """The heater's two lines, in series."""

    def __init__(self) -> None:
        """Taken, off."""
        self._lines = [GpioLine(name) for name in ("HEAT", "SECOND")]

    def set(self, on: bool) -> None:
        """Drive both."""
        for line in self._lines:
            line.set(on=on)

    def close(self) -> None:
        """Drive them off and let go."""
        for line in self._lines:
            line.close()


class Chips:
    """The chips, fed by the plant or with what a test puts into them; some without a driver."""

    def __init__(self, feeder: plant.Feeder) -> None:
        """All whole."""
        self._feeder = feeder
        self._held: dict[str, int] = {}
        self._loose: set[tuple[str, str]] = set()

    def step(self, now_s: float) -> None:
        """What stands in them at that moment."""
        self._feeder.step(now_s)
        for chip, code in self._held.items():
            agent.put(chip, code)

    def hold(self, chip: str, code: int) -> None:
        """This number from now on, whatever the plant says."""
        self._held[chip] = code

    def unplug(self, chip: str, driver: str) -> None:
        """Take a chip from its driver, so that its files go."""
        self._loose.add((chip, driver))
        _tell(driver, LET_GO, chip)

    def mend(self) -> None:
        """Give each its driver again."""
        for chip, driver in self._loose:
            _tell(driver, TAKE, chip)


def _tell(driver: str, word: str, chip: str) -> None:
    file = Path(f"/sys/bus/i2c/drivers/{driver}/{word}")
    if (file.parent / chip).exists() == (word == LET_GO):
        file.write_text(chip, encoding="ascii")


def _input(line: str) -> InputPlan:
    # Its debouncing would take real time, and a test's is handed in.
    return InputPlan(line=line, active_low=False, debounce_s=0.0)


PLAN = LinuxPlan(
    bath=ThermometerPlan(kind="hwmon", place="/etc/board-bath"),
    bowl=ThermometerPlan(
        kind="thermistor",
        place=BOWL,
        thermistor=Thermistor(
            series_ohm=plant.SERIES_OHM,
            supply_mv=plant.SUPPLY_MV,
            is_to_ground=True,
            a=plant.A,
            b=plant.B,
            c=plant.C,
        ),
    ),
    stirrer_line="STIR",
    cooling_line="COOL",
    level=_input("LEVEL"),
    lid=_input("LID"),
    stop=_input("STOP"),
)


def rig(_folder: Path) -> Rig:
    """The board; its guard must have let the heater's lines go."""
    for name in ("LEVEL", "LID", "STOP"):
        agent.pull(name, "up")
    bath, bowl = agent.sensor_of("bath").parents[2].name, plant.CONVERTER.parent.name
    bench, clock = plant.small_bench(), Hand()
    chips, heater = Chips(plant.Feeder(bench)), LineHeater(BothSwitches())
    chips.step(0.0)
    machine = LinuxMachine(PLAN, heater=heater, permit=None, clock_s=clock)

    def measure(now_s: float) -> None:
        heater.turn()
        chips.step(clock.at_s)
        clock.at_s = now_s
        chips.step(now_s)
        machine.take()

    def close() -> None:
        heater.close()
        machine.__exit__(None, None, None)
        chips.mend()

    breakages = (
        partial(chips.hold, bath, TOO_COLD),
        partial(chips.hold, bath, NONE),
        partial(chips.hold, bowl, OPEN),
        partial(chips.hold, bowl, NONE),
        partial(agent.pull, "LEVEL", "down"),
        partial(chips.unplug, bath, "lm75"),
        partial(chips.unplug, bowl, "ads1015"),
    )
    return Rig(
        devices=machine.devices,
        breakages=breakages,
        heated_j=lambda: bench.truth().energy_j,
        measure=measure,
        close=close,
        press=partial(agent.pull, "STOP", "down"),
        open_lid=lambda is_open: agent.pull("LID", "down" if is_open else "up"),
    )


RIGS.clear()
RIGS["the board's lines and chips"] = rig
