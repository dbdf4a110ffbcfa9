"""The command `parts`: from words to the page.

Responsible for options and files; not for any figure (controller.planning.parts).
"""

import argparse
import sys

from controller.core.records import replace
from controller.errors import Exit, UsageError
from controller.files.profile_file import load_profile
from controller.planning.circuit import bill_lines
from controller.planning.heater import SIZES_W
from controller.planning.lines import wrapped
from controller.planning.parts import SCALARS, order_of, parts_for
from controller.planning.parts_sheet import FIRST, parts_sheet
from controller.wiring import machine_meant


def advise(options: argparse.Namespace) -> Exit:
    """Print the page.

    Raises:
        BainwardError: words that make no sense, or a machine file that can't be used.
    """
    sys.stdout.write(bill() if options.bill else advised(options))
    return Exit.DONE


def bill() -> str:
    """The parts by kind, each a line or a few, after the caution that comes first."""
    lines = [*wrapped(FIRST), ""]
    for sentence in bill_lines():
        lines += wrapped(sentence, "- ")
    return "\n".join(lines) + "\n"


def advised(options: argparse.Namespace) -> str:
    """The page.

    Raises:
        BainwardError: as above.
    """
    told = {key: getattr(options, key) for key in SCALARS if getattr(options, key) is not None}
    is_own = options.machine is not None
    base = machine_meant(options.machine).machine
    try:
        order = order_of(told, base, is_own=is_own)
    except ValueError as error:
        raise UsageError(f"--{error}.".replace("?.", "?")) from None
    # Whether a heater is strong enough is what the page tells; the profile is read with the most.
    strong = replace(order.machine, heater_w=max(SIZES_W[-1], order.asked_w or 0.0))
    profile = load_profile(str(order.kind), strong)
    return parts_sheet(parts_for(order, profile), fahrenheit=options.units == "F")
