"""What stands in the place of a part that a machine does without, and says so in its file.

Responsible for saying nothing and moving nothing.
"""

from controller.ports import Reading, missing


class NoThermometer:
    """A thermometer that is not there."""

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """No value."""
        return missing()


class NoStirrer:
    """A stirrer that is not there."""

    def drive(self, *, rpm: float, now_s: float) -> None:
        """Turn nothing."""
