"""How fast the bowl's temperature has been changing, from the ticks that the link has seen.

Responsible for one number to look at; control has a better one of its own and never asks this.
"""

import math
from collections import deque

from controller.ports import Moment

# Own engineering values, not published: long enough for steps of 0.0625 K to average out.
WINDOW_S = 60.0
LEAST_S = 30.0
EACH_S = 1.0  # ticks nearer to one another add nothing, so that memory is bounded
_S_PER_MIN = 60.0


class Slope:
    """Least squares through the last minute of the bowl's readings."""

    def __init__(self) -> None:
        """Nothing seen yet."""
        self._seen: deque[tuple[float, float]] = deque()

    def k_per_min(self, moment: Moment) -> float:
        """The rate with this tick, K/min; NaN while too little was seen, or after a bad reading."""
        now_s, bowl_c = moment.state.run_s, moment.state.bowl_c
        if not math.isfinite(bowl_c) or (self._seen and now_s < self._seen[-1][0]):
            self._seen.clear()
            return math.nan
        if not self._seen or now_s - self._seen[-1][0] >= EACH_S:
            self._seen.append((now_s, bowl_c))
        while self._seen[0][0] < now_s - WINDOW_S:
            self._seen.popleft()
        return self._fitted() * _S_PER_MIN

    def _fitted(self) -> float:
        if not self._seen or self._seen[-1][0] - self._seen[0][0] < LEAST_S:
            return math.nan
        mean_s = sum(at_s for at_s, _ in self._seen) / len(self._seen)
        spread = sum((at_s - mean_s) ** 2 for at_s, _ in self._seen)
        return sum((at_s - mean_s) * bowl_c for at_s, bowl_c in self._seen) / spread
