"""What the detectors are to reach, beside what they reached in an ordeal.

Responsible for that comparison alone; not for what is harm or a right cause (ordeal_summary). The
targets were set before the code was written, for machines of this kind: some by a simulation of
others than the bench's, some as design values; they come from no publication.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from controller.trials.ordeal_watch import Found

# As a relay sees it, this or a tick more: looks come once a second.
TICK_S = 1.0
_PROBE = ("all-zero", "checksum", "nan", "open", "power-on", "short", "stale")
_LOST = (*(f"{place}-probe-{how}" for place in ("bath", "bowl") for how in _PROBE),)


class Since(Enum):
    """From which moment a time counts."""

    FAULT = "the fault"
    TICK = "the first tick after it"
    UNLIKE = "the heater being other than told"


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Times in s until heat is inhibited or the run trips, whichever is first; NaN for none set."""

    what: str
    faults: tuple[str, ...]
    legs: tuple[str, ...] = ()  # none: all
    fitted: tuple[str, ...] = ()  # one of these is
    bare_of: tuple[str, ...] = ()  # none of these is
    since: Since = Since.FAULT
    p50_s: float = math.nan
    p95_s: float = math.nan
    most_s: float = math.nan

    def time_s(self, found: Found, fittings: frozenset[str]) -> float | None:
        """How long this one took, infinite for ever; None where it is no case, or never showed."""
        is_case = (
            found.fault in self.faults
            and (not self.legs or found.leg in self.legs)
            and (not self.fitted or bool(fittings & set(self.fitted)))
            and not fittings & set(self.bare_of)
        )
        from_s = {Since.TICK: found.tick_s, Since.UNLIKE: found.unlike_s}.get(self.since, 0.0)
        if not is_case or math.isnan(from_s):
            return None
        times = [one for one in (found.inhibited_s, found.trip_s) if not math.isnan(one)]
        return min(times, default=math.inf) - from_s


_SEES_HEATER = ("mains-live", "current")
TARGETS = (
    Target(what="a thermometer that gives no value", faults=_LOST, most_s=5.0 + TICK_S),
    Target(what="the guard's gives no value", faults=("guard-probe-open",), most_s=5.0 + TICK_S),
    Target(
        what="voltage not as told, mains-live fitted",
        faults=("relay-welded", "relay-open", "mains-live-stuck", "mains-live-dead"),
        fitted=("mains-live",),
        since=Since.UNLIKE,
        most_s=3.0,
    ),
    Target(
        what="a computer late, asleep or forgetful",
        faults=("tick-late", "clock-stall", "clock-forward", "clock-back", "memory-bit"),
        since=Since.TICK,
        most_s=TICK_S + 1.0,
    ),
    Target(
        what="bath probe frozen, melt", faults=("bath-probe-frozen",), legs=("melt",), p50_s=46.0
    ),
    Target(
        what="bath probe frozen, cool and rewarm",
        faults=("bath-probe-frozen",),
        legs=("cool", "rewarm"),
        p95_s=492.0,
    ),
    Target(
        what="bath probe frozen, hold",
        faults=("bath-probe-frozen",),
        legs=("hold",),
        most_s=480.0 + TICK_S,
    ),
    Target(what="bath probe drifts", faults=("bath-probe-drift",), p50_s=485.0, most_s=737.0),
    Target(what="bath probe steps", faults=("bath-probe-offset",), p50_s=259.0, most_s=737.0),
    Target(what="bath probe out of the water", faults=("bath-probe-out",), p50_s=252.0),
    Target(what="bath probe wet", faults=("bath-probe-wet",), most_s=300.0),
    Target(what="bowl probe out, hold", faults=("bowl-probe-out",), legs=("hold",), p50_s=261.0),
    Target(
        what="bowl probe frozen",
        faults=("bowl-probe-frozen",),
        most_s=900.0 + TICK_S,
    ),
    Target(
        what="relay welded, nothing looks, cool and hold",
        faults=("relay-welded",),
        legs=("cool", "hold"),
        bare_of=(*_SEES_HEATER, "second-switch"),
        p50_s=71.0,
    ),
    Target(
        what="relay welded, heater looked at",
        faults=("relay-welded",),
        fitted=_SEES_HEATER,
        bare_of=("second-switch",),
        most_s=123.0,
    ),
    Target(
        what="heater dead, nothing looks, melt",
        faults=("heater-dead", "relay-open"),
        legs=("melt",),
        bare_of=_SEES_HEATER,
        p50_s=225.0,
    ),
    Target(
        what="heater dead, nothing looks, rewarm and hold",
        faults=("heater-dead", "relay-open"),
        legs=("rewarm", "hold"),
        bare_of=_SEES_HEATER,
        p50_s=225.0,
    ),
    Target(
        what="heater of another power, current fitted",
        faults=("heater-half", "heater-wrong"),
        legs=("melt", "rewarm", "hold"),
        fitted=("current",),
        most_s=600.0,
    ),
    Target(what="water gone, level switch", faults=("water-empty",), fitted=("level",), most_s=2.0),
    Target(
        what="stirrer stopped or blocked, shaft pulses",
        faults=("stirrer-stopped", "stirrer-blocked"),
        legs=("cool", "rewarm", "hold"),
        fitted=("shaft",),
        most_s=2.0,
    ),
)
_HEAD = f"{'':46}{'tried':>6}{'p50':>6}{'p95':>6}{'max':>6}   to be"


def targets_text(tried: Sequence[tuple[Found, frozenset[str]]]) -> str:
    """Each target of which there was a case, with a newline at the end; empty without any."""
    lines = []
    for target in TARGETS:
        times = sorted(time_s for one in tried if (time_s := target.time_s(*one)) is not None)
        if times:
            lines.append(_line(target, times))
    if not lines:
        return ""
    head = "Until heat is inhibited, s, beside what this project set itself:"
    return "\n".join([head, _HEAD, *lines, ""])


def _line(target: Target, times: Sequence[float]) -> str:
    set_ = (("p50", 0.5, target.p50_s), ("p95", 0.95, target.p95_s), ("max", 1.0, target.most_s))
    reached = {name: times[max(0, math.ceil(share * len(times)) - 1)] for name, share, _ in set_}
    wanted = [(name, wanted_s) for name, _, wanted_s in set_ if not math.isnan(wanted_s)]
    goals = ", ".join(
        f"{name} {wanted_s:g}" + (" OVER" if not reached[name] <= wanted_s else "")
        for name, wanted_s in wanted
    )
    since = "" if target.since is Since.FAULT else f", from {target.since.value}"
    figures = "".join(f"{reached[name]:>6.0f}" for name in reached)
    return f"  {target.what:44}{len(times):>6}{figures}   {goals}{since}"
