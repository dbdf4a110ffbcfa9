"""When the link's thread must leave the interpreter to the control loop's.

Responsible for when a tick is due, guessed from those that came; not for the ticks.
Only one thread of a Python process runs at a time. One that is put aside by a busy kernel in the
middle of somebody's flood keeps all others waiting: so none is worked off while a tick is due.
"""

import threading

from controller.clock import process_s

# Own engineering values, not published.
BEFORE_S = 0.06  # for so long a busy kernel may put a thread aside
AFTER_S = 0.1  # nobody waits longer for a tick that doesn't come
_STEP_S = 0.004
_CREEP_S = 0.001  # a tick that came early by mistake is forgotten by so much with each other one


class Courtesy:
    """Told of each tick by the control loop, asked by the link's thread; neither takes a lock."""

    def __init__(self, period_s: float) -> None:
        """Nothing is due until a first tick has come."""
        self._period_s = period_s
        self._anchor_s: float | None = None  # a moment at which a tick was due
        self._told_s = 0.0
        self._rest = threading.Event()  # nobody sets it

    def told(self, now_s: float) -> None:
        """A tick has come. It is never early, so the earliest show when each is due."""
        anchor_s = now_s if self._anchor_s is None else self._anchor_s
        ticks = round((now_s - anchor_s) / self._period_s)
        late_s = now_s - ticks * self._period_s - anchor_s
        self._anchor_s = anchor_s + min(late_s, _CREEP_S)
        self._told_s = now_s

    def wait_s(self, now_s: float) -> float:
        """For how long nothing should be done, unless the tick comes before."""
        if self._anchor_s is None:
            return 0.0
        since_s = (now_s - self._anchor_s + BEFORE_S) % self._period_s
        due_s = now_s - since_s + BEFORE_S
        is_over = since_s >= BEFORE_S + AFTER_S or self._told_s >= due_s - BEFORE_S
        return 0.0 if is_over else due_s + AFTER_S - now_s

    def give_way(self) -> None:
        """Return when no tick is due."""
        while (left_s := self.wait_s(process_s())) > 0.0:
            # Not once before it is due: to look at the clock takes the interpreter, too.
            self._rest.wait(min(left_s, max(left_s - AFTER_S, 0.0) + _STEP_S))
