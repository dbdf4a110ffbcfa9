"""Checks of what is kept: the proofs of commissioning, and the newest record.

Responsible for what is asked and said; not for what a proof is (commissioning) or a record
(journal).
"""

from controller.commissioning.proof_file import read_proofs
from controller.commissioning.proofs import RULES, ending_soon, lacking, steps_of
from controller.errors import BainwardError
from controller.health.computer import SUFFIX
from controller.health.finding import Findings, Place, fault, remark
from controller.journal.inspection import inspect_file


def proofs(place: Place) -> Findings:
    """What was shown of the machine, and for how long it counts."""
    steps = steps_of(place.machine_file)
    if not steps:
        return
    try:
        shown = read_proofs(place.path, place.machine_file.machine.name)
    except BainwardError as error:
        yield fault(str(error))
        return
    for lack in lacking(shown, place.machine_file, place.now, steps, place.path, on=place.computer):
        yield fault(f"{lack.why}: do it with `{lack.command}`.")
    for step, left_d in ending_soon(shown, place.now, steps):
        rule, days = RULES[step], "day" if left_d == 1 else "days"
        yield remark(
            f"{rule.what} counts for {left_d} more {days}: show it again with "
            f"`bainward {rule.words} --machine {place.path}`."
        )


def book(place: Place) -> Findings:
    """Whether the newest record is as it was written; older ones were looked at when new."""
    if not place.records.is_dir():
        return
    try:
        found = [path for path in place.records.iterdir() if path.suffix == SUFFIX]
        newest = max(found, key=lambda path: path.stat().st_mtime, default=None)
        inspection = None if newest is None else inspect_file(newest)
    except OSError as error:
        yield fault(
            f"The records in {place.records} can't be read ({error.strerror}): give them to this "
            "user, or call this as the service's own."
        )
        return
    except BainwardError as error:
        yield remark(str(error))
        return
    if inspection is not None and inspection.broken is not None:
        yield remark(
            f"The newest record {newest} can be trusted to its line {inspection.broken.line - 1} "
            "only, as after a power cut or on a failing card: bainward journal verify tells more."
        )
