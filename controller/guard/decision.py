"""Whether heat may be on, decided from a lease, a thermometer of the guard's own and a latch.

Responsible for one pure step on whole numbers (milliseconds, thousandths of °C); not for sockets,
lines or files. Off unless shown safe: heat needs every condition in `_decide`, and a latched cause
ends it until a person re-arms; the first one stays, and those that come after it are added to what
a person must see to. Each controller process is in charge once: who was replaced, said
farewell or was known when a person re-armed is barred, so that an old run never heats again.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class Cause(StrEnum):
    """Why heat is latched off: the words on screens, in the latch file and on topics."""

    NONE = "none"
    CONTROLLER_LOST = "controller-lost"  # its process ended, or another one spoke in its place
    CONTROLLER_TRIPPED = "controller-tripped"  # as it said itself
    LEASE_LAPSED = "lease-lapsed"  # silent for too long, or too often
    BATH_OVER_CAP = "bath-over-cap"
    GUARD_PROBE_LOST = "guard-probe-lost"
    HEATER_LIVE_WHEN_OFF = "heater-live-when-off"  # a switch is stuck closed
    HEATER_DEAD_WHEN_ON = "heater-dead-when-on"
    GUARD_RESTARTED = "guard-restarted"  # the guard ended while heat was permitted
    LATCH_UNREADABLE = "latch-unreadable"


ECHO = "guard-latched"  # the controller's word for a trip by what is latched here: nothing new
CAUSES_MAX = 48  # so many are remembered, which is more than there are
MORE = "more-causes"  # stands for all beyond those that are remembered, and may be the gravest


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Fixed for the life of a guard. Defaults are own engineering values, not published."""

    cap_mc: int  # the machine's bath limit: no lease raises it
    lease_ms: int = 2_000
    short_lapse_ms: int = 10_000  # a silence up to this long may recover by itself
    lapses_max: int = 3  # this many within the window latch
    lapse_window_ms: int = 60_000
    sample_age_ms: int = 5_000  # an older thermometer value permits nothing
    sample_lost_ms: int = 30_000  # and latches when the last one was measured this long ago
    over_ms: int = 2_000  # over the cap drops heat at once, and latches after this long
    mains_ms: int = 3_000  # how long mains-live may disagree with the switch
    barred_max: int = 8  # so many past controllers are remembered
    causes_max: int = CAUSES_MAX


class Lease(NamedTuple):
    """One numbered datagram of the controller."""

    peer: int  # drawn anew by each controller process; 0 is nobody
    number: int  # counts up from 1
    heat: bool  # asks for heat until the next one
    cap_mc: int  # the phase's bath limit
    good: bool  # the controller's tick went through all its steps in order
    alone: int = 0  # 1 or 2: only that of two switches, to be tested; 0: both, for heat
    farewell: bool = False  # the run has ended
    tripped: str = ""  # a trip's word; whatever else it says, such a lease renews nothing


class Sight(NamedTuple):
    """All that one step sees. What is not fitted is None."""

    now_ms: int
    lease: Lease | None = None  # newest valid datagram since the last step
    hung_up: bool = False  # the end of the socket that the peer in charge held is gone
    bath_mc: int | None = None  # None: the thermometer gives no value
    bath_age_ms: int = 0
    mains_live: bool | None = None
    rearm: bool = False  # a person at the machine clears the latch


class Guard(NamedTuple):
    """The guard between two steps. `heat` is the command to both switches, or to one `alone`.

    A switch alone closes only where heat might be on, so that testing it permits nothing more.
    """

    heat: bool = False
    alone: int = 0  # 1 or 2: only that switch is closed, and the heater is to stay dead
    latched: Cause = Cause.NONE
    causes: tuple[str, ...] = ()  # by their words, the one that latched first, until a re-arm
    armed: bool = False  # a run is on: heat was permitted, and no farewell came since
    peer: int = 0  # the controller in charge
    number: int = 0  # of its newest datagram
    barred: tuple[int, ...] = ()  # controllers that are done, newest last
    asked: bool = False
    asked_alone: int = 0
    cap_mc: int = 0  # in force: the phase's, under the machine's
    leased_ms: int = 0  # when the last good lease came
    lapsed: bool = False  # the present silence is already among `lapses_ms`
    lapses_ms: tuple[int, ...] = ()  # when the recent lapses of this run were seen
    seen_ms: int = 0  # when the last step was; never goes back
    gap_ms: int = -1  # when a step last came too late after the one before it
    sampled_ms: int = 0  # when the last fresh value of the thermometer was measured
    over: bool = False  # the bath was over the cap by its last fresh value
    within_ms: int = 0  # until when it was not
    agreed_ms: int = 0  # when mains-live last agreed with the switch


def begin(now_ms: int, latched: Cause, causes: tuple[str, ...] = ()) -> Guard:
    """A guard that has just started: off, whatever was before.

    `causes` are all that were remembered; without them there is the latched one alone.
    """
    alone = () if latched is Cause.NONE else (str(latched),)
    return Guard(
        latched=latched,
        causes=causes or alone,
        seen_ms=now_ms,
        gap_ms=now_ms - 1,
        sampled_ms=now_ms,
        within_ms=now_ms,
        agreed_ms=now_ms,
    )


def step(guard: Guard, sight: Sight, limits: Limits) -> Guard:
    """One look, one decision. Of several causes in one step the first in this order latches."""
    now_ms = max(sight.now_ms, guard.seen_ms)  # a clock that went back is waited for, without heat
    # After a gap in the guard's own time a datagram that waited for it may be of any age.
    timely = 0 <= sight.now_ms - guard.seen_ms <= limits.lease_ms
    gap_ms = guard.gap_ms if timely else now_ms
    if sight.rearm and guard.latched is not Cause.NONE:
        guard = begin(now_ms, Cause.NONE)._replace(barred=_bar(guard, limits))
    if guard.armed and guard.latched is Cause.NONE:
        guard = _mind_silence(guard, now_ms, limits)  # before a lease can end it
    if sight.lease is not None:
        guard = _hear(guard, sight.lease, now_ms if now_ms > gap_ms else None, limits)
    if sight.hung_up:  # after the lease: a farewell may be the last word on the line
        guard = _lost(guard, limits)._replace(asked=False)
    return _decide(guard, sight, now_ms, gap_ms, limits)


def causes_of(latched: Cause, tripped: str, also: tuple[str, ...]) -> tuple[str, ...]:
    """The words of all that is latched, from what is written and told; the first one first."""
    if latched is Cause.NONE:
        return ()
    by_trip = latched is Cause.CONTROLLER_TRIPPED and tripped
    return (tripped if by_trip else str(latched), *also)


def latch(guard: Guard, cause: Cause, limits: Limits, word: str = "") -> Guard:
    """Latch a cause: the first one stays, and what comes after it is kept beside it.

    Else a mild cause that came first would be all that a person has to see to.
    """
    name = word or str(cause)
    causes = guard.causes
    if len(causes) >= limits.causes_max and name not in causes:
        name = MORE
    if name in causes or (name == ECHO and causes):
        return guard
    return guard._replace(
        latched=cause if guard.latched is Cause.NONE else guard.latched, causes=(*causes, name)
    )


def _mind_silence(guard: Guard, now_ms: int, limits: Limits) -> Guard:
    """A short silence is counted once, a long one and one too many latch."""
    silent_ms = now_ms - guard.leased_ms
    if silent_ms <= limits.lease_ms:
        return guard
    lapses_ms = guard.lapses_ms
    if not guard.lapsed:
        since_ms = now_ms - limits.lapse_window_ms
        lapses_ms = (*(at_ms for at_ms in lapses_ms if at_ms > since_ms), now_ms)
    often = len(lapses_ms) >= limits.lapses_max
    guard = guard._replace(lapsed=True, lapses_ms=lapses_ms)
    if often or silent_ms > limits.short_lapse_ms:
        return latch(guard, Cause.LEASE_LAPSED, limits)
    return guard


def _hear(guard: Guard, lease: Lease, at_ms: int | None, limits: Limits) -> Guard:
    """Take a lease from the controller in charge; in a run any other one latches."""
    strange = lease.peer != guard.peer
    if strange:
        guard = _lost(guard, limits)
    if lease.peer == 0 or lease.peer in guard.barred:
        return guard
    if strange:
        barred = _bar(guard, limits)
        guard = guard._replace(peer=lease.peer, number=0, barred=barred, asked=False)
    if lease.number <= guard.number:
        return guard  # repeated or out of order
    if lease.tripped:  # however long it waited: a trip stays true
        guard = latch(guard, Cause.CONTROLLER_TRIPPED, limits, lease.tripped)
    if lease.farewell:
        guard = guard._replace(barred=_bar(guard, limits))
        return guard._replace(armed=False, peer=0, asked=False, lapses_ms=())
    if lease.tripped or at_ms is None or not lease.good:
        return guard._replace(number=lease.number, asked=False)
    return guard._replace(
        number=lease.number,
        asked=lease.heat,
        asked_alone=lease.alone,
        cap_mc=min(lease.cap_mc, limits.cap_mc),
        leased_ms=at_ms,
        lapsed=False,
    )


def _bar(guard: Guard, limits: Limits) -> tuple[int, ...]:
    """The controllers that are done, with the one in charge."""
    return (*guard.barred, guard.peer)[-limits.barred_max :] if guard.peer else guard.barred


def _lost(guard: Guard, limits: Limits) -> Guard:
    return latch(guard, Cause.CONTROLLER_LOST, limits) if guard.armed else guard


def _decide(guard: Guard, sight: Sight, now_ms: int, gap_ms: int, limits: Limits) -> Guard:
    """Note when each thing was last as it should be, latch what was not for too long, and heat."""
    fresh = 0 <= sight.bath_age_ms <= limits.sample_age_ms
    bath_mc = sight.bath_mc if fresh else None
    # A thermometer that says nothing neither begins nor ends an excess.
    over = guard.over if bath_mc is None else bath_mc > guard.cap_mc
    was_live = guard.heat and not guard.alone
    agreed = sight.mains_live is None or sight.mains_live is was_live
    sampled_ms = guard.sampled_ms if bath_mc is None else now_ms - sight.bath_age_ms
    within_ms = guard.within_ms if over else now_ms
    agreed_ms = now_ms if agreed else guard.agreed_ms
    mains = Cause.HEATER_LIVE_WHEN_OFF if sight.mains_live else Cause.HEATER_DEAD_WHEN_ON
    for due, cause in (
        (now_ms - agreed_ms > limits.mains_ms, mains),  # a stuck switch matters without a run, too
        (guard.armed and now_ms - within_ms > limits.over_ms, Cause.BATH_OVER_CAP),
        (guard.armed and now_ms - sampled_ms > limits.sample_lost_ms, Cause.GUARD_PROBE_LOST),
    ):
        guard = latch(guard, cause, limits) if due else guard
    heat = (
        guard.latched is Cause.NONE
        and guard.asked
        and now_ms - guard.leased_ms <= limits.lease_ms
        and bath_mc is not None
        and not over
        and sight.now_ms == now_ms
    )
    return guard._replace(
        heat=heat,
        alone=guard.asked_alone if heat else 0,
        armed=guard.armed or heat,
        seen_ms=now_ms,
        gap_ms=gap_ms,
        sampled_ms=sampled_ms,
        over=over,
        within_ms=within_ms,
        agreed_ms=agreed_ms,
    )
