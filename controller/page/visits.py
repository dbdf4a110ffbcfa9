"""Who is signed in, which form is good for one use, and how much may be asked of the page.

Responsible for bounded memory of visitors; not for passwords (passwords) nor for HTTP (app).
"""

import hashlib
import secrets
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field

# Own engineering values, not published.
SIGNED_IN_S = 12 * 3600.0  # a long day at the machine
MOST_SIGNED_IN = 32
MOST_FORMS = 16  # of one visitor: several tabs
MOST_ADDRESSES = 256
_BYTES = 32


@dataclass(slots=True)
class Visit:
    """One who is signed in."""

    until_s: float
    forms: OrderedDict[str, None] = field(default_factory=OrderedDict)

    def form(self) -> str:
        """A fresh form, good for one use."""
        made = secrets.token_urlsafe(_BYTES)
        self.forms[made] = None
        while len(self.forms) > MOST_FORMS:
            self.forms.popitem(last=False)
        return made

    def uses(self, form: str) -> bool:
        """Whether this form was given out and never used; it is now."""
        try:
            del self.forms[form]
        except KeyError:
            return False
        return True


class Visits:
    """All who are signed in, by the hash of their cookie: who reads our memory gets no cookie."""

    def __init__(self, clock_s: Callable[[], float]) -> None:
        """Nobody."""
        self._clock_s = clock_s
        self._visits: OrderedDict[bytes, Visit] = OrderedDict()

    def begin(self) -> str:
        """Sign somebody in; their cookie. The oldest has to go when there are too many."""
        cookie = secrets.token_urlsafe(_BYTES)
        self._visits[_key(cookie)] = Visit(until_s=self._clock_s() + SIGNED_IN_S)
        while len(self._visits) > MOST_SIGNED_IN:
            self._visits.popitem(last=False)
        return cookie

    def of(self, cookie: str) -> Visit | None:
        """Whose cookie this is; None where it is nobody's, or its time is over."""
        visit = self._visits.get(_key(cookie)) if cookie else None
        if visit is not None and self._clock_s() >= visit.until_s:
            self.end(cookie)
            return None
        return visit

    def end(self, cookie: str) -> None:
        """Sign somebody out."""
        self._visits.pop(_key(cookie), None)


def _key(cookie: str) -> bytes:
    return hashlib.sha256(cookie.encode(errors="replace")).digest()


@dataclass(slots=True)
class Allowance:
    """So many at once, then one more every `each_s` seconds."""

    at_once: float
    each_s: float
    left: float
    since_s: float

    def claim(self, now_s: float, patience_s: float) -> float | None:
        """How long one more has to wait for its turn, s; None where that is over `patience_s`.

        Who is given a turn is counted, who isn't is not.
        """
        gained = max(0.0, now_s - self.since_s) / self.each_s
        self.left, self.since_s = min(self.at_once, self.left + gained), now_s
        wait_s = max(0.0, (1.0 - self.left) * self.each_s)
        if wait_s > patience_s:
            return None
        self.left -= 1.0
        return wait_s


class Allowances:
    """One allowance for each address, of so many addresses as memory should hold."""

    def __init__(self, at_once: float, each_s: float, clock_s: Callable[[], float]) -> None:
        """Everybody may ask for `at_once`, then for one more every `each_s` seconds."""
        self._at_once, self._each_s, self._clock_s = at_once, each_s, clock_s
        self._by_address: OrderedDict[str, Allowance] = OrderedDict()

    def take(self, address: str) -> bool:
        """Whether one more is allowed from there now; counts it."""
        return self.claim(address) is not None

    def claim(self, address: str, patience_s: float = 0.0) -> float | None:
        """How long one more from there has to wait, s; None where that is over `patience_s`."""
        now_s = self._clock_s()
        found = self._by_address.pop(address, None) or Allowance(
            at_once=self._at_once, each_s=self._each_s, left=self._at_once, since_s=now_s
        )
        self._by_address[address] = found
        while len(self._by_address) > MOST_ADDRESSES:
            self._by_address.popitem(last=False)
        return found.claim(now_s, patience_s)
