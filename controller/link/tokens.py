"""The public token that a request must repeat, so that none can be used twice or late.

Responsible for how long a token counts; not for who may use it. It proves nothing about anybody:
whoever may read the topic knows it. No wall clock takes part.
"""

import secrets
from collections.abc import Callable

# Own engineering values, not published: time to copy it on a phone, and no more.
LIFE_S = 60.0  # a token is shown for so long, and counts for as long again
_BYTES = 16


def _new() -> str:
    return secrets.token_hex(_BYTES)


class Tokens:
    """The token now shown, and the one before it where that still counts."""

    def __init__(self, now_s: float, make: Callable[[], str] = _new) -> None:
        """Begin with a fresh one; `now_s` is of a clock that is never set."""
        self._make = make
        self._shown = make()
        self._before = ""
        self._since_s = now_s

    def shown(self, now_s: float) -> str:
        """The token to publish now; a new one when it is old."""
        waited_s = now_s - self._since_s
        if not 0.0 <= waited_s < LIFE_S:
            self._before = self._shown if 0.0 <= waited_s < 2 * LIFE_S else ""
            self._shown, self._since_s = self._make(), now_s
        return self._shown

    def fits(self, token: str, now_s: float) -> bool:
        """Whether a request that repeats `token` is neither late nor a second time."""
        return bool(token) and token in {self.shown(now_s), self._before}

    def spend(self, now_s: float) -> None:
        """Let no earlier token count any more."""
        self._shown, self._before, self._since_s = self._make(), "", now_s
