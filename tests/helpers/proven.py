"""A real machine of which everything was shown, for tests that are of something else.

Responsible for writing its proofs; not for any step of commissioning.
"""

from datetime import datetime

from controller.clock import wall_time
from controller.commissioning.computer import computer_id
from controller.commissioning.correction import value_text
from controller.commissioning.proof_file import change_proofs, with_step
from controller.commissioning.proofs import OFFSET, Step, steps_of
from controller.files.machine_file import MachineFile


def facts_of(step: Step, machine_file: MachineFile) -> dict[str, str]:
    """What is kept of a step that was shown."""
    machine = machine_file.machine
    said_k = {Step.BATH: machine.bath_offset_k, Step.BOWL: machine.bowl_offset_k}.get(step)
    return {"by": "a test's own stage"} if said_k is None else {OFFSET: value_text(said_k)}


def prove_all(
    machine_file: MachineFile, at: datetime | None = None, *, on: str | None = None
) -> None:
    """Write every proof that the machine needs, of that time and computer, or of now and this."""
    assert machine_file.path is not None
    on = computer_id() if on is None else on
    for step in steps_of(machine_file):
        change = with_step(
            step, machine_file, at or wall_time(), facts_of(step, machine_file), on=on
        )
        change_proofs(machine_file.path, machine_file.machine.name, change)
