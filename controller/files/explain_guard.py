"""Says in plain words what guards the heat of a machine, and what nobody can see there.

Responsible for the guard's part of `bainward check`; not for any check.
"""

from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile
from controller.guard.settings import GuardSettings, LineAt

_NO_MAINS_LIVE = (
    "No mains-live input: a welded relay or a dead heater is seen only by the temperatures, "
    "after minutes."
)
_NO_SECOND = "No second switch: a relay that welds shut can't be overruled; hardware must."


def guard_lines(machine_file: MachineFile) -> list[str]:
    """The guard as the machine file has it, a line for each thing."""
    guard = machine_file.guard
    if guard is None:
        return [_NO_MAINS_LIVE]
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
    return [*lines, *_unseen(guard)]


def _at(line: LineAt | None) -> str:
    if line is None:
        return "nothing"
    low = ", active low" if line.active_low else ""
    return f"{line.place} ({line.kind}{low})"


def _unseen(guard: GuardSettings) -> list[str]:
    fitted = ((guard.second, _NO_SECOND), (guard.mains_live, _NO_MAINS_LIVE))
    return [sentence for line, sentence in fitted if line is None]
