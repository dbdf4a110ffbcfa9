"""The command `health`: look at computer, service, devices and proofs, and say what is wrong.

Responsible for where to look and what is printed; not for any check (controller.health).
"""

import argparse
import os
import sys
from functools import partial
from importlib.metadata import packages_distributions
from pathlib import Path

from controller.clock import RealClock, is_wall_synchronised, wall_time
from controller.commands.announcing import SYSTEM_STATE
from controller.commands.places import state_folder
from controller.commands.servicing import installed_command
from controller.commissioning.computer import computer_id
from controller.errors import Exit, HardwareError, UsageError
from controller.files.machine_file import MachineFile, load_machine_file
from controller.guard.client import Caller
from controller.guard.messages import Status
from controller.health.checks import Check, examine
from controller.health.finding import Finding, Place, Weight, real_systemctl
from controller.wiring import real_sources, thermometers_of

Findings = tuple[tuple[Check, tuple[Finding, ...]], ...]


def health(options: argparse.Namespace) -> Exit:
    """`bainward health --machine FILE`: 0 when nothing is wrong, 9 for a fault, remarks aside.

    Raises:
        BainwardError: the machine file can't be used.
    """
    found = examine(real_place(options.machine))
    sys.stdout.write(report(found))
    has_fault = any(one.weight is Weight.FAULT for _, many in found for one in many)
    return Exit.HARDWARE if has_fault else Exit.DONE


def report(found: Findings) -> str:
    """A line for each finding, and one for all that is well."""
    lines = [f"{one.weight}: {one.says}" for _, many in found for one in many]
    faults = sum(one.weight is Weight.FAULT for _, many in found for one in many)
    well = [check.what for check, many in found if not many]
    if well:
        lines.append(f"Well: {', '.join(well)}.")
    if faults:
        lines.append(f"Faults: {faults}. Mend them before anything heats.")
    return "".join(f"{line}\n" for line in lines)


def real_place(path: Path) -> Place:
    """This computer, with the machine of that file."""
    path = Path(os.path.realpath(path))  # which raises nothing over a link to itself
    machine_file = load_machine_file(path)
    records = _records(machine_file)
    return Place(
        machine_file=machine_file,
        path=path,
        records=records,
        now=wall_time(),
        clock=RealClock(),
        sources=real_sources(_there(records)),
        is_synchronised=is_wall_synchronised,
        thermometers=partial(thermometers_of, machine_file),
        ask_guard=partial(asked_guard, machine_file),
        systemctl=real_systemctl,
        program=_program(),
        owners=packages_distributions,
        computer=computer_id(),
    )


def asked_guard(machine_file: MachineFile) -> Status:
    """What the guard says.

    Raises:
        BainwardError: none answers.
    """
    if machine_file.guard is None:
        raise HardwareError("The machine has no guard.")
    caller = Caller(machine_file.guard.sockets)
    try:
        return caller.ask()
    finally:
        caller.close()


def _records(machine_file: MachineFile) -> Path:
    """Where the machine's file wants them, else the service's, else this user's."""
    if machine_file.journal_dir is not None:
        return machine_file.journal_dir
    base = SYSTEM_STATE if SYSTEM_STATE.is_dir() else state_folder()
    return base / "runs"


def _there(folder: Path) -> Path:
    """The folder, or what of its path there is."""
    return next(one for one in (folder, *folder.parents) if one.exists())


def _program() -> Path:
    try:
        return installed_command()
    except UsageError:
        return Path(sys.argv[0]).resolve()  # run from a copy that is not installed
