"""What must hold of every step of the guard, whatever it sees.

Responsible for predicates over one step, each said without calling the guard; together they hold by
induction for whole histories. Not for making histories.
"""

from collections.abc import Callable

from controller.guard.decision import ECHO, MORE, Cause, Guard, Lease, Limits, Sight

Predicate = Callable[[Guard, Sight, Guard, Limits], bool]  # before, seen, after, fixed


def rearmed(b: Guard, s: Sight) -> bool:
    """Whether a person cleared a latch in this step."""
    return s.rearm and b.latched is not Cause.NONE


def running(b: Guard, s: Sight) -> bool:
    """Whether a run was on when the step began, and was not ended by a person."""
    return b.armed and not (s.rearm and b.latched is not Cause.NONE)


def newer(b: Guard, lease: Lease | None) -> bool:
    """Whether a lease is not a repetition, and not by a controller that is done."""
    return (
        lease is not None
        and lease.peer != 0
        and lease.peer not in b.barred
        and lease.number > (b.number if lease.peer == b.peer else 0)
    )


def renewal(b: Guard, s: Sight, a: Guard, limits: Limits) -> bool:
    """Whether the step saw a lease that may renew."""
    return (
        s.lease is not None
        and newer(b, s.lease)
        and s.lease.good
        and not s.lease.farewell
        and not s.lease.tripped
        and (a.peer, a.number) == (s.lease.peer, s.lease.number)
        and 0 <= s.now_ms - b.seen_ms <= limits.lease_ms
    )


def last_word(b: Guard, s: Sight) -> bool:
    """Whether the step heard a farewell that counts."""
    return s.lease is not None and s.lease.farewell and newer(b, s.lease)


def told_trip(b: Guard, s: Sight) -> bool:
    """Whether the step heard that the controller has tripped."""
    done = s.lease is not None and rearmed(b, s) and s.lease.peer == b.peer
    return s.lease is not None and bool(s.lease.tripped) and newer(b, s.lease) and not done


def kept(word: str, a: Guard) -> bool:
    """Whether a cause is among those that a person must see to."""
    return word in a.causes or MORE in a.causes or (word == ECHO and bool(a.causes))


INVARIANTS: dict[str, Predicate] = {
    "heat needs a lease that is fresh and asks": lambda _b, s, a, limits: (
        not a.heat or (a.asked and a.peer != 0 and 0 <= s.now_ms - a.leased_ms <= limits.lease_ms)
    ),
    "heat needs a fresh value of the guard's own thermometer": lambda _b, s, a, limits: (
        not a.heat or (s.bath_mc is not None and 0 <= s.bath_age_ms <= limits.sample_age_ms)
    ),
    "heat needs a bath within the phase's cap and the machine's": lambda _b, s, a, limits: (
        not a.heat or (s.bath_mc is not None and s.bath_mc <= a.cap_mc <= limits.cap_mc)
    ),
    "heat is off while anything is latched": lambda _b, _s, a, _limits: (
        not a.heat or a.latched is Cause.NONE
    ),
    "a clock that goes back gets no heat": lambda b, s, a, _limits: (
        not a.heat or s.now_ms >= b.seen_ms
    ),
    "the first cause stays until a person re-arms": lambda b, s, a, _limits: (
        b.latched is Cause.NONE or a.latched is b.latched or rearmed(b, s)
    ),
    "a re-arm gives no heat to a controller known before": lambda b, s, a, _limits: (
        not (a.heat and rearmed(b, s)) or (a.peer != b.peer and a.peer not in a.barred)
    ),
    "only a new, good, timely lease renews": lambda b, s, a, limits: (
        a.leased_ms == b.leased_ms
        or (renewal(b, s, a, limits) and a.leased_ms == s.now_ms)
        or (rearmed(b, s) and a.leased_ms == 0)
    ),
    "only such a lease asks for heat": lambda b, s, a, limits: (
        not a.asked
        or (b.asked and b.peer == a.peer and not s.hung_up and not rearmed(b, s))
        or (s.lease is not None and s.lease.heat and renewal(b, s, a, limits))
    ),
    "only such a lease moves the cap, never above the machine's": lambda b, s, a, limits: (
        a.cap_mc == b.cap_mc
        or (
            s.lease is not None
            and renewal(b, s, a, limits)
            and a.cap_mc == min(s.lease.cap_mc, limits.cap_mc)
        )
        or (rearmed(b, s) and a.cap_mc == 0)
    ),
    "a switch closes alone only where heat might be on, and such a lease asked": (
        lambda b, s, a, limits: (
            not a.alone
            or (
                a.heat
                and (
                    (s.lease is not None and renewal(b, s, a, limits) and s.lease.alone == a.alone)
                    or (b.asked and b.asked_alone == a.alone and b.peer == a.peer)
                )
            )
        )
    ),
    "a lease that asks for one switch never closes both": lambda b, s, a, limits: (
        s.lease is None
        or not (a.heat and s.lease.alone and renewal(b, s, a, limits))
        or a.alone == s.lease.alone
    ),
    "nor does the silence after it": lambda b, s, a, _limits: (
        s.lease is not None
        or not (a.heat and b.asked and b.asked_alone)
        or a.alone == b.asked_alone
    ),
    "a newest lease that does not ask ends heat": lambda b, s, a, _limits: (
        not a.heat
        or s.lease is None
        or not newer(b, s.lease)
        or (s.lease.heat and s.lease.good and not s.lease.farewell)
    ),
    "one that tells of a trip ends heat": lambda b, s, a, _limits: not (told_trip(b, s) and a.heat),
    "a stranger in a run latches": lambda b, s, a, _limits: (
        not running(b, s)
        or s.lease is None
        or s.lease.peer == b.peer
        or a.latched is not Cause.NONE
    ),
    "a hang-up ends heat": lambda _b, s, a, _limits: not (s.hung_up and a.heat),
    "a hang-up in a run latches": lambda b, s, a, _limits: (
        not (running(b, s) and s.hung_up) or last_word(b, s) or a.latched is not Cause.NONE
    ),
    "a word that tells of a trip latches, and is kept": lambda b, s, a, _limits: (
        s.lease is None
        or not told_trip(b, s)
        or (a.latched is not Cause.NONE and kept(s.lease.tripped, a))
    ),
    "no cause is forgotten until a person re-arms": lambda b, s, a, _limits: (
        rearmed(b, s) or a.causes[: len(b.causes)] == b.causes
    ),
    "what is latched has its causes, and nothing else has": lambda _b, _s, a, _limits: (
        bool(a.causes) is (a.latched is not Cause.NONE)
    ),
    "only such a word latches by that name": lambda b, s, a, _limits: (
        a.latched is not Cause.CONTROLLER_TRIPPED
        or told_trip(b, s)
        or (b.latched is Cause.CONTROLLER_TRIPPED and not rearmed(b, s))
    ),
    "without a run no controller is lost": lambda b, s, a, _limits: (
        a.latched is not Cause.CONTROLLER_LOST
        or running(b, s)
        or (b.latched is Cause.CONTROLLER_LOST and not rearmed(b, s))
    ),
    "a controller that is done never heats again": lambda _b, _s, a, _limits: (
        not a.heat or a.peer not in a.barred
    ),
    "a long silence in a run latches, whoever ends it": lambda b, s, a, limits: (
        not running(b, s)
        or max(s.now_ms, b.seen_ms) - b.leased_ms <= limits.short_lapse_ms
        or a.latched is not Cause.NONE
    ),
    "a silence in a run is remembered": lambda b, s, a, limits: (
        not running(b, s)
        or b.latched is not Cause.NONE
        or max(s.now_ms, b.seen_ms) - b.leased_ms <= limits.lease_ms
        or b.lapsed
        or a.seen_ms in a.lapses_ms
        or last_word(b, s)
    ),
    "a run over its cap for too long is latched": lambda _b, _s, a, limits: (
        not (a.armed and a.seen_ms - a.within_ms > limits.over_ms) or a.latched is not Cause.NONE
    ),
    "only a value within the cap ends an excess": lambda b, s, a, _limits: (
        not b.over or a.over or rearmed(b, s) or (s.bath_mc is not None and s.bath_mc <= a.cap_mc)
    ),
    "a run blind for too long is latched": lambda _b, _s, a, limits: (
        not (a.armed and a.seen_ms - a.sampled_ms > limits.sample_lost_ms)
        or a.latched is not Cause.NONE
    ),
    "mains that disagree for too long latch": lambda _b, _s, a, limits: (
        a.seen_ms - a.agreed_ms <= limits.mains_ms or a.latched is not Cause.NONE
    ),
    "mains agree only when seen to, or not fitted": lambda b, s, a, _limits: (
        a.agreed_ms == b.agreed_ms
        or s.mains_live is None
        or s.mains_live is (b.heat and not b.alone)
        or rearmed(b, s)
    ),
    "a run begins with heat and ends with a farewell or a person": lambda b, s, a, _limits: (
        a.armed is b.armed or (a.heat if a.armed else last_word(b, s) or rearmed(b, s))
    ),
    "time never goes back": lambda b, s, a, _limits: a.seen_ms == max(b.seen_ms, s.now_ms),
    "numbers of one controller never go back": lambda b, _s, a, _limits: (
        a.peer == 0 or a.peer != b.peer or a.number >= b.number
    ),
    "what is remembered is bounded": lambda _b, _s, a, limits: (
        len(a.lapses_ms) <= limits.lapses_max
        and len(a.barred) <= limits.barred_max
        and len(a.causes) <= limits.causes_max + 1
    ),
}
PREDICATES = tuple(INVARIANTS.values())


def broken(before: Guard, sight: Sight, after: Guard, limits: Limits) -> str:
    """The name of an invariant that this step breaks, or nothing."""
    for predicate in PREDICATES:
        if not predicate(before, sight, after, limits):
            return next(name for name, other in INVARIANTS.items() if other is predicate)
    return ""
