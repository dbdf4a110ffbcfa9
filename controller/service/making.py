"""From a machine file to what its units need: devices, groups, folders.

Responsible for what a machine's parts ask of the system; not for the units' text (units).
"""

import sys
from pathlib import Path

from controller.files.attach_shape import LinuxAttach
from controller.files.board_shape import ModbusAttach
from controller.files.machine_file import MachineFile
from controller.guard.settings import (
    SYSTEM_RUN_DIR,
    SYSTEM_STATE_HOME,
    GuardSettings,
    LineKind,
    latch_place,
    socket_places,
)
from controller.service.units import Service

LINES = "char-gpiochip"
# By the beginning of a port's name, its class as in /proc/devices (proc(5)): adapters on USB, and
# ports of a board's own.
PORTS = {
    "/dev/ttyUSB": "char-ttyUSB",
    "/dev/ttyACM": "char-ttyACM",
    "/dev/ttyAMA": "char-ttyAMA",
    "/dev/ttyS": "char-ttyS",
}
# Who owns such devices on common single-board computers and on Debian (from memory, not checked).
GROUPS = {LINES: "gpio", **dict.fromkeys(PORTS.values(), "dialout")}
_SYS = "/sys/"


def service_of(path: Path, machine_file: MachineFile, command: Path, user: str | None) -> Service:
    """What the units of the machine at `path` are made from; it has a guard."""
    guard = machine_file.guard
    board = None if guard is None else guard.board
    return Service(
        command=command,
        machine_file=path,
        writable=_writable(path, machine_file),
        reads=(Path(sys.prefix), Path(sys.base_prefix)),
        private=_private(path, machine_file),
        user=user,
        guard_by_network=board is not None and not board.at.startswith("/"),
        guard_devices=() if guard is None else guard_devices(guard),
        run_devices=run_devices(machine_file),
        guard_writes_sys=guard is not None and _writes_sys(guard),
        run_writes_sys=isinstance(machine_file.attach, LinuxAttach)
        and machine_file.attach.stirrer_pwm is not None,
    )


def groups_of(service: Service) -> tuple[str, ...]:
    """Groups that its user should be in, for its devices."""
    names = (*service.guard_devices, *service.run_devices)
    return tuple(dict.fromkeys(GROUPS[name] for name in names))


def guard_devices(guard: GuardSettings) -> tuple[str, ...]:
    """What the guard opens: lines and its board's port."""
    lines = (guard.main, guard.second, guard.mains_live, guard.heartbeat)
    found = [LINES] if any(one and one.kind is LineKind.GPIO for one in lines) else []
    return tuple(found) + (() if guard.board is None else port_of(guard.board.at))


def run_devices(machine_file: MachineFile) -> tuple[str, ...]:
    """What a run opens: lines of its own, or its board's port."""
    plan = machine_file.attach
    if isinstance(plan, ModbusAttach):
        return port_of(plan.board.at)
    if not isinstance(plan, LinuxAttach):
        return ()
    lines = (plan.stirrer_line, plan.cooling_line, plan.buzzer_line, plan.lamp_line)
    inputs = (plan.level, plan.shaft)
    return (LINES,) if any(lines) or any(inputs) else ()


def port_of(at: str) -> tuple[str, ...]:
    """The class of a serial port; every class for a name that may stand for any."""
    if not at.startswith("/"):
        return ()
    return tuple(kind for name, kind in PORTS.items() if at.startswith(name)) or tuple(
        PORTS.values()
    )


def _writes_sys(guard: GuardSettings) -> bool:
    lines = (guard.main, guard.second, guard.heartbeat)
    return any(
        one is not None and one.kind is LineKind.FILE and one.place.startswith(_SYS)
        for one in lines
    )


def _writable(path: Path, machine_file: MachineFile) -> tuple[Path, ...]:
    """Folders besides the manager's own: the machine file's, where it wants the records, lines."""
    guard, records = machine_file.guard, machine_file.journal_dir
    found = [path.parent, *([] if records is None else [records.absolute()])]
    lines = () if guard is None else (guard.main, guard.second, guard.heartbeat)
    files = [Path(one.place) for one in lines if one is not None and one.kind is LineKind.FILE]
    found += [one.parent for one in files if not str(one).startswith(_SYS)]
    if guard is not None and guard.latch != latch_place(guard.machine):  # named in the file
        found.append(Path(guard.latch).parent)
    if guard is not None and guard.sockets != socket_places(guard.machine):
        found += [Path(place).parent for place in guard.sockets]
    return tuple(dict.fromkeys(found))


def _private(path: Path, machine_file: MachineFile) -> tuple[Path, ...]:
    """Where the guard listens and remembers, and where records lie, unless a page reads there."""
    guard, records, link = machine_file.guard, machine_file.journal_dir, machine_file.link
    found = [SYSTEM_RUN_DIR, SYSTEM_STATE_HOME / SYSTEM_RUN_DIR.name]
    found += [] if records is None else [records.absolute()]
    if guard is not None and guard.sockets != socket_places(guard.machine):
        found += [Path(place).parent for place in guard.sockets]
    read = (path, *(() if link is None else link.files))
    apart = (one for one in found if not any(file.is_relative_to(one) for file in read))
    return tuple(dict.fromkeys(apart))
