"""Where a held bowl was asked to be, and how far off that it was.

Responsible for small warm steps against thickening, which are asked for and no deviation; not for
where the temperatures come from (a record: summary; a trial: trials/tally).
"""

import math

from controller.core.thresholds import NUDGE_K, NUDGE_S
from controller.core.warming import EVERY_S

# Own engineering values, not published.
# What moves a bowl for a few minutes, to see that its thermometer lives, is no warm step.
SURELY_K, SURELY_S = 1.5 * NUDGE_K, 1.25 * NUDGE_S
LEAST_WARMED_K = 0.05  # the steps against thickening are larger
ARRIVED_K = 0.05  # so near, and the step is over


class Held:
    """A bowl that is held at a target, looked at from one moment to the next.

    Between an old and a new place to be it is off by neither, until it has arrived or the next step
    could come.
    """

    def __init__(self, target_c: float) -> None:
        """Nothing has been asked but the target."""
        self._target_c = target_c
        self._asked_c = self._from_c = target_c
        self._stepped_s, self._moved_s = -math.inf, math.inf
        self.warmed_k = 0.0  # so much warmer than its target was it asked to be at most

    def see(self, run_s: float, setpoint_c: float, bowl_c: float) -> float:
        """How far off the bowl is, K; NaN where it or what was asked is not known."""
        if self._is_step(run_s, setpoint_c - self._asked_c):
            self._from_c, self._stepped_s = self._asked_c, run_s
            self._asked_c = max(self._target_c, setpoint_c)
            self.warmed_k = max(self.warmed_k, self._asked_c - self._target_c)
        has_arrived = abs(bowl_c - self._asked_c) <= ARRIVED_K
        if has_arrived or run_s - self._stepped_s >= EVERY_S:
            self._from_c = self._asked_c
        low_c, high_c = sorted((self._from_c, self._asked_c))
        return bowl_c - min(max(bowl_c, low_c), high_c)

    def _is_step(self, run_s: float, moved_k: float) -> bool:
        """Whether another place is asked for, and not for a few minutes only."""
        if not abs(moved_k) > LEAST_WARMED_K:
            self._moved_s = math.inf
            return False
        self._moved_s = min(self._moved_s, run_s)
        return abs(moved_k) > SURELY_K or run_s - self._moved_s > SURELY_S

    @property
    def over_k(self) -> float:
        """By how much the warmest that it may be now is over its target."""
        return max(self._from_c, self._asked_c) - self._target_c

    @property
    def asked_k(self) -> float:
        """How much warmer than its target it is asked to be now."""
        return self._asked_c - self._target_c
