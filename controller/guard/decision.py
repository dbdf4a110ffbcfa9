"""Whether heat may be on, decided from a lease, a thermometer of the guard's own and a latch.

Responsible for one pure step on whole numbers (milliseconds, thousandths of °C); not for sockets,
lines or files. Everything is "off unless shown safe": the heater is on only while each condition of
`_may_heat` holds, and a latched cause ends heat until a person re-arms.
"""

from dataclasses import dataclass, replace
from enum import StrEnum


class Cause(StrEnum):
    """Why heat is latched off: the words on screens, in the latch file and on topics."""

    NONE = "none"
    CONTROLLER_LOST = "controller-lost"  # its process ended, or another one spoke in its place
    LEASE_LAPSED = "lease-lapsed"  # silent for too long, or too often
    BATH_OVER_CAP = "bath-over-cap"
    GUARD_PROBE_LOST = "guard-probe-lost"
    HEATER_LIVE_WHEN_OFF = "heater-live-when-off"  # a switch is stuck closed
    HEATER_DEAD_WHEN_ON = "heater-dead-when-on"
    GUARD_RESTARTED = "guard-restarted"  # the guard ended while heat was permitted
    LATCH_UNREADABLE = "latch-unreadable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Fixed for the life of a guard. Defaults are own engineering values, not published."""

    cap_mc: int  # the machine's bath limit: no lease raises it
    lease_ms: int = 2_000
    short_lapse_ms: int = 10_000  # a silence up to this long may recover by itself
    lapses_max: int = 3  # this many within the window latch
    lapse_window_ms: int = 60_000
    sample_age_ms: int = 5_000  # an older thermometer value permits nothing
    sample_lost_ms: int = 30_000  # and latches after this long
    over_ms: int = 2_000  # over the cap drops heat at once, and latches after this long
    mains_ms: int = 3_000  # how long mains-live may disagree with the switch


@dataclass(frozen=True, slots=True, kw_only=True)
class Lease:
    """One numbered datagram of the controller."""

    peer: int  # drawn anew by each controller process
    number: int  # counts up from 1
    heat: bool  # asks for heat until the next one
    cap_mc: int  # the phase's bath limit
    good: bool  # the controller's tick went through all its steps in order
    farewell: bool = False  # the run has ended in order


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """All that one step sees. What is not fitted is None."""

    now_ms: int
    lease: Lease | None = None  # newest valid datagram since the last step
    hung_up: bool = False  # the controller's end of the socket is gone
    bath_mc: int | None = None  # None: the thermometer gives no value
    bath_age_ms: int = 0
    mains_live: bool | None = None
    rearm: bool = False  # a person at the machine clears the latch


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard:
    """The guard between two steps. `heat` is the command to both switches."""

    heat: bool = False
    latched: Cause = Cause.NONE
    armed: bool = False  # a run is on: heat was permitted, and no farewell came since
    peer: int = 0  # 0: nobody
    number: int = 0
    asked: bool = False
    cap_mc: int = 0
    leased_ms: int = 0  # when the last good lease came
    lapsed: bool = False
    lapses_ms: tuple[int, ...] = ()  # when the recent lapses began
    sampled_ms: int = 0  # when the thermometer last gave a fresh value
    within_ms: int = 0  # when the bath was last within the cap
    agreed_ms: int = 0  # when mains-live last agreed with the switch


def begin(now_ms: int, latched: Cause) -> Guard:
    """A guard that has just started: off, whatever was before."""
    return Guard(latched=latched, sampled_ms=now_ms, within_ms=now_ms, agreed_ms=now_ms)


def step(guard: Guard, sight: Sight, limits: Limits) -> Guard:
    """One look, one decision."""
    guard = _rearm(guard, sight)
    guard = _listen(guard, sight, limits)
    guard = _look(guard, sight, limits)
    guard = _lapse(guard, sight, limits)
    guard = _latch(guard, sight, limits)
    heat = _may_heat(guard, sight, limits)
    return replace(guard, heat=heat, armed=guard.armed or heat)


def _rearm(guard: Guard, sight: Sight) -> Guard:
    """A person clears the latch; the run that was on is over and begins anew."""
    if not sight.rearm or guard.latched is Cause.NONE:
        return guard
    return begin(sight.now_ms, Cause.NONE)


def _listen(guard: Guard, sight: Sight, limits: Limits) -> Guard:
    """Take a lease from the one controller there is; a stranger in mid-run is a lost controller."""
    lease = sight.lease
    if sight.hung_up or (lease is not None and guard.armed and lease.peer != guard.peer):
        latched = Cause.CONTROLLER_LOST if guard.armed else Cause.NONE
        return _first(replace(guard, peer=0, number=0, asked=False), latched)
    if lease is None or lease.peer == 0:
        return guard
    if lease.peer == guard.peer and lease.number <= guard.number:
        return guard  # repeated or out of order
    if lease.farewell:
        return replace(guard, peer=0, number=0, asked=False, armed=False, lapsed=False)
    guard = replace(guard, peer=lease.peer, number=lease.number)
    if not lease.good:
        return replace(guard, asked=False)
    cap_mc = min(lease.cap_mc, limits.cap_mc)
    return replace(guard, asked=lease.heat, cap_mc=cap_mc, leased_ms=sight.now_ms, lapsed=False)


def _look(guard: Guard, sight: Sight, limits: Limits) -> Guard:
    """Note when each thing was last as it should be."""
    now_ms = sight.now_ms
    fresh = _is_fresh(sight, limits)
    cap_mc = guard.cap_mc if guard.peer else limits.cap_mc
    within = fresh and sight.bath_mc is not None and sight.bath_mc <= cap_mc
    agreed = sight.mains_live is None or sight.mains_live is guard.heat
    return replace(
        guard,
        sampled_ms=now_ms if fresh else guard.sampled_ms,
        # A thermometer that says nothing has a cause of its own.
        within_ms=now_ms if within or not fresh else guard.within_ms,
        agreed_ms=now_ms if agreed else guard.agreed_ms,
    )


def _lapse(guard: Guard, sight: Sight, limits: Limits) -> Guard:
    """Note the beginning of each silence of a run, and forget those that are long past."""
    since_ms = sight.now_ms - limits.lapse_window_ms
    recent = tuple(at_ms for at_ms in guard.lapses_ms if at_ms > since_ms)
    silent = guard.armed and sight.now_ms - guard.leased_ms > limits.lease_ms
    if silent and not guard.lapsed:
        return replace(guard, lapsed=True, asked=False, lapses_ms=(*recent, sight.now_ms))
    return replace(guard, lapses_ms=recent)


def _latch(guard: Guard, sight: Sight, limits: Limits) -> Guard:
    """The first cause stays."""
    now_ms = sight.now_ms
    if not guard.armed:
        # Without a run only a switch that is stuck closed is anybody's business.
        live = sight.mains_live is True and now_ms - guard.agreed_ms > limits.mains_ms
        return _first(guard, Cause.HEATER_LIVE_WHEN_OFF) if live else guard
    silent_ms = now_ms - guard.leased_ms
    if now_ms - guard.within_ms > limits.over_ms:
        guard = _first(guard, Cause.BATH_OVER_CAP)
    if now_ms - guard.sampled_ms > limits.sample_lost_ms:
        guard = _first(guard, Cause.GUARD_PROBE_LOST)
    if now_ms - guard.agreed_ms > limits.mains_ms:
        stuck = sight.mains_live is True
        guard = _first(guard, Cause.HEATER_LIVE_WHEN_OFF if stuck else Cause.HEATER_DEAD_WHEN_ON)
    if silent_ms > limits.short_lapse_ms or len(guard.lapses_ms) >= limits.lapses_max:
        guard = _first(guard, Cause.LEASE_LAPSED)
    return guard


def _first(guard: Guard, cause: Cause) -> Guard:
    return replace(guard, latched=cause) if guard.latched is Cause.NONE else guard


def _is_fresh(sight: Sight, limits: Limits) -> bool:
    return sight.bath_mc is not None and 0 <= sight.bath_age_ms <= limits.sample_age_ms


def _may_heat(guard: Guard, sight: Sight, limits: Limits) -> bool:
    """The last word: every condition for heat, each said positively."""
    return (
        guard.latched is Cause.NONE
        and guard.peer != 0
        and guard.asked
        and not guard.lapsed
        and 0 <= sight.now_ms - guard.leased_ms <= limits.lease_ms
        and _is_fresh(sight, limits)
        and sight.bath_mc is not None
        and sight.bath_mc <= min(guard.cap_mc, limits.cap_mc)
    )
