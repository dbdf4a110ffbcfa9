"""Commands that came in over the link, on their way to the control loop.

Responsible for handing them over between threads in bounded memory; not for judging them.
"""

from collections import Counter, deque
from collections.abc import Callable

from structlog.typing import FilteringBoundLogger

from controller.clock import process_s
from controller.link.commands import WHY, Accepted, Refusal, judge, still_fits
from controller.ports import Question, Request, Source, Verb

# Own engineering values, not published.
ROOM = 16  # requests between two ticks
FRESH_S = 5.0  # what adds energy and waited longer for the loop is no more what somebody sees
LOG_GAP_S = 10.0  # a flood of refusals makes one line in this time


Dropped = Callable[[Request, Refusal], None]
"""Called with a request that was taken and is not passed on, and why."""


def _forget(_request: Request, _refusal: Refusal) -> None:
    """Until somebody wants to know."""


def _too_late(request: Request, since_s: float) -> Refusal | None:
    is_fresh = 0.0 <= process_s() - since_s <= FRESH_S
    return None if is_fresh or request.source is not Source.REMOTE else Refusal.TOO_LATE


class Inbox:
    """Filled by the link's thread, emptied by the control loop; neither waits for the other.

    A stop has a place of its own, so that no number of other messages can crowd it out.
    """

    def __init__(self, log: FilteringBoundLogger) -> None:
        """Start empty."""
        self._log = log
        self._stops: deque[Request] = deque(maxlen=ROOM)
        self._others: deque[tuple[Request, float]] = deque()
        self._logged_s: dict[Refusal, float] = {}
        self.refused: Counter[Refusal] = Counter()
        self.dropped: Dropped = _forget

    def offer(self, payload: bytes, *, retained: bool, ask: Question | None) -> Accepted | Refusal:
        """Judge one plain message and keep what it asks for, or count it."""
        verdict = judge(payload, retained=retained, ask=ask)
        if isinstance(verdict, Accepted) and not self.put(verdict.request):
            verdict = Refusal.TOO_MANY
        if isinstance(verdict, Refusal):
            self.refuse(verdict)
        return verdict

    def put(self, request: Request) -> bool:
        """Keep a request for the loop; False when there is no room."""
        if request.verb is Verb.STOP:
            self._stops.append(request)
        elif len(self._others) >= ROOM:
            return False
        else:
            self._others.append((request, process_s()))
        return True

    def take(self, ask: Question | None) -> tuple[Request, ...]:
        """Everything kept since the last call, a stop first; `ask` is the question now open.

        Each request that is kept back instead is counted, and given to `dropped`.
        """
        taken = self._all_stops()
        for _ in range(len(self._others)):
            request, since_s = self._others.popleft()
            refusal = _too_late(request, since_s) or still_fits(request, ask)
            if refusal is None:
                taken.append(request)
            else:
                self.refuse(refusal)
                self.dropped(request, refusal)
        return tuple(taken)

    def _all_stops(self) -> list[Request]:
        """One stop is as good as many; only those whose answer somebody waits for come singly."""
        stops = [self._stops.popleft() for _ in range(len(self._stops))]
        named = [stop for stop in stops if stop.id]
        return named or stops[:1]

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
