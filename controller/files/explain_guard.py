"""Says in plain words what guards the heat of a machine, and what nobody can see there.

Responsible for the guard's part of `bainward check`; not for any check.
"""

from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile
from controller.guard.settings import LineAt


def guard_lines(machine_file: MachineFile) -> list[str]:
    """The guard as the machine file has it, a line for each thing."""
    guard = machine_file.guard
    if guard is None:
        return []
    lines = [
        (
            f"Guard: heater on {_at(guard.main)}, second switch on {_at(guard.second)}, "
            f"mains-live on {_at(guard.mains_live)}, heartbeat on {_at(guard.heartbeat)}."
        ),
        f"Guard's thermometer: {guard.probe.path} ({guard.probe.kind}).",
        f"Guard remembers trips in {guard.latch} and listens at {' or else '.join(guard.sockets)}.",
    ]
    if isinstance(machine_file.attach, BenchAttach):
        lines.append(
            "A run on the bench never asks that guard: its own watches within the run's process."
        )
    return lines


def _at(line: LineAt | None) -> str:
    if line is None:
        return "nothing"
    low = ", active low" if line.active_low else ""
    return f"{line.place} ({line.kind}{low})"
