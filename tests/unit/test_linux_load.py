"""The stirrer's load by its motor's current.

Responsible for watts out of a chip's file; not for what a load says of chocolate.
"""

from pathlib import Path

import pytest

from controller.ports import Fault
from hardware.linux.attach import LinuxMachine, LinuxPlan, LoadPlan, ThermometerPlan
from tests.helpers import kernel_tree
from tests.helpers.file_machine import NoLine
from tests.helpers.rigs import Meter

CHIP = ThermometerPlan(kind="hwmon", place="ina219")


def load_of(root: Path, idle_a: float = 0.2) -> tuple[float, Fault]:
    """What a motor of 12 V shows, whose chip is in that tree."""
    plan = LinuxPlan(
        bath=None,
        bowl=None,
        stirrer_line=None,
        load=LoadPlan(chip=CHIP, supply_v=12.0, idle_a=idle_a),
    )
    machine = LinuxMachine(
        plan, heater=Meter(), permit=None, clock_s=lambda: 0.0, root=root, open_line=NoLine
    )
    machine.take()
    assert machine.devices.load is not None
    assert machine.devices.current is None
    reading = machine.devices.load.read(0.0)
    return reading.value, reading.fault


@pytest.mark.parametrize(
    ("current_ma", "load_w"), [(900, 8.4), (-900, 8.4), (200, 0.0), (150, 0.0), (0, 0.0)]
)
def test_the_load_is_the_supply_times_what_is_drawn_beyond_idling(
    tmp_path: Path, current_ma: int, load_w: float
) -> None:
    kernel_tree.hwmon(tmp_path, 0, "ina219", current_ma, file="curr1_input")
    value, fault = load_of(tmp_path)
    assert fault is Fault.NONE
    assert value == pytest.approx(load_w)


def test_a_chip_that_is_gone_or_gives_no_number_is_a_fault_and_no_load(tmp_path: Path) -> None:
    assert load_of(tmp_path)[1] is Fault.NO_ANSWER
    folder = kernel_tree.hwmon(tmp_path, 0, "ina219", 900, file="curr1_input")
    (folder / "curr1_input").write_text("much\n", encoding="ascii")
    assert load_of(tmp_path)[1] is Fault.DEVICE
