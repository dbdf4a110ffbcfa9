"""A slow second opinion on the guard, written from the table and not from the guard.

Responsible for saying what must hold after the newest of all sights, by looking through the whole
history each time; nothing is carried along but what was decided before. Not for being fast.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from controller.guard.decision import ECHO, Cause, Lease, Limits, Sight


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What everybody can see of a guard."""

    heat: bool
    latched: Cause
    armed: bool
    alone: int = 0
    causes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """All that was seen, and what was decided at each moment but the newest."""

    began_ms: int
    latched: Cause  # at the beginning
    sights: Sequence[Sight]
    verdicts: Sequence[Verdict]
    limits: Limits
    clock: Sequence[int]  # the latest time that any clock has shown until each moment

    @property
    def newest(self) -> int:
        """The index of the newest sight."""
        return len(self.sights) - 1

    def now_ms(self, at: int) -> int:
        """The latest time that any clock has shown until then."""
        return self.clock[at]

    def before(self, at: int) -> Verdict:
        """What was decided just before a moment."""
        if at == 0:
            causes = () if self.latched is Cause.NONE else (str(self.latched),)
            return Verdict(heat=False, latched=self.latched, armed=False, causes=causes)
        return self.verdicts[at - 1]

    def rearmed(self, at: int) -> bool:
        """Whether a person cleared a latch at that moment."""
        return self.sights[at].rearm and self.before(at).latched is not Cause.NONE

    def epoch(self) -> int:
        """When the guard began, or was last re-armed: the index of the first sight that counts."""
        return max([0, *(at for at in range(len(self.sights)) if self.rearmed(at))])

    def jumped(self, at: int) -> bool:
        """Whether the clock then showed less than before, or far more."""
        shown_ms = self.began_ms if at == 0 else self.now_ms(at - 1)
        return not 0 <= self.sights[at].now_ms - shown_ms <= self.limits.lease_ms

    def timely(self, at: int) -> bool:
        """Whether a datagram of that moment can't have waited through a gap."""
        same = (i for i in range(at + 1) if self.now_ms(i) == self.now_ms(at))
        return not any(self.jumped(i) for i in same)


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A lease that was heard from the controller then in charge."""

    at: int
    lease: Lease


def who_spoke(history: History) -> tuple[list[Word], set[int], int]:
    """The leases heard from controllers in charge, the moments of strangers, who is in charge."""
    words: list[Word] = []
    strangers: set[int] = set()
    known: set[int] = set()
    charge = 0
    for at, sight in enumerate(history.sights):
        if history.rearmed(at):
            charge = 0
        lease = sight.lease
        if lease is None:
            continue
        if lease.peer != charge:
            strangers.add(at)
        if lease.peer == 0:
            continue
        if lease.peer != charge:
            if lease.peer in known:
                continue
            known.add(lease.peer)
            charge = lease.peer
        earlier = [word.lease.number for word in words if word.lease.peer == charge]
        if lease.number > max([0, *earlier]):
            words.append(Word(at=at, lease=lease))
            charge = 0 if lease.farewell else charge
    return words, strangers, charge


def run_since(history: History, words: Sequence[Word], at: int) -> int | None:
    """When the run that was on before a moment began: the index of its first heat."""
    if history.rearmed(at):
        return None
    farewells = [word.at for word in words if word.lease.farewell and word.at < at]
    rearms = [i for i in range(at) if history.rearmed(i)]
    start = max([0, *farewells, *rearms])
    heats = [i for i in range(start, at) if history.verdicts[i].heat]
    return heats[0] if heats else None


def last_words(words: Sequence[Word], at: int) -> list[Word]:
    """The farewells of a moment."""
    return [word for word in words if word.lease.farewell and word.at == at]


def leased_before(history: History, words: Sequence[Word], at: int) -> int:
    """The index of the last good lease before a moment."""
    return max(w.at for w in words if w.at < at and renews(history, w))


def renews(history: History, word: Word) -> bool:
    """Whether a lease is good for the time of a lease."""
    says_more = word.lease.farewell or word.lease.tripped
    return word.lease.good and not says_more and history.timely(word.at)


def silent_ms(history: History, words: Sequence[Word], at: int) -> int:
    """How long no good lease had come when a moment began."""
    return history.now_ms(at) - history.now_ms(leased_before(history, words, at))


def lapses(history: History, words: Sequence[Word], since: int, at: int) -> list[int]:
    """The times at which the lapses of a run, until a moment, were seen first."""
    seen: dict[int, int] = {}
    for i in range(since + 1, at + 1):
        if silent_ms(history, words, i) > history.limits.lease_ms:
            seen.setdefault(leased_before(history, words, i), history.now_ms(i))
    return list(seen.values())


def lapsed(history: History, words: Sequence[Word], since: int) -> bool:
    """Whether the silence of a run has been too long, or come too often."""
    at, limits = history.newest, history.limits
    if silent_ms(history, words, at) <= limits.lease_ms:
        return False
    if silent_ms(history, words, at) > limits.short_lapse_ms:
        return True
    times = lapses(history, words, since, at)
    # Those in the window of the newest; the silence that lasts was judged when it began.
    recent = [ms for ms in times if ms > times[-1] - limits.lapse_window_ms]
    return len(recent) >= limits.lapses_max


def value_mc(history: History, at: int) -> int | None:
    """What the thermometer said, if that was fresh."""
    sight = history.sights[at]
    fresh = 0 <= sight.bath_age_ms <= history.limits.sample_age_ms
    return sight.bath_mc if fresh else None


def cap_mc(history: History, words: Sequence[Word], at: int) -> int:
    """The limit in force at a moment."""
    caps = [w.lease.cap_mc for w in words if w.at <= at and renews(history, w)]
    return min(caps[-1], history.limits.cap_mc)


def over_ms(history: History, words: Sequence[Word], since: int) -> int:
    """How long the bath has been over its cap, as far as known."""
    within_ms, over = history.now_ms(since), False
    for i in range(since, len(history.sights)):
        value = value_mc(history, i)
        if value is not None:
            over = value > cap_mc(history, words, i)
        if not over:
            within_ms = history.now_ms(i)
    return history.now_ms(history.newest) - within_ms


def blind_ms(history: History, since: int) -> int:
    """How old the last value that was fresh when seen has become."""
    taken = [
        history.now_ms(i) - history.sights[i].bath_age_ms
        for i in range(since, len(history.sights))
        if value_mc(history, i) is not None
    ]
    return history.now_ms(history.newest) - taken[-1]


def disagreed_ms(history: History) -> int:
    """How long the mains have not been as the switch was told."""
    start = history.epoch()
    agreed_ms = history.began_ms if not history.rearmed(start) else history.now_ms(start)
    for i in range(start, len(history.sights)):
        live = history.sights[i].mains_live
        told = history.before(i).heat and not history.before(i).alone
        if live is None or live == told:
            agreed_ms = history.now_ms(i)
    return history.now_ms(history.newest) - agreed_ms


def found(history: History, words: Sequence[Word], strangers: set[int]) -> list[tuple[Cause, str]]:
    """Each of the table's rows that applies now, with its word."""
    at, limits = history.newest, history.limits
    sight = history.sights[at]
    free = history.rearmed(at) or history.before(at).latched is Cause.NONE
    since = run_since(history, words, at)
    still = since is not None and not last_words(words, at)
    first = since or 0
    live = Cause.HEATER_LIVE_WHEN_OFF if sight.mains_live else Cause.HEATER_DEAD_WHEN_ON
    trip = next((w.lease.tripped for w in words if w.at == at and w.lease.tripped), "")
    table: tuple[tuple[Cause, bool, Callable[[], bool]], ...] = (
        (Cause.LEASE_LAPSED, free and since is not None, lambda: lapsed(history, words, first)),
        (Cause.CONTROLLER_LOST, since is not None, lambda: at in strangers),
        (Cause.CONTROLLER_TRIPPED, True, lambda: bool(trip)),
        (Cause.CONTROLLER_LOST, still, lambda: sight.hung_up),
        (live, True, lambda: disagreed_ms(history) > limits.mains_ms),
        (Cause.BATH_OVER_CAP, still, lambda: over_ms(history, words, first) > limits.over_ms),
        (Cause.GUARD_PROBE_LOST, still, lambda: blind_ms(history, first) > limits.sample_lost_ms),
    )
    return [
        (what, trip if what is Cause.CONTROLLER_TRIPPED else str(what))
        for what, concerns, applies in table
        if concerns and applies()
    ]


def added(history: History, now: Sequence[tuple[Cause, str]]) -> tuple[Cause, tuple[str, ...]]:
    """What is latched: the first that applied since the last re-arm, and all that did."""
    before = history.before(history.newest)
    if history.rearmed(history.newest):
        before = Verdict(heat=False, latched=Cause.NONE, armed=False)
    latched, causes = before.latched, before.causes
    for what, word in now:
        latched = what if latched is Cause.NONE else latched
        if word not in causes and not (word == ECHO and causes):
            causes = (*causes, word)
    return latched, causes


def may_heat(history: History, words: Sequence[Word], charge: int) -> bool:
    """The table's conditions for heat, but for the latch."""
    at = history.newest
    last = words[-1] if words else None
    hung_up = [i for i, sight in enumerate(history.sights) if sight.hung_up]
    if last is None or last.lease.peer != charge or last.at < history.epoch():
        return False
    if hung_up and hung_up[-1] >= last.at:
        return False
    value = value_mc(history, at)
    return (
        renews(history, last)
        and last.lease.heat
        and history.now_ms(at) - history.now_ms(last.at) <= history.limits.lease_ms
        and value is not None
        and value <= cap_mc(history, words, at)
        and history.sights[at].now_ms == history.now_ms(at)
    )


def judge(history: History) -> Verdict:
    """The verdict on the newest sight."""
    words, strangers, charge = who_spoke(history)
    at = history.newest
    latched, causes = added(history, found(history, words, strangers))
    heat = latched is Cause.NONE and may_heat(history, words, charge)
    ended = bool(last_words(words, at))
    armed = run_since(history, words, at) is not None and not ended
    alone = words[-1].lease.alone if heat else 0
    return Verdict(heat=heat, latched=latched, armed=armed or heat, alone=alone, causes=causes)


def judge_all(
    sights: Sequence[Sight], limits: Limits, *, began_ms: int = 0, latched: Cause = Cause.NONE
) -> list[Verdict]:
    """The verdict on every sight of a history, each from all that came until then."""
    verdicts: list[Verdict] = []
    for length in range(1, len(sights) + 1):
        history = History(
            began_ms=began_ms,
            latched=latched,
            sights=sights[:length],
            verdicts=tuple(verdicts),
            limits=limits,
            clock=[
                max(began_ms, *(sight.now_ms for sight in sights[: at + 1])) for at in range(length)
            ],
        )
        verdicts.append(judge(history))
    return verdicts
