"""The list of what thermometers do wrong, and of the drivers that must name it.

Responsible for the list, and for what a driver can't meet; not for how each is injected nor for
what follows (tests/faults). The list is of our own, after the datasheets and documents that the
drivers name; what a whole reading hides is after tests/faults/test_faults_on_bench.py. Where it
does not say so, the thermometer is the bath's, by which heat is cut; the bowl's fails likewise.
"""

from enum import StrEnum


class Driver(StrEnum):
    """What a thermometer is read through."""

    ONE_WIRE = "1-wire"
    HWMON = "hwmon"
    PLATINUM = "platinum"
    COUPLE = "thermocouple"
    NTC = "thermistor"
    MODBUS = "Modbus"


class Failing(StrEnum):
    """What it does wrong."""

    PULLED = "pulled, or no answer"
    EMPTY = "an empty or half an answer"
    CHECKSUM = "a wrong checksum"
    ALL_ZERO = "all zero, never measured"
    POWER_ON = "85 °C, which it has at power-on"
    TOO_COLD_TO_BE = "-127 °C, or what no such probe measures"
    OPEN = "a wire off"
    SHORT = "two wires touch"
    ERROR = "an error of chip or driver"
    NO_NUMBER = "no number"
    TWIN = "a second one of its name, or another's"
    HOT = "hotter than any bath"
    COLD = "colder than any bath"
    SLACK = "a slack contact"
    FROZEN = "frozen while it heats"
    FROZEN_IN_HOLD = "frozen in hold"
    BLOCKED = "nothing new, its bus hangs"
    STEP = "5 K off from one moment on"
    DRIFT = "5 K off within ten minutes"
    INTERMITTENT = "a third of its values missing"
    WET = "water in its plug"
    OUT = "hanging out of the water"
    SLOW = "a slow contact, as it starts"
    SWAPPED = "bath's and bowl's swapped"
    BOWL_OUT = "the bowl's out of the chocolate"
    BOWL_FROZEN = "the bowl's frozen in hold"
    AT_WALL = "the bowl's touching the wall"


_WITHOUT = (Driver.HWMON, Driver.PLATINUM, Driver.COUPLE, Driver.NTC)
# A value like any other, so that only the loop can tell; tests/faults/test_thermometer_lies.py.
LIES = (Failing.HOT, Failing.COLD, Failing.POWER_ON, Failing.SLACK, Failing.FROZEN)
# Seen by what else is known, in minutes: thermometer_pictures, and on the bench's own ports in
# tests/faults/test_faults_on_bench.py. A bus that hangs: tests/faults/test_blocked_bus.py.
PICTURED = (
    Failing.FROZEN_IN_HOLD,
    Failing.BLOCKED,
    Failing.STEP,
    Failing.DRIFT,
    Failing.INTERMITTENT,
    Failing.WET,
    Failing.OUT,
    Failing.SLOW,
    Failing.SWAPPED,
    Failing.BOWL_OUT,
    Failing.BOWL_FROZEN,
)

_NO_CHECKSUM = "its bus has none that a driver is told of"
_AT_WALL = "its wall is between bath and bowl, as a bowl that follows its bath better would be"
# What can't be met through a driver, or seen through any, and why.
CAN_NOT_BE = {
    (Failing.OPEN, Driver.ONE_WIRE): "chip and element are one: a wire off is no answer",
    (Failing.SHORT, Driver.ONE_WIRE): "a short is a data line held low: all zero",
    (Failing.SHORT, Driver.HWMON): "its chip has one alarm for a wire off and for two that touch",
    (Failing.SHORT, Driver.COUPLE): "it measures where its wires touch, which is out of the water",
    (Failing.SHORT, Driver.MODBUS): "a board has one value for a wire off and for two that touch",
    (Failing.NO_NUMBER, Driver.MODBUS): "whatever a register holds is a number",
    (Failing.TWIN, Driver.MODBUS): "two boards of one address spoil each other's answers",
    **{(Failing.CHECKSUM, driver): _NO_CHECKSUM for driver in _WITHOUT},
    **{(Failing.AT_WALL, driver): _AT_WALL for driver in Driver},
}
