"""The command `leave`: ask a run that goes on whether it may be left for a while.

Responsible for finding the run and for what is printed; not for the answer (core/leaving).
"""

import argparse
import sys

from controller.commands.announcing import found, told
from controller.core.leaving import HOW, MOST_S, leave_of
from controller.errors import Exit, UsageError


def leave(options: argparse.Namespace) -> Exit:
    """`bainward leave 20 min`.

    Raises:
        UsageError: that is no time, or several runs go on.
        HardwareError: no run goes on.
        AccessError: this user may not.
    """
    words = f"leave {' '.join(options.time)}"
    if leave_of(words) is None:
        raise UsageError(
            f"{words!r} is no break of up to {MOST_S / 3600.0:.0f} h; write one like {HOW}."
        )
    sys.stdout.write(told(found(options.machine), words) + "\n")
    return Exit.DONE
