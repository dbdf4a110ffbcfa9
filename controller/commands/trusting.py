"""What a run has to do with commissioning: it needs proofs, and a water trial is one.

Responsible for refusing, reminding and the trial's sheet; not for the run (running).
"""

import sys
from pathlib import Path

from controller.book.pen import refuse_unwritable
from controller.clock import wall_time
from controller.commissioning.computer import computer_id
from controller.commissioning.proof_file import (
    change_proofs,
    proofs_path,
    refuse_unproven,
    with_step,
)
from controller.commissioning.proofs import Step, steps_of
from controller.commissioning.trial_sheet import is_trial, passes, sheet_of, sheet_text
from controller.core.profile import Profile
from controller.errors import Exit
from controller.files.machine_file import MachineFile
from controller.journal.reader import read_run


def proofs_to_renew(machine_file: MachineFile, profile: Profile) -> str:
    """Let no unproven machine heat; what is to be proven again soon, as lines.

    Raises:
        UnprovenError: a step is missing, too old, of other parts or of another computer.
        AccessError: the file of proofs can't be read; or not written, where a trial is to be kept.
        RecordError: it can't be understood.
    """
    on = computer_id()
    soon = refuse_unproven(machine_file, profile.name, profile.kind, wall_time(), on=on)
    path = machine_file.path
    if profile.name == Step.TRIAL and Step.TRIAL in steps_of(machine_file) and path is not None:
        refuse_unwritable(proofs_path(path))
    return "".join(f"{sentence}\n" for sentence in soon)


def concluded(machine_file: MachineFile, profile: Profile, record: Path, outcome: Exit) -> Exit:
    """The run's outcome; of a real machine's water trial with its sheet, which dates it.

    Raises:
        AccessError: record or proofs can't be read or written.
    """
    path = machine_file.path
    if Step.TRIAL not in steps_of(machine_file) or path is None or profile.name != Step.TRIAL:
        return outcome
    run = read_run(record)
    if not is_trial(run):
        return outcome
    rows = sheet_of(run)
    sys.stdout.write(sheet_text(rows))
    if not passes(rows):
        return Exit.UNPROVEN if outcome is Exit.DONE else outcome
    facts = {row.what: row.found for row in rows}
    change = with_step(Step.TRIAL, machine_file, wall_time(), facts, on=computer_id())
    change_proofs(path, machine_file.machine.name, change)
    return outcome
