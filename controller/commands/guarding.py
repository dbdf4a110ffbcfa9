"""The commands `guard` and `rearm`: start the guard of a machine, and clear what it latched.

Responsible for reading the machine file and for what a person is shown; not for guarding.
"""

import argparse
import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import NoReturn

from controller.errors import Exit, MachineFileError, UsageError
from controller.files.machine_file import load_machine_file
from controller.files.temperatures import celsius_text
from controller.guard import process
from controller.guard.client import Caller
from controller.guard.decision import Cause
from controller.guard.messages import Status
from controller.guard.settings import GuardSettings, to_text
from controller.guard.words import words_of

_MC_PER_C = 1000
YES = "yes"


def guard(options: argparse.Namespace) -> NoReturn:
    """Become the guard: a fresh interpreter in this very process, free of all that read the file.

    Raises:
        MachineFileError: the machine has no guard of its own.
    """
    settings = _settings(options.machine)
    words = (sys.executable, "-P", "-m", process.__name__, to_text(settings))
    sys.stderr.flush()
    os.execv(sys.executable, words)  # noqa: S606 - ourselves, without a shell


def rearm(options: argparse.Namespace) -> Exit:
    """Show what is latched, ask, and clear just that.

    Raises:
        HardwareError: no guard answers.
        UsageError: nobody is there to ask.
    """
    caller = Caller(_settings(options.machine).sockets)
    try:
        before = caller.ask()
        sys.stdout.write(_shown(before, fahrenheit=options.units == "F"))
        if before.latched is Cause.NONE:
            return Exit.DONE
        if not (options.yes or _agreed()):
            sys.stdout.write("Nothing was re-armed.\n")
            return Exit.STOPPED
        after = caller.rearm(before.latched)
    finally:
        caller.close()
    if after.latched is Cause.NONE:
        sys.stdout.write("Re-armed. The guard permits heat again when a run asks for it.\n")
        return Exit.DONE
    sys.stdout.write(f"Still latched ({after.latched}): {words_of(after.latched)[1]}\n")
    return Exit.TRIPPED


def _settings(path: Path) -> GuardSettings:
    settings = load_machine_file(path).guard
    if settings is None:
        raise MachineFileError(
            f"{path.name}, guard: is missing, so there is no heater line to guard; write [guard] "
            "with [guard.main] and [guard.probe]"
        )
    return settings


def _shown(status: Status, *, fahrenheit: bool) -> str:
    """What the guard says, for a person."""
    bath = (
        "unknown"
        if status.bath_mc is None
        else celsius_text(status.bath_mc / _MC_PER_C, fahrenheit=fahrenheit)
    )
    what, action = words_of(status.latched, status.tripped)
    if status.latched is Cause.NONE:
        return f"The guard has nothing latched. Bath: {bath}.\n"
    since = datetime.fromtimestamp(status.since_s, UTC).astimezone()
    return (
        f"Latched: {status.latched}, since {since:%Y-%m-%d %H:%M:%S %Z}.\n"
        f"Seen: {what}. Bath now: {bath}.\n"
        f"Do first: {action}\n"
    )


def _agreed() -> bool:
    """Whether the person at the keyboard types yes."""
    if not sys.stdin.isatty():
        raise UsageError(
            "Re-arming wants a person: run this at a terminal, or add --yes once you have looked."
        )
    sys.stdout.write(f"Type {YES} when that is done: ")
    sys.stdout.flush()
    return sys.stdin.readline().strip().lower() == YES
