"""Where requests are taken and answered.

Responsible for one answer to each request, and for one deed to each id; not for judging (wishes)
nor for the way to the control loop (inbox).
"""

import json
from collections import OrderedDict, deque
from collections.abc import Callable, Iterable
from datetime import datetime
from enum import StrEnum

from controller.clock import process_s, wall_time
from controller.core.state import EventName, Mode
from controller.link.commands import WHY, Accepted, Refusal, slip_in
from controller.link.inbox import Inbox
from controller.link.settings import Remote
from controller.link.temper_rows import NOTHING
from controller.link.tree import NO_ANSWER
from controller.link.wishes import Gate, Wish, judge_wish, wish_of
from controller.ports import Event, Question, Request, Verb

# Own engineering values, not published.
REMEMBERED = 256  # ids of accepted requests
WAITING = 64  # answers on their way out
REFUSALS_AT_ONCE = 32  # answered; a flood of refused messages is only counted
REFUSALS_PER_S = 8.0


class Result(StrEnum):
    """What came of a request."""

    DONE = "done"
    REFUSED = "refused"


class Desk:
    """Filled by the link's thread; the control loop tells what came of it."""

    def __init__(
        self,
        gate: Gate,
        inbox: Inbox,
        *,
        clock_s: Callable[[], float] = process_s,
        wall_time: Callable[[], datetime] = wall_time,
    ) -> None:
        """Start with nothing asked; `wall_time` only stamps the answers."""
        self._gate = gate
        self._clock_s = clock_s
        self._inbox = inbox
        inbox.dropped = self._dropped
        self._wall_time = wall_time
        self._answers: OrderedDict[str, str] = OrderedDict()  # by id; "" while it is waited for
        self._outgoing: deque[str] = deque(maxlen=WAITING)
        self._in_tick: tuple[str, ...] = ()
        self._pause_in_tick = False
        self._has_paused = False  # since the token was last looked at
        self._allowance = float(REFUSALS_AT_ONCE)
        self._allowed_s = 0.0
        self.last = NO_ANSWER

    @property
    def token(self) -> str:
        """What the next request must repeat."""
        if self._gate.remote is Remote.OFF:
            return NOTHING
        self._outdate()
        return self._gate.tokens.shown(self._clock_s())

    def _outdate(self) -> None:
        """After a pause no earlier token counts: a broker might keep a resume back until then.

        Only the link's thread changes tokens; what the control loop tells is a mark.
        """
        if self._has_paused:
            self._has_paused = False
            self._gate.tokens.spend(self._clock_s())

    def hear(self, payload: bytes, *, retained: bool, ask: Question | None) -> Accepted | None:
        """Take in one request; None when it was refused or had been taken before."""
        wish = Refusal.RETAINED if retained else wish_of(payload)
        if isinstance(wish, Refusal):
            self._inbox.refuse(wish)
            self._explain(NOTHING, wish)
            return None
        if wish.id in self._answers:
            self._inbox.refuse(Refusal.REPEATED)
            answer = self._answers[wish.id]
            if answer and self._may_explain():
                self._say(answer)
            return None
        return self._take(wish, ask)

    def _take(self, wish: Wish, ask: Question | None) -> Accepted | None:
        self._outdate()
        verdict = judge_wish(wish, self._gate, ask, self._clock_s())
        if isinstance(verdict, Accepted):
            self._remember(wish.id)
            if self._inbox.put(verdict.request):
                return self._heeded(verdict)
            del self._answers[wish.id]
            verdict = Refusal.TOO_MANY
        self._inbox.refuse(verdict)
        self._explain(wish.id, verdict)
        return None

    def hear_plain(
        self, payload: bytes, *, retained: bool, ask: Question | None
    ) -> Accepted | None:
        """Take in one plain command; None when it was refused."""
        verdict = self._inbox.offer(payload, retained=retained, ask=ask)
        if isinstance(verdict, Accepted):
            return self._heeded(verdict)
        self._explain(NOTHING, verdict, slip_in(payload))
        return None

    def _heeded(self, accepted: Accepted) -> Accepted:
        if accepted.request.verb is Verb.PAUSE:
            self._has_paused = True
        return accepted

    def refuse(self, refusal: Refusal) -> None:
        """Count what could not even be read."""
        self._inbox.refuse(refusal)

    def _explain(self, id_: str, refusal: Refusal, slip: str = "") -> None:
        """Answer a refused message, unless too many come or it is an old one."""
        if refusal is not Refusal.RETAINED and self._may_explain():
            is_slip = slip and refusal is Refusal.UNKNOWN_DEED
            self._say(self._worded(id_, Result.REFUSED, slip if is_slip else WHY[refusal]))

    def _may_explain(self) -> bool:
        """Whether an answer that brings nothing new is not one too many; counts it."""
        now_s = self._clock_s()
        gained = max(0.0, now_s - self._allowed_s) * REFUSALS_PER_S
        self._allowance = min(float(REFUSALS_AT_ONCE), self._allowance + gained)
        self._allowed_s = now_s
        if self._allowance < 1.0:
            return False
        self._allowance -= 1.0
        return True

    def passed_on(self, requests: Iterable[Request]) -> None:
        """Remember whose answers this tick brings."""
        taken = tuple(requests)
        self._in_tick = tuple(request.id for request in taken if request.id)
        self._pause_in_tick = any(request.verb is Verb.PAUSE for request in taken)

    def _dropped(self, request: Request, refusal: Refusal) -> None:
        """Answer a request that was taken and didn't reach the loop."""
        if request.id:
            self._settle(request.id, self._worded(request.id, Result.REFUSED, WHY[refusal]))

    def settle(self, events: Iterable[Event]) -> None:
        """Answer what went into the tick that has just ended."""
        # One that came over the link was marked as it came, before anybody could see its token.
        if not self._pause_in_tick and any(
            event.name is EventName.MODE_CHANGED and event.facts["after"] == Mode.PAUSING
            for event in events
        ):
            self._has_paused = True
        if not self._in_tick:
            return
        reasons = {
            event.facts.get("id"): str(event.facts["reason"])
            for event in events
            if event.name is EventName.REQUEST_REFUSED
        }
        for id_ in self._in_tick:
            reason = reasons.get(id_)
            result = Result.DONE if reason is None else Result.REFUSED
            self._settle(id_, self._worded(id_, result, reason or ""))
        self._in_tick = ()

    def outgoing(self) -> str | None:
        """The next answer to publish, oldest first."""
        try:
            return self._outgoing.popleft()
        except IndexError:
            return None

    def _settle(self, id_: str, answer: str) -> None:
        if id_ in self._answers:
            self._answers[id_] = answer
        self._say(answer)

    def _remember(self, id_: str) -> None:
        self._answers[id_] = ""
        if len(self._answers) > REMEMBERED:
            self._answers.popitem(last=False)

    def _say(self, answer: str) -> None:
        self.last = answer
        self._outgoing.append(answer)

    def _worded(self, id_: str, result: Result, reason: str) -> str:
        at = self._wall_time().isoformat(timespec="seconds")
        return json.dumps(
            {"id": id_, "result": result.value, "reason": reason, "at": at}, ensure_ascii=False
        )
