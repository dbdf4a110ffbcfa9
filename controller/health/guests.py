"""Checks of the services that only tell: pushes to a phone, and the page.

Responsible for whether those that start at boot run, and whether their own files can be used; not
for the units' text (service) nor for who may read a secret (access).
"""

from controller.errors import BainwardError
from controller.files.push_file import load_push_file
from controller.health.finding import Findings, Place, remark
from controller.health.service import GUESTS, OFTEN, asked_of, service_there, unit_text

_WHAT = {GUESTS[0]: "Pushes to the phone", GUESTS[1]: "The page"}


def guests(place: Place) -> Findings:
    """Each of them that is set up."""
    for unit in GUESTS:
        if unit_text(place, unit):
            yield from _state(place, unit)
    service = service_there(place)
    if service is not None and service.push_file is not None:
        try:
            load_push_file(service.push_file)
        except BainwardError as error:
            yield remark(f"The push file can't be used: {str(error).rstrip('.')}.")


def _state(place: Place, unit: str) -> Findings:
    told, name, what = asked_of(place, unit), unit.removesuffix(".service"), _WHAT[unit]
    if told.get("UnitFileState") == "enabled" and told.get("ActiveState") != "active":
        state = told.get("ActiveState", "unknown")
        yield remark(
            f"{what} should run, and the service {name} is {state}: systemctl status {name} says "
            f"why, and systemctl start {name} starts it."
        )
    if told.get("NeedDaemonReload") == "yes":
        yield remark(
            f"{what} still goes by an older unit: systemctl daemon-reload, then systemctl restart "
            f"{name}."
        )
    count = told.get("NRestarts", "0")
    if count.isdecimal() and int(count) >= OFTEN:
        yield remark(
            f"{what}: {name} was started again {count} times by itself, and journalctl -u {name} "
            "says why it ended."
        )
