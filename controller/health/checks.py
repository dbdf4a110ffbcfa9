"""All checks of health, in the order in which they are told.

Responsible for the table and for going through it; not for any check.
"""

from collections.abc import Callable
from typing import NamedTuple

from controller.health import access, computer, devices, guests, network, records, service
from controller.health.finding import Finding, Findings, Place


class Check(NamedTuple):
    """One thing that is looked at."""

    what: str  # for people
    look: Callable[[Place], Findings]


CHECKS = (
    Check("outputs after a process has died", computer.outputs),
    Check("time of day", computer.time_of_day),
    Check("disk and memory", computer.room),
    Check("foreign packages", computer.packages),
    Check("who may change what heats", access.others_out),
    Check("the service's user", access.user_in),
    Check("units and guard's service", service.service),
    Check("services of page and pushes", guests.guests),
    Check("guard", devices.guard),
    Check("thermometers", devices.thermometers),
    Check("broker", network.broker),
    Check("proofs of commissioning", records.proofs),
    Check("newest record", records.book),
)


def examine(place: Place) -> tuple[tuple[Check, tuple[Finding, ...]], ...]:
    """Every check with what it found."""
    return tuple((check, tuple(check.look(place))) for check in CHECKS)
