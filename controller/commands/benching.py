"""The command `bench`: a simulated machine served as hardware.

Responsible for what is printed; not for serving (wiring).
"""

import argparse
import sys
from collections.abc import Callable

from controller.clock import RealClock
from controller.errors import Exit
from controller.trials.trial import fitted_with
from controller.wiring import machine_meant
from controller.wiring.serving import serve_boards, serve_files, served_bench, served_time


def bench(options: argparse.Namespace) -> Exit:
    """Serve until told to end.

    Raises:
        BainwardError: the machine, the profile or the place can't be had.
    """
    machine_file = machine_meant(options.machine)
    if options.fitted is not None:
        machine_file = fitted_with(machine_file, options.fitted)
    served = served_bench(machine_file, options.profile)
    clock_s = served_time(RealClock(), options.speed)
    place = " and ".join(options.modbus or [f"files in {options.files}"])
    ready = _said(f"Serving the bench machine {machine_file.machine.name} at {place}.\n")
    if options.modbus:
        serve_boards(served, options.modbus, clock_s, ready)
    else:
        serve_files(served, options.files, clock_s, ready)
    return Exit.DONE


def _said(sentence: str) -> Callable[[], None]:
    def say() -> None:
        sys.stdout.write(sentence)
        sys.stdout.flush()

    return say
