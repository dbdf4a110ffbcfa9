"""A real machine of which everything was shown, for tests that are of something else.

Responsible for writing its proofs; not for any step of commissioning.
"""

from datetime import datetime

from controller.clock import wall_time
from controller.commissioning.proof_file import change_proofs, with_step
from controller.commissioning.proofs import steps_of
from controller.files.machine_file import MachineFile


def prove_all(machine_file: MachineFile, at: datetime | None = None) -> None:
    """Write every proof that the machine needs, of that time or of now."""
    assert machine_file.path is not None
    for step in steps_of(machine_file):
        change = with_step(step, machine_file, at or wall_time(), {"by": "a test's own stage"})
        change_proofs(machine_file.path, machine_file.machine.name, change)
