"""When a run's record notes what was foretold of its end.

Responsible for a few lines an hour instead of one a tick; not for the forecast (core/forecast) or
for bytes (lines).
"""

import math

from controller.core.outlook import UNKNOWN, Outlook

# Own engineering values, not published.
EVERY_S = 600.0  # a forecast that stays as it is is noted this often
GAP_S = 30.0  # and one that changes no more often than this,
MOVED_S = 60.0  # when it has moved by so much,
MOVED_SHARE = 0.1  # and by this share of the time that is left


class Foretelling:
    """Remembers what was noted last."""

    def __init__(self) -> None:
        """Nothing noted yet."""
        self._noted = UNKNOWN
        self._noted_s = -math.inf

    def is_due(self, outlook: Outlook, run_s: float) -> bool:
        """Whether this outlook is to be noted now; then it counts as noted."""
        if not self._differs(outlook, run_s):
            return False
        self._noted, self._noted_s = outlook, run_s
        return True

    def _differs(self, outlook: Outlook, run_s: float) -> bool:
        before = self._noted
        if before.is_ready:
            return False
        if outlook.is_ready or outlook.obstacle is not before.obstacle:
            return True
        was_known, is_known = math.isfinite(before.likely_s), math.isfinite(outlook.likely_s)
        if is_known is not was_known:
            return True
        since_s = run_s - self._noted_s
        if not is_known or since_s < GAP_S:
            return False
        left_s = max(0.0, outlook.likely_s - run_s)
        moved_s = abs(outlook.likely_s - before.likely_s)
        return since_s >= EVERY_S or moved_s > max(MOVED_S, MOVED_SHARE * left_s)
