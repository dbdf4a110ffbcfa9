"""The keyboard as a panel: one word a line, taken without holding up the loop.

Responsible for turning typed lines into requests; not for judging them (core).
"""

import threading
from collections import deque
from typing import TextIO

from controller.core.announcement import HOW, doubt
from controller.core.leaving import leave_of
from controller.ports import Question, Request, Verb, announced

WORDS = {
    "pause": Verb.PAUSE,
    "resume": Verb.RESUME,
    "stop": Verb.STOP,
    "acknowledge": Verb.ACKNOWLEDGE,
}
HELP = (
    "Type pause, resume, stop, acknowledge, the word of an answer, announce and what you have just "
    "done, or leave 20 min to ask whether it may be left, then Enter."
)
KEPT = 64
AGAIN_S = 0.5


class Keyboard:
    """A person at the machine: may also do what adds energy."""

    def __init__(self, typed: TextIO, shown: TextIO) -> None:
        """Read from `typed` in a thread of its own; say what is not understood on `shown`."""
        self._typed = typed
        self._shown = shown
        self._lines: deque[str] = deque(maxlen=KEPT)
        threading.Thread(target=self._listen, name="keyboard", daemon=True).start()

    def _listen(self) -> None:
        pause = threading.Event()
        while not self._typed.closed:
            line = self._typed.readline()
            if line:
                self._lines.append(line.strip())
            elif self._typed.isatty():
                pause.wait(AGAIN_S)  # Ctrl-D: whoever typed it is still there
            else:
                return

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract; keys carry no time
        """What was typed since the last call."""
        requests = []
        while self._lines:
            line = self._lines.popleft()
            request = request_of(line, ask)
            if request is None:
                self._shown.write(f"{_help(line)}\n")
            else:
                requests.append(request)
        return tuple(requests)


def _help(line: str) -> str:
    """What is said of a line that means nothing."""
    first, _, rest = line.casefold().partition(" ")
    if not first.startswith(Verb.ANNOUNCE):
        return HELP
    slip = doubt(rest)
    return f"Not announced: {slip}" if slip else f"To announce, type {HOW}."


def request_of(line: str, ask: Question | None) -> Request | None:
    """The request that a typed line means, or None."""
    verb = WORDS.get(line.casefold())
    if verb is not None:  # first, so that no answer's word can stand in the way of a stop
        return Request(verb=verb)
    first, _, rest = line.casefold().partition(" ")
    if first == Verb.ANNOUNCE and (deed := announced(rest)) is not None:
        return Request(verb=Verb.ANNOUNCE, announcement=deed)
    if (for_s := leave_of(line)) is not None:
        return Request(verb=Verb.LEAVE, for_s=for_s)
    if ask is not None and line in {choice.word for choice in ask.choices}:
        return Request(verb=Verb.ANSWER, ask_id=ask.id, choice=line)
    return None
