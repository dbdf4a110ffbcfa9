"""Every state that the guard can come into, with counters so small that they can be counted.

Responsible for walking from each state through each sight of an alphabet, by the real step; states
that differ only in what the guard can't tell apart (absolute time, names and numbers of
controllers, ages beyond the longest limit) are one. Not for what must hold of a step.
"""

from collections import Counter, deque
from dataclasses import dataclass, field
from itertools import product

from controller.guard.decision import Cause, Guard, Lease, Limits, Sight, begin, step
from tests.helpers.guard_invariants import broken

LONG = Limits(
    cap_mc=2,
    lease_ms=2,
    short_lapse_ms=5,
    lapses_max=3,
    lapse_window_ms=14,
    sample_age_ms=1,
    sample_lost_ms=5,
    over_ms=3,
    mains_ms=2,
    barred_max=2,
)
SHORT = Limits(
    cap_mc=2,
    lease_ms=1,
    short_lapse_ms=2,
    lapses_max=2,
    lapse_window_ms=5,
    sample_age_ms=1,
    sample_lost_ms=1,
    over_ms=1,
    mains_ms=1,
    barred_max=2,
)
OWN, NEW = 1, 99  # the controller in charge in every state, and one that nobody has met
MILD_MC, WARM_MC, HOT_MC = 1, 2, 3  # under the phase's cap, between the caps, over the machine's
PHASE_CAP_MC, WILD_CAP_MC = 1, 9


def _lease(peer: int = OWN, number: int = 2, alone: int = 0, **rest: bool) -> Lease:
    return Lease(
        peer=peer,
        number=number,
        heat=rest.get("heat", True),
        cap_mc=WILD_CAP_MC if rest.get("wild") else PHASE_CAP_MC,
        good=rest.get("good", True),
        alone=alone,
        farewell=rest.get("farewell", False),
        tripped="level-lost" if rest.get("tripped") else "",
    )


LEASES = (
    None,
    _lease(),
    _lease(wild=True),
    _lease(heat=False),
    _lease(alone=1),  # the second alone is no other decision
    _lease(good=False),
    _lease(farewell=True),
    _lease(farewell=True, tripped=True),
    _lease(tripped=True),
    _lease(number=1, wild=True),  # a repetition
    _lease(peer=3, number=7),  # barred where two are, else new
    _lease(peer=NEW, number=1),
    _lease(peer=NEW, number=1, farewell=True),
    _lease(peer=0, number=7),
)
BATHS = ((MILD_MC, 0), (MILD_MC, 1), (MILD_MC, 2), (WARM_MC, 0), (HOT_MC, 0), (None, 0))
MAINS = (False, True)  # not fitted is as if they always agreed; it is among the other times


def alphabet(limits: Limits) -> tuple[Sight, ...]:
    """The sights tried in every state: each at once and after a while, the rare ones apart."""
    gap_ms = limits.short_lapse_ms + 1
    plain = product((1,), LEASES, BATHS, MAINS, (False,), (False,))
    other_times = product((-1, 0, limits.lease_ms + 1, gap_ms), LEASES[:2], BATHS[:1], (None,))
    hung_up = product((1,), LEASES, BATHS[:1], MAINS[:1], (True,), (False,))
    rearmed = product((1, gap_ms), LEASES, BATHS[:1], MAINS[:1], (False, True), (True,))
    kinds = (*plain, *((*rest, False, False) for rest in other_times), *hung_up, *rearmed)
    return tuple(
        Sight(
            now_ms=now_ms,
            lease=lease,
            bath_mc=bath_mc,
            bath_age_ms=age_ms,
            mains_live=mains,
            hung_up=hung,
            rearm=rearm,
        )
        for now_ms, lease, (bath_mc, age_ms), mains, hung, rearm in kinds
    )


Key = tuple[
    bool, int, Cause, bool, bool, int, bool, int, int, int, bool, tuple[int, ...], bool, int, bool,
    int, int,
]  # fmt: skip


def key(guard: Guard, limits: Limits) -> Key:
    """What tells one state from another; what can't matter any more is nought.

    A latched guard comes back only through `begin`; without a run nobody counts silence or excess.
    """
    now_ms = guard.seen_ms
    free = guard.latched is Cause.NONE
    run = free and guard.armed
    longest_ms = max(limits.short_lapse_ms, limits.lease_ms)
    since_ms = now_ms - limits.lapse_window_ms
    return (
        guard.heat,
        guard.alone,
        guard.latched,
        guard.armed,
        guard.peer != 0,
        len(guard.barred),
        guard.asked and free,
        guard.asked_alone if guard.asked and free else 0,
        guard.cap_mc if free else 0,
        min(now_ms - guard.leased_ms, longest_ms + 1) if free else 0,
        guard.lapsed and run,
        tuple(now_ms - ms for ms in guard.lapses_ms if ms > since_ms) if run else (),
        guard.gap_ms == now_ms,
        min(now_ms - guard.sampled_ms, limits.sample_lost_ms + 1) if run else 0,
        guard.over and run,
        min(now_ms - guard.within_ms, limits.over_ms + 1) if run else 0,
        min(now_ms - guard.agreed_ms, limits.mains_ms + 1) if free else 0,
    )


def normal(mark: Key) -> Guard:
    """The state that stands for all with this key: at time 0, with names and numbers of our own."""
    (
        heat, alone, latched, armed, led, barred, asked, asked_alone, cap_mc, lease_age, lapsed,
        lapse_ages, gap, sample_age, over, within_age, agreed_age,
    ) = mark  # fmt: skip
    return Guard(
        heat=heat,
        alone=alone,
        latched=latched,
        causes=() if latched is Cause.NONE else (str(latched),),  # which others is no matter here
        armed=armed,
        peer=OWN if led else 0,
        number=1 if led else 0,
        barred=tuple(range(2, 2 + barred)),
        asked=asked,
        asked_alone=asked_alone,
        cap_mc=cap_mc,
        leased_ms=-lease_age,
        lapsed=lapsed,
        lapses_ms=tuple(-age for age in lapse_ages),
        seen_ms=0,
        gap_ms=0 if gap else -1,
        sampled_ms=-sample_age,
        over=over,
        within_ms=-within_age,
        agreed_ms=-agreed_age,
    )


@dataclass(slots=True)
class Found:
    """What an exploration met."""

    states: int = 0
    transitions: int = 0
    breaches: list[str] = field(default_factory=list)
    by_cause: Counter[Cause] = field(default_factory=Counter)  # states in which it is latched
    whole: bool = False  # whether nothing was left to visit
    with_heat: int = 0
    dead: int = 0  # states from which a person can't get heat for a new run


def explore(limits: Limits, *, most: int | None = None) -> Found:
    """Walk through all states, or through so many at most, from each word of a latch file."""
    found = Found()
    sights = alphabet(limits)
    waiting = deque(key(begin(0, cause), limits) for cause in Cause)
    known = set(waiting)
    while waiting and found.states != most:
        guard = normal(waiting.popleft())
        _count(guard, found, limits)
        for sight in sights:
            after = step(guard, sight, limits)
            name = broken(guard, sight, after, limits)
            if name:
                found.breaches.append(f"{name}: {guard} {sight} {after}")
            mark = key(after, limits)
            if mark not in known:
                known.add(mark)
                waiting.append(mark)
        found.transitions += len(sights)
    found.whole = not waiting
    return found


def _count(guard: Guard, found: Found, limits: Limits) -> None:
    found.states += 1
    found.by_cause[guard.latched] += 1
    found.with_heat += guard.heat
    found.dead += not revives(guard, limits)


def revives(guard: Guard, limits: Limits) -> bool:
    """Whether a person gets heat: farewell or latch, a re-arm, then a controller never met."""
    over = Sight(now_ms=1, lease=_lease(farewell=True), bath_mc=MILD_MC, mains_live=None)
    person = Sight(now_ms=2, rearm=True, bath_mc=MILD_MC)
    fresh = Sight(now_ms=3, lease=_lease(peer=NEW, number=1), bath_mc=MILD_MC)
    for sight in (over, person, fresh):
        guard = step(guard, sight, limits)
    return guard.heat
