"""The commands `guard` and `rearm`: start the guard of a machine, and clear what it latched.

Responsible for reading the machine file and for what a person is shown; not for guarding.
"""

import argparse
import os
import sys
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import NoReturn

from controller.clock import RealClock
from controller.commands.alarming import told_of_latch
from controller.commands.proving import unproven
from controller.errors import Exit, MachineFileError, UsageError
from controller.files.machine_file import load_machine_file
from controller.files.temperatures import celsius_text
from controller.guard import process
from controller.guard.client import Caller
from controller.guard.decision import Cause
from controller.guard.messages import Status
from controller.guard.resets import SOUND_S, Confirm, Proof, demanded
from controller.guard.settings import GuardSettings, to_text
from controller.guard.words import words_of
from controller.wiring import thermometers_of

_MC_PER_C = 1000
END_FIRST = (
    "End the run first: press Ctrl-C where it runs or stop its service, then type this again."
)
OF_THE_GUARD = {Proof.GUARD, Proof.COOL, Proof.DEAD}


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
    """Show what is latched and what must be true first, see that it is, ask, and clear just that.

    Raises:
        HardwareError: no guard answers, or a thermometer can't be had.
        UsageError: nobody is there to ask, or what was said on the command line is too little.
    """
    machine_file = load_machine_file(options.machine)
    caller = Caller(_settings(options.machine).sockets)
    try:
        before = caller.ask()
        sys.stdout.write(_shown(before, fahrenheit=options.units == "F"))
        if before.latched is Cause.NONE:
            return Exit.DONE
        if before.led:
            sys.stdout.write(f"Nothing was re-armed. {END_FIRST}\n")
            return Exit.TRIPPED
        rule = demanded(before.causes)
        if doubt := unproven(rule.proofs, partial(thermometers_of, machine_file), RealClock()):
            sys.stdout.write(f"Nothing was re-armed. {doubt}\n")
            return Exit.TRIPPED
        if not _agreed(rule.confirm, options):
            word = str(rule.confirm)
            sys.stdout.write(f"Nothing was re-armed: it wants the word {word} once that is so.\n")
            return Exit.STOPPED
        after = caller.rearm(before, rule.confirm)
    finally:
        caller.close()
    if after.latched is Cause.NONE:
        sys.stdout.write("Re-armed. The guard permits heat again when a run asks for it.\n")
        return Exit.DONE
    sys.stdout.write(refused(before, after))
    return Exit.TRIPPED


def refused(before: Status, after: Status) -> str:
    """Why the guard still has something latched: its own proof failed, or something new came."""
    if after.led:
        return f"Still latched ({after.latched}): a new run has come. {END_FIRST}\n"
    if new := [cause for cause in after.causes if cause not in before.causes]:
        return (
            f"Still latched ({after.latched}), and something came meanwhile: {', '.join(new)}. "
            "Type the same command again to see what must be true.\n"
        )
    measured = [str(one) for one in demanded(after.causes).proofs if one in OF_THE_GUARD]
    if not measured:
        return f"Still latched ({after.latched}): {words_of(after.latched)[1]}\n"
    seen = "; ".join(measured)
    return (
        f"Still latched ({after.latched}): the guard must first see for {SOUND_S} s: {seen}. "
        "Wait until that is so, then type the same command again.\n"
    )


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
    if status.latched is Cause.NONE:
        return f"The guard has nothing latched. Bath: {bath}.\n"
    since = datetime.fromtimestamp(status.since_s, UTC).astimezone()
    head = f"Latched: {status.latched}, since {since:%Y-%m-%d %H:%M:%S %Z}. Bath now: {bath}."
    return "\n".join((head, *told_of_latch(status.latched, status.tripped, status.also), ""))


def _agreed(confirm: Confirm, options: argparse.Namespace) -> bool:
    """Whether a person says, here or on the command line, that they did what this cause wants."""
    said = options.confirm or (str(Confirm.LOOKED) if options.yes else "")
    if said:
        if said != confirm:
            raise UsageError(
                f"This trip is cleared only by somebody who can say {confirm!s}: do first what is "
                f"said above, then type {confirm!s} at a terminal or add --confirm {confirm!s}."
            )
        return True
    if not sys.stdin.isatty():
        raise UsageError(
            "Re-arming wants a person: run this at a terminal, or add "
            f"--confirm {confirm!s} once that is done."
        )
    sys.stdout.write(f"Type {confirm!s} when that is done: ")
    sys.stdout.flush()
    return sys.stdin.readline().strip().lower() == confirm
