"""Random histories for the guard: mostly a healthy run, with everything that can go wrong in it.

Responsible for sights that follow each other; not for judging what the guard makes of them.
"""

from collections.abc import Iterator
from random import Random

from controller.guard.decision import ECHO, Cause, Guard, Lease, Limits, Sight, begin, step

# Small counters, so that a short history crosses every limit, often exactly.
SMALL = Limits(
    cap_mc=3,
    lease_ms=2,
    short_lapse_ms=5,
    lapses_max=3,
    lapse_window_ms=14,
    sample_age_ms=1,
    sample_lost_ms=4,
    over_ms=2,
    mains_ms=2,
)
STEPS_MS = (*[1] * 60, *[0] * 8, *[2] * 8, 3, 3, 5, 6, -1, 9)  # a step's time, by its frequency
CAPS_MC = (1, 2, 2, 2, 2, 5)
BATHS_MC = (None, None, *[1] * 90, *[2] * 20, 3, 9)
AGES_MS = (*[0] * 60, *[1] * 20, 2, -1)
ALONE = (*[0] * 18, 1, 2)
STARTS = (*[Cause.NONE] * 5, Cause.GUARD_RESTARTED)


class Talk:
    """Controllers that speak one after the other, now and then at once."""

    def __init__(self, rng: Random) -> None:
        """Nobody has spoken yet."""
        self._rng = rng
        self._numbers: dict[int, int] = {}
        self._peer = 1

    def lease(self, guard: Guard) -> Lease:
        """The next datagram of one of them; a new one comes when the old one is done."""
        rng = self._rng
        done = guard.peer != self._peer and self._numbers.get(self._peer, 0) > 0
        if rng.random() < (0.2 if done else 0.002):
            self._peer += 1
        earlier = range(max(0, self._peer - 3), self._peer)  # fewer than a guard remembers
        peer = self._peer if rng.random() < 0.995 else rng.choice((0, *earlier))
        last = self._numbers.get(peer, 0)
        number = last + 1 if rng.random() < 0.97 else rng.choice((0, last - 1, last, last + 3))
        self._numbers[peer] = max(number, last)
        farewell = rng.random() < 0.005
        return Lease(
            peer=peer,
            number=number,
            heat=rng.random() < 0.9,
            cap_mc=rng.choice(CAPS_MC),
            good=rng.random() < 0.97,
            alone=rng.choice(ALONE),
            farewell=farewell,
            tripped=self._trip(0.3 if farewell else 0.003),
        )

    def _trip(self, chance: float) -> str:
        """The word of a trip, or none."""
        rng = self._rng
        return rng.choice(("stirrer-stopped", "level-lost", ECHO)) if rng.random() < chance else ""


def history(rng: Random) -> Iterator[Sight]:
    """One sight after the other, without end; they follow a guard, so that runs get somewhere."""
    talk = Talk(rng)
    now_ms = 0
    chatty, fitted = rng.choice((0.6, 0.9, 1.0)), rng.random() < 0.4
    bath_mc: int | None = 1
    guard = begin(now_ms, Cause.NONE)
    while True:
        now_ms += rng.choice(STEPS_MS)
        bath_mc = rng.choice(BATHS_MC) if rng.random() < 0.6 else bath_mc
        live = (guard.heat and not guard.alone) if rng.random() < 0.8 else rng.random() < 0.5
        sight = Sight(
            now_ms=now_ms,
            lease=talk.lease(guard) if rng.random() < chatty else None,
            hung_up=rng.random() < 0.003,
            bath_mc=bath_mc,
            bath_age_ms=rng.choice(AGES_MS),
            mains_live=live if fitted else None,
            rearm=rng.random() < (0.02 if guard.latched is Cause.NONE else 0.2),
        )
        guard = step(guard, sight, SMALL)
        yield sight
