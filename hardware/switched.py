"""Motors, pumps and fans on an output that is on or off.

Responsible for turning what the ports ask for into on and off; not for the output, a line or a
board's coil.
"""

import math
from typing import Protocol


class Output(Protocol):
    """One output, off until told."""

    def drive(self, *, on: bool) -> None:
        """Drive it; OSError when it is gone."""
        ...


class SwitchedStirrer:
    """A motor that only turns or stands; how fast is a matter of its gear."""

    def __init__(self, output: Output) -> None:
        """Standing."""
        self._output = output

    def drive(self, *, rpm: float, now_s: float) -> None:  # noqa: ARG002 - the port's contract
        """Turn for any speed above 0; OSError when the output is gone."""
        self._output.drive(on=math.isfinite(rpm) and rpm > 0.0)


class SwitchedCooler:
    """Pump, valve or fan."""

    def __init__(self, output: Output) -> None:
        """Off."""
        self._output = output

    def drive(self, *, on: bool, now_s: float) -> None:  # noqa: ARG002 - the port's contract
        """Run or stand; OSError when the output is gone."""
        self._output.drive(on=on)
