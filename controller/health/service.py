"""Checks of the service: units as this bainward writes them, a guard that runs and starts at boot.

Responsible for what is asked of systemd and said; not for the units' text (service/units).
"""

import re
from dataclasses import replace
from pathlib import Path

from controller.health.finding import Findings, Place, fault, remark
from controller.service.making import service_of
from controller.service.reading import page_in, push_file_in
from controller.service.units import (
    GUARD_UNIT,
    HARDWARE_WATCHDOG_S,
    NOTIFY_UNIT,
    PAGE_UNIT,
    RUN_UNIT,
    Service,
    units,
)

UNITS = "etc/systemd/system"  # under the root
GUESTS = (NOTIFY_UNIT, PAGE_UNIT)  # nothing needs them
OFTEN = 3  # restarts of a guard that nobody asked for: own engineering value
_USER = re.compile(r"^User=(\S+)$", re.MULTILINE)
# Documentation/ABI/testing/sysfs-class-watchdog and include/uapi/linux/watchdog.h of Linux.
_BOOT_STATUS, _BY_WATCHDOG = "sys/class/watchdog/watchdog*/bootstatus", 0x20  # WDIOF_CARDRESET
_ASKED = ("ActiveState", "UnitFileState", "NeedDaemonReload", "NRestarts")


def service_there(place: Place) -> Service | None:
    """What the units would be made from now, with the user of those that are there; None: none."""
    text = unit_text(place, GUARD_UNIT)
    if not text:
        return None
    user = _USER.search(text)
    name = None if user is None else user.group(1)
    service = service_of(place.path, place.machine_file, place.program, name)
    return replace(
        service,
        push_file=push_file_in(unit_text(place, NOTIFY_UNIT)),
        page=page_in(unit_text(place, PAGE_UNIT)),
    )


def unit_text(place: Place, name: str) -> str:
    """A unit as it is on the disk; empty where there is none."""
    try:
        return (place.root / UNITS / name).read_text("utf-8", "replace")
    except OSError:
        return ""


def service(place: Place) -> Findings:
    """The units on the disk, and what systemd says of the guard's."""
    if not place.is_real:
        return
    meant = service_there(place)
    if meant is None:
        yield remark(
            f"No service is set up for the guard ({GUARD_UNIT} is not there), so that nothing ends "
            f"a frozen one: bainward service --machine {place.path} --user bainward writes it."
        )
        return
    yield from _texts(place, meant)
    yield from _guard_state(asked_of(place, GUARD_UNIT))
    yield from _watchdog(place)


def _texts(place: Place, meant: Service) -> Findings:
    again = f"`bainward service {_options(place, meant)}` and `systemctl daemon-reload`"
    made = units(meant)
    for name in (*made, *(one for one in GUESTS if one not in made)):
        path, there = place.root / UNITS / name, unit_text(place, name)
        if not there:
            if name in made:
                yield fault(f"The unit {path} is missing: write it with {again}.")
        elif there != made.get(name):
            yield fault(
                f"The unit {path} is not as this bainward writes it for this machine, as after an "
                f"upgrade or an edit: write it anew with {again}, and put changes into a drop-in."
            )


def _options(place: Place, meant: Service) -> str:
    """What the units that are there were written with."""
    words = [f"--machine {place.path}"]
    words += [] if meant.user is None else [f"--user {meant.user}"]
    words += [] if meant.push_file is None else [f"--notify {meant.push_file}"]
    if meant.page is not None:
        words.append(f"--page {meant.page.listen}")
        words += [f"--page-{name[2:]} {file}" for name, file in meant.page.files.items()]
    return " ".join(words)


def asked_of(place: Place, unit: str) -> dict[str, str]:
    """What systemd says of a unit; nothing where it can't be asked."""
    words = ("show", f"--property={','.join(_ASKED)}", unit)
    lines = place.systemctl(words).splitlines()
    return {key: value for key, _, value in (line.partition("=") for line in lines)}


def _guard_state(told: dict[str, str]) -> Findings:
    if not told:
        yield remark(
            "systemd can't be asked (systemctl says nothing), so whether the guard's service runs "
            "is unknown: call this on the machine's own computer."
        )
        return
    if told.get("NeedDaemonReload") == "yes":
        yield fault(
            "systemd still goes by older units than those on the disk: systemctl daemon-reload, "
            "then systemctl restart bainward-guard while no run goes on."
        )
    if (state := told.get("ActiveState", "unknown")) != "active":
        yield fault(
            f"The guard's service is {state}: systemctl status bainward-guard says why, and "
            "systemctl start bainward-guard starts it."
        )
    if (boot := told.get("UnitFileState", "unknown")) != "enabled":
        yield remark(
            f"The guard's service is {boot or 'unknown'}, so that it doesn't start at boot: "
            "systemctl enable bainward-guard."
        )
    count = told.get("NRestarts", "0")
    if count.isdecimal() and int(count) >= OFTEN:
        yield remark(
            f"The guard was started again {count} times by itself: journalctl -u bainward-guard "
            "says why it ended."
        )


def _watchdog(place: Place) -> Findings:
    """The board's own watchdog, which resets a kernel that hangs."""
    said = place.systemctl(("show", "--property=RuntimeWatchdogUSec")).strip().partition("=")[2]
    if said in {"0", "infinity"}:
        yield remark(
            "The board's own watchdog is not fed by systemd, so that a kernel that hangs is reset "
            f"by nobody: write RuntimeWatchdogSec={HARDWARE_WATCHDOG_S} as `bainward service` "
            f"says, beside {RUN_UNIT}'s own."
        )
    for status in sorted(place.root.glob(_BOOT_STATUS)):
        if _number(status) & _BY_WATCHDOG:
            yield remark(
                f"The board was last reset by its own watchdog ({status} says so), as after a "
                "kernel that hung: journalctl -b -1 -p err tells what came before, and whoever "
                "finds nothing there looks at power supply and card."
            )


def _number(path: Path) -> int:
    """What a file of the kernel holds; 0 for all that is no number."""
    try:
        return int(path.read_text("ascii"))
    except (OSError, ValueError):
        return 0
