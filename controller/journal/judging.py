"""When a run's record notes what was judged of temper.

Responsible for a line a minute instead of one a tick; not for the estimate (core/temper) or for
bytes (lines).
"""

import math

from controller.core.batches import UNJUDGED, TemperState
from controller.core.tempering import Temper

EVERY_S = 60.0  # own engineering value: crystals change little in less, and a cut may come


class Judging:
    """Remembers what was noted last."""

    def __init__(self) -> None:
        """Nothing noted yet."""
        self._noted = UNJUDGED
        self._noted_s = -math.inf

    def is_due(self, temper: TemperState, phase: int, run_s: float) -> bool:
        """Whether this estimate is to be noted now; then it counts as noted.

        While the first phase melts it all, there is nothing to say.
        """
        if temper is self._noted or temper.verdict is Temper.NONE or phase == 0:
            return False
        if temper.verdict is self._noted.verdict and run_s - self._noted_s < EVERY_S:
            return False
        self._noted, self._noted_s = temper, run_s
        return True
