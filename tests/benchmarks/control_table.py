"""The table of the control benchmark: goals, what was reached, and the worst machines by name.

Responsible for what the rows of all machines come to and for printing it; not for measuring. A
number that is missing counts as infinitely bad.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from controller.report.table import Row
from tests.benchmarks.control_measures import BAND_K
from tests.benchmarks.control_numbers import (
    asked,
    counted,
    percentile,
    ratio,
    share_within,
    shown,
    value,
    values,
    worst_of,
)
from tests.benchmarks.control_sides import TITLES

S_PER_MIN = 60.0
NARROW_K = 0.05
LEAST_OVER_K = 0.001  # an overshoot counts for at least so much where it is divided by
RIPPLE_MAX_K = 0.1  # a relay whose own half ripple is bigger can't be asked for a band of 0.1 K


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the table."""

    title: str
    goals: tuple[str, ...]
    met: tuple[bool, ...]  # each of them
    reached: str
    worst: str = ""

    @property
    def is_met(self) -> bool:
        """Whether all of them are."""
        return all(self.met)


def _overshoot(rows: Sequence[Row], leg: str) -> Line:
    column = f"{leg}_over_k"
    over, true = values(rows, column), values(rows, f"{leg}_true_over_k")
    share, worst = share_within(over, BAND_K), max(over, default=math.nan)
    return Line(
        title=f"overshoot in {leg}",
        goals=("≤ 0.1 K in ≥ 98 %", "worst ≤ 0.3 K"),
        reached=(
            f"{share:.1%}; median {shown(percentile(over, 0.5), 3)}, worst {shown(worst, 3)} K"
            f" (content itself {share_within(true, BAND_K):.1%}, {shown(max(true), 3)} K)"
        ),
        met=(share >= 0.98, worst <= 0.3),
        worst=worst_of(rows, lambda row: value(row, column)),
    )


def melt(rows: Sequence[Row]) -> Line:
    """Overshoot in melt."""
    return _overshoot(rows, "melt")


def rewarm(rows: Sequence[Row]) -> Line:
    """Overshoot in rewarm."""
    return _overshoot(rows, "rewarm")


def _time(rows: Sequence[Row], leg: str, median: float, p95: float) -> Line:
    possible = [row for row in rows if math.isfinite(value(row, f"{leg}_bound_s"))]
    ratios = [ratio(row, leg) for row in possible]
    middle, high = percentile(ratios, 0.5), percentile(ratios, 0.95)
    bounds = [value(row, f"{leg}_bound_s") / S_PER_MIN for row in possible]
    spread = "/".join(shown(percentile(bounds, share), 1) for share in (0.05, 0.5, 0.95))
    return Line(
        title=f"time to enter and stay in ±0.1 K over the bound, {leg}",
        goals=(f"median ≤ {median:g}", f"p95 ≤ {p95:g}"),
        reached=f"{shown(middle, 3)}; {shown(high, 3)} (bound p5/50/95 {spread} min)",
        met=(middle <= median, high <= p95),
        worst=worst_of(possible, lambda row: ratio(row, leg)),
    )


def melt_time(rows: Sequence[Row]) -> Line:
    """How near to physics melt comes."""
    return _time(rows, "melt", 1.04, 1.15)


def rewarm_time(rows: Sequence[Row]) -> Line:
    """How near to physics rewarm comes."""
    return _time(rows, "rewarm", 1.15, 1.35)


def hold(rows: Sequence[Row]) -> Line:
    """Two hours."""
    off, true = values(rows, "hold_off_k"), values(rows, "hold_true_off_k")
    rms = percentile(values(rows, "hold_rms_k"), 0.5)
    helpless = sum(0.0 < value(row, "hold_helpless_s") < math.inf for row in rows)
    narrow, wide = share_within(off, NARROW_K), share_within(off, BAND_K)
    return Line(
        title="two-hour hold",
        goals=("±0.05 K in ≥ 97 %", "±0.1 K in all", "median RMS ≤ 0.005 K"),
        reached=(
            f"{narrow:.1%}, {wide:.1%}; {shown(rms, 4)} K"
            f" (content itself {share_within(true, NARROW_K):.1%},"
            f" {share_within(true, BAND_K):.1%}; {helpless} over by more than 0.1 K with the heater"
            " off for ten minutes)"
        ),
        met=(narrow >= 0.97, wide == 1.0, rms <= 0.005),
        worst=worst_of(rows, lambda row: value(row, "hold_off_k")),
    )


def relay(rows: Sequence[Row]) -> Line:
    """The slow relay, where its own ripple leaves room."""
    tried = asked(rows, "relay")
    able = [row for row in tried if value(row, "relay_ripple_k") <= RIPPLE_MAX_K]
    share = share_within(values(able, "relay_off_k"), BAND_K)
    switches = percentile(values(able, "relay_switches_per_h"), 0.5)
    return Line(
        title="5 s mechanical relay, one-hour hold, where ripple physics allows",
        goals=("±0.1 K in ≥ 99 %", "median ≤ 75 switches an hour"),
        reached=f"{share:.1%}; {shown(switches, 0)} an hour"
        f" (allowed by {len(able)} of {len(tried)} tried, of {len(rows)} machines)",
        met=(share >= 0.99, switches <= 75),
        worst=worst_of(able, lambda row: value(row, "relay_off_k")),
    )


def cooling(rows: Sequence[Row]) -> Line:
    """Cooling as the profile asks for it."""
    times = [time_s / S_PER_MIN for time_s in values(rows, "cool_time_s")]
    under = max(values(rows, "cool_under_k"), default=math.nan)
    middle = percentile(times, 0.5)
    return Line(
        title="cooling to 28 °C with the computed swap of water at 15 °C",
        goals=("into ±0.3 K median ≤ 10 min", "worst undershoot ≤ 0.35 K"),
        reached=(
            f"{shown(middle, 1)} min; {shown(under)} K"
            f" (never within the hour: {1.0 - share_within(times, 1e6):.1%})"
        ),
        met=(middle <= 10.0, under <= 0.35),
        worst=worst_of(rows, lambda row: value(row, "cool_under_k")),
    )


def stirrer(rows: Sequence[Row]) -> Line:
    """Two minutes without stirring, told to the controller."""
    over, under = values(rows, "still_over_k"), values(rows, "still_under_k")
    high = percentile(over, 0.95)
    return Line(
        title="stirrer off for 2 min, known",
        goals=("p95 peak ≤ +0.06 K",),
        reached=f"+{shown(high)} K (p95 dip -{shown(percentile(under, 0.95))} K)",
        met=(high <= 0.06,),
        worst=worst_of(rows, lambda row: value(row, "still_over_k")),
    )


def gain(rows: Sequence[Row]) -> Line:
    """How much less it overshoots than two simple rivals."""
    tried = asked(rows, "curve", "rivals")
    parts, factors = [], []
    for leg in ("melt", "rewarm"):
        own = max(percentile(values(tried, f"{leg}_over_k"), 0.5), LEAST_OVER_K)
        for who in ("thermostat", "single_pi"):
            factor = percentile(values(tried, f"{who}_{leg}_over_k"), 0.5) / own
            factors.append(factor)
            parts.append(f"{leg} {shown(factor, 0)} times ({TITLES[who]})")
    return Line(
        title="median overshoot against thermostat and hand-tuned PI",
        goals=("≥ 50 times less",),
        reached=f"{', '.join(parts)} ({counted(tried, rows)})",
        met=(min(factors) >= 50.0,),
        worst=worst_of(tried, _of_a_rival_s),
    )


def _of_a_rival_s(row: Row) -> float:
    """The most that a machine overshoots of what a simple rival does on it, as a share of that."""
    worst = 0.0
    for leg in ("melt", "rewarm"):
        own = value(row, f"{leg}_over_k")
        if math.isinf(own):
            return own
        rivals = (value(row, f"{who}_{leg}_over_k") for who in ("thermostat", "single_pi"))
        worst = max(worst, own / max(min(rivals), LEAST_OVER_K))
    return worst


# By the words of --row, each with the runs that it needs.
Judge = Callable[[Sequence[Row]], Line]
LINES: dict[str, tuple[Judge, tuple[str, ...]]] = {
    "melt": (melt, ("curve",)),
    "rewarm": (rewarm, ("curve",)),
    "melt-time": (melt_time, ("curve",)),
    "rewarm-time": (rewarm_time, ("curve",)),
    "hold": (hold, ("curve",)),
    "relay": (relay, ("relay",)),
    "cooling": (cooling, ("cooling",)),
    "stirrer": (stirrer, ("curve",)),
    "gain": (gain, ("curve", "rivals")),
}


def table_text(lines: Sequence[Line]) -> str:
    """The table, in the way that documents write tables."""
    marks = {True: "yes", False: "**no**"}
    body = []
    for line in lines:
        met = "yes" if line.is_met else ", ".join(marks[one] for one in line.met)
        cells = (line.title, "; ".join(line.goals), line.reached, met, line.worst)
        body.append(f"| {' | '.join(cells)} |")
    return "\n".join(
        ["| | goal | reached | met | worst machines |", "|---|---|---|---|---|", *body]
    )
