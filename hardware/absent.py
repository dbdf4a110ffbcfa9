"""What stands in the place of a part that a machine does without, and says so in its file.

Responsible for saying nothing and moving nothing.
"""

from controller.ports import Reading, missing


class NoThermometer:
    """A thermometer that is not there."""

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """No value."""
        return missing()


class NoHeater:
    """A heater that is another process's, and not ours to switch."""

    def drive(
        self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True, alone: int = 0
    ) -> None:
        """Switch nothing."""


class NoStirrer:
    """A stirrer that is not there."""

    def drive(self, *, rpm: float, now_s: float) -> None:
        """Turn nothing."""
