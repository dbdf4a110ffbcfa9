"""The units as `bainward service` makes them, read back for tests.

Responsible for a machine with a guard and for reading a unit; not for any expectation.
"""

import configparser
from pathlib import Path

from controller.service.units import Service

SOUND = (Path(__file__).parents[1] / "unit" / "bad_files" / "sound_machine.toml").read_text(
    encoding="utf-8"
)
GUARD = """
[guard.main]
kind = "gpio"
name = "HEAT"

[guard.probe]
kind = "hwmon"
path = "/sys/bus/i2c/devices/1-0048/hwmon/hwmon*/temp1_input"
"""
SERVICE = Service(
    command=Path("/opt/bainward/bin/bainward"), machine_file=Path("/etc/bainward/kitchen.toml")
)


class Unit(configparser.RawConfigParser):
    """A unit's sections; names keep their case."""

    def optionxform(self, optionstr: str) -> str:
        """As written."""
        return optionstr


def parsed(text: str) -> Unit:
    """A unit in which no directive comes twice."""
    unit = Unit(interpolation=None)
    unit.read_string(text)
    return unit
