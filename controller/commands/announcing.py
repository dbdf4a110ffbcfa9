"""The command `announce`: tell a run that goes on what you have just done.

Responsible for finding the run and for what is printed; not for what the run makes of it.
"""

import argparse
import sys
from contextlib import ExitStack
from pathlib import Path

from controller.commands.places import state_folder
from controller.core.announcement import HOW, announced, doubt
from controller.errors import AccessError, BusyError, Exit, HardwareError, UsageError
from controller.hatch import SUFFIX, Hatch, hatches, is_open, tell_run
from controller.wiring import machine_meant

SYSTEM_STATE = Path("/var/lib/bainward")  # where the systemd units keep it: controller/service
TRY = "-try"


def hatch_path(machine: str, *, is_try: bool = False) -> Path:
    """Where a run of this machine takes announcements."""
    return state_folder() / f"{machine}{TRY if is_try else ''}{SUFFIX}"


def opened(
    stack: ExitStack, machine: str, *, is_try: bool = False, fahrenheit: bool = False
) -> tuple[Hatch, ...]:
    """A hatch until the stack ends; none, and a sentence, where there can't be one."""
    try:
        hatch = Hatch(hatch_path(machine, is_try=is_try), fahrenheit=fahrenheit)
        return (stack.enter_context(hatch),)
    except (AccessError, BusyError) as error:
        sys.stdout.write(f"bainward announce can't be used with this run. {error}\n")
        return ()


def announce(options: argparse.Namespace) -> Exit:
    """`bainward announce DEED`.

    Raises:
        UsageError: that is no deed, it was refused, or several runs go on.
        HardwareError: no run goes on.
        AccessError: this user may not.
    """
    words = " ".join(options.deed)
    if announced(words) is None:
        why = doubt(words) or f"write {HOW}."
        raise UsageError(f"{words!r} is nothing that can be announced; {why}")
    sys.stdout.write(f"The run takes it into account: {told(found(options.machine), words)}.\n")
    return Exit.DONE


def found(machine: str | None) -> list[Path]:
    """The hatches that may be meant."""
    known = hatches(tuple(dict.fromkeys((state_folder(), SYSTEM_STATE))))
    if machine is None:
        return known
    name = machine_meant(machine).machine.name
    return [path for path in known if path.stem in {name, f"{name}{TRY}"}]


def told(known: list[Path], words: str) -> str:
    """Tell it to the only run there is; one that was killed may have left its socket."""
    alive = [path for path in known if is_open(path)]
    if not alive:
        raise HardwareError(
            "No run goes on that could be told; start one with bainward run, or slowly on the "
            "bench with bainward try dark --you-answer."
        )
    if len(alive) > 1:
        names = ", ".join(path.stem.removesuffix(TRY) for path in alive)
        raise UsageError(f"Several runs go on; say which with --machine: {names}.")
    return tell_run(alive[0], words)
