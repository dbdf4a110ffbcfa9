"""What a run has to do with commissioning: it needs proofs, and a water trial is one.

Responsible for refusing, reminding and the trial's sheet, and for no profile passing for another;
not for the run (running).
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
from controller.commissioning.proofs import STEP_TEST, Step, steps_of
from controller.commissioning.step_test import PROFILE
from controller.commissioning.trial_sheet import NAME, passes, sheet_of, sheet_text
from controller.core.profile import Profile
from controller.errors import Exit
from controller.files.machine_file import MachineFile
from controller.files.profile_file import load_profile
from controller.journal.reader import read_run


def proofs_to_renew(machine_file: MachineFile, profile: Profile) -> str:
    """Let no unproven machine heat; what is to be proven again soon, as lines.

    Raises:
        UnprovenError: a step is missing, too old, of other parts or of another computer.
        AccessError: the file of proofs can't be read; or not written, where a trial is to be kept.
        RecordError: it can't be understood.
    """
    is_ours = _is_ours(profile, machine_file)
    name = profile.name if is_ours else ""  # whatever it calls itself
    soon = refuse_unproven(machine_file, name, profile.kind, wall_time(), on=computer_id())
    path = _trial_at(machine_file, profile)
    if path is not None and is_ours:
        refuse_unwritable(proofs_path(path))
    elif path is not None:
        soon = (*soon, _proves_nothing(path))
    return "".join(f"{sentence}\n" for sentence in soon)


# The profiles that stand for a step of commissioning, by the names that are in their files.
_OURS = {NAME: NAME, STEP_TEST: str(PROFILE)}


def _is_ours(profile: Profile, machine_file: MachineFile) -> bool:
    """Whether it is what a step is taken with: the very profile, and not one that is called so."""
    ours = _OURS.get(profile.name)
    return ours is not None and profile == load_profile(ours, machine_file.machine)


def _trial_at(machine_file: MachineFile, profile: Profile) -> Path | None:
    """The file of a real machine whose water trial this is by its name; None for all other runs."""
    is_one = profile.name == NAME and Step.TRIAL in steps_of(machine_file)
    return machine_file.path if is_one else None


def _proves_nothing(path: Path) -> str:
    """What is said of a maker's own profile with the trial's name."""
    return (
        f"This {NAME} is a profile of your own, and proves nothing of the machine, however it "
        f"ends: the one that counts comes with bainward, `bainward run {NAME} --machine {path}`."
    )


def concluded(machine_file: MachineFile, profile: Profile, record: Path, outcome: Exit) -> Exit:
    """The run's outcome; of a real machine's water trial with its sheet, which dates it.

    Raises:
        AccessError: record or proofs can't be read or written.
    """
    path = _trial_at(machine_file, profile)
    if path is None:
        return outcome
    if not _is_ours(profile, machine_file):
        sys.stdout.write(f"{_proves_nothing(path)}\n")
        return outcome
    rows = sheet_of(read_run(record))
    sys.stdout.write(sheet_text(rows))
    if not passes(rows):
        return Exit.UNPROVEN if outcome is Exit.DONE else outcome
    facts = {row.what: row.found for row in rows}
    change = with_step(Step.TRIAL, machine_file, wall_time(), facts, on=computer_id())
    change_proofs(path, machine_file.machine.name, change)
    return outcome
