"""Opening a real machine for a step of its commissioning.

Responsible for refusing what is no real machine; not for any step.
"""

from pathlib import Path

from controller.clock import RealClock, wall_time
from controller.commands.at_terminal import AtTerminal
from controller.commissioning.computer import computer_id
from controller.commissioning.site import Site
from controller.errors import UsageError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import load_machine_file


def opened_site(path: Path) -> Site:
    """The machine of that file, in real time, with whoever is at the terminal.

    Raises:
        MachineFileError: the file can't be used.
        UsageError: it is a machine of the bench, of which nothing is to be shown.
    """
    machine_file = load_machine_file(path)
    if isinstance(machine_file.attach, BenchAttach):
        raise UsageError(
            f"Machine {machine_file.machine.name} is the bench's own, and needs no commissioning; "
            "to try the steps, serve it with `bainward bench --files DIR` and write a machine file "
            'with kind = "linux" and root = "DIR".'
        )
    return Site(
        machine_file=machine_file,
        path=path,
        clock=RealClock(),
        now=wall_time,
        person=AtTerminal(),
        computer=computer_id(),
    )
