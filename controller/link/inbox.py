"""Commands that came in over the link, on their way to the control loop.

Responsible for handing them over between threads in bounded memory; not for judging them.
"""

import threading
from collections import Counter, deque

from structlog.typing import FilteringBoundLogger

from controller.clock import process_s
from controller.link.commands import WHY, Accepted, Refusal, judge, still_fits
from controller.ports import Question, Request, Source, Verb

ROOM = 16  # requests between two ticks; own engineering value, not published
LOG_GAP_S = 10.0  # a flood of refusals makes one line in this time; own engineering value


class Inbox:
    """Filled by the link's thread, emptied by the control loop; neither waits for the other.

    A stop has a place of its own, so that no number of other messages can crowd it out.
    """

    def __init__(self, log: FilteringBoundLogger) -> None:
        """Start empty."""
        self._log = log
        self._stop = threading.Event()
        self._others: deque[Request] = deque()
        self._logged_s: dict[Refusal, float] = {}
        self.refused: Counter[Refusal] = Counter()

    def offer(self, payload: bytes, *, retained: bool, ask: Question | None) -> Accepted | None:
        """Judge one message and keep what it asks for; None when it was refused."""
        verdict = judge(payload, retained=retained, ask=ask)
        if isinstance(verdict, Refusal):
            self.refuse(verdict)
            return None
        if verdict.request.verb is Verb.STOP:
            self._stop.set()
        elif len(self._others) >= ROOM:
            self.refuse(Refusal.TOO_MANY)
            return None
        else:
            self._others.append(verdict.request)
        return verdict

    def take(self, ask: Question | None) -> tuple[Request, ...]:
        """Everything kept since the last call, a stop first; `ask` is the question now open."""
        taken = []
        if self._stop.is_set():
            self._stop.clear()
            taken.append(Request(verb=Verb.STOP, source=Source.LINK))
        for _ in range(len(self._others)):
            request = self._others.popleft()
            refusal = still_fits(request, ask)
            if refusal is None:
                taken.append(request)
            else:
                self.refuse(refusal)
        return tuple(taken)

    def refuse(self, refusal: Refusal) -> None:
        """Count a message that was not taken, and say so without filling the log."""
        self.refused[refusal] += 1
        now_s = process_s()
        last_s = self._logged_s.get(refusal)
        if last_s is None or now_s - last_s >= LOG_GAP_S:
            self._logged_s[refusal] = now_s
            self._log.warning(
                "message_refused",
                reason=refusal.value,
                advice=WHY[refusal],
                count=self.refused[refusal],
            )
