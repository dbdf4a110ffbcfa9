"""What came of an ordeal: a row for each fault, and what was missed, to be run again.

Responsible for the text and for the bound on false trips; not for trying anything (ordeal).
"""

import math
import shlex
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from controller.core.interlock_rows import Cause
from controller.report.table import MACHINE, OUTCOME, Row
from controller.trials.expectations import EXPECTATIONS, Expectation
from controller.trials.faults import BEFORE_THE_RUN, size_text
from controller.trials.ordeal import DRAWN, WHOLE, found_of
from controller.trials.ordeal_draws import FITTINGS
from controller.trials.ordeal_rough import DEEDS, HOURS, TOLD
from controller.trials.ordeal_watch import Found
from controller.trials.sweep_work import FAILED, FAILURE, REFUSED
from controller.wiring import BY_WORD

SURE = 0.95  # of the bound on the rate of false trips
PER_H = 1000.0
COLUMNS = (
    ("tried", 6),
    ("seen", 6),
    ("right", 6),
    ("told p50", 10),
    ("inhibited p50", 15),
    ("p99", 6),
    ("max", 6),
    ("trip p50", 10),
    ("p99", 6),
    ("max", 6),
    ("bath", 7),
    ("bowl", 7),
    ("missed", 7),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One injection, and where it was tried."""

    machine: str
    fittings: frozenset[str]
    found: Found

    @property
    def is_due(self) -> bool:
        """Whether what is fitted can see it; of two faults, both: else one can harm unseen."""
        return all(one.is_due(self.fittings, leg) for one, leg in self._expected())

    @property
    def is_right(self) -> bool:
        """Whether it was seen as what it is: by the trip, or else by what was told first."""
        return any(self.found.cause in one.causes for one, _ in self._expected())

    @property
    def right_s(self) -> float:
        """When the first right cause was told, s; infinite for never."""
        causes = frozenset[str]().union(*(one.causes for one, _ in self._expected()))
        said = self.found.said.items()
        return min((at_s for cause, at_s in said if cause in causes), default=math.inf)

    @property
    def is_missed(self) -> bool:
        """Whether it did harm that no person did, with heat permitted and nobody told rightly.

        A wrong alarm in time and the right one after the harm do not make up for it. But whoever is
        told that the batch sets knows of that harm, whatever made it.
        """
        found = self.found
        if not found.harm or any(one.by_hand for one, _ in self._expected()):
            return False
        told_s = self.right_s
        if found.harm == "set":
            told_s = min(told_s, found.said.get(Cause.BATCH_SETTING, math.inf))
        return not (found.is_heat_off or told_s <= found.harm_s)

    def _expected(self) -> list[tuple[Expectation, str]]:
        """What is expected of the fault, or of both, and the leg in which each came."""
        found = self.found
        came = [(found.fault, found.leg), (found.second, found.second_leg)]
        return [(EXPECTATIONS[BY_WORD[word]], leg) for word, leg in came if word]


def tried_of(rows: Iterable[Row]) -> list[Tried]:
    """Every injection of these rows, but for machines that tripped whole: they show nothing."""
    return [
        Tried(
            machine=str(row[MACHINE]),
            fittings=frozenset(_fitted(row)),
            found=found,
        )
        for row in rows
        if not row.get(WHOLE)
        for found in found_of(row)
    ]


def drawn_of(rows: Iterable[Row]) -> int:
    """How many were drawn to be tried."""
    return sum(int(float(row.get(DRAWN) or 0)) for row in rows if not row.get(WHOLE))


def lost_text(rows: Sequence[Row], profile: str) -> str:
    """A line for each machine of which there is nothing to judge; those refused alike in one."""
    lines = [f"{row[MACHINE]} failed: {row[FAILURE]}" for row in rows if row[OUTCOME] == FAILED]
    why = Counter(str(row[FAILURE]) for row in rows if row[OUTCOME] == REFUSED)
    lines += [f"{count} of {len(rows)} machines refused: {reason}" for reason, count in why.items()]
    lines += [
        f"{row[MACHINE]} tripped though nothing was broken ({row[WHOLE]}), so its faults count "
        "for nothing: "
        + shlex.join(["bainward", "try", profile, *_who(str(row[MACHINE]), _fitted(row))])
        for row in rows
        if row.get(WHOLE)
    ]
    return "".join(f"{line}\n" for line in lines)


def _fitted(row: Row) -> list[str]:
    return str(row.get(FITTINGS, "")).split()


def faults_text(
    tried: Sequence[Tried], profile: str, *, in_pairs: bool = False, drawn: int = 0
) -> str:
    """The two tables and what was missed, with a newline at the end; pairs go by their first.

    Of so many that were `drawn` some had a phase that was over before their moment.
    """
    due = [one for one in tried if one.is_due]
    others = [one for one in tried if not one.is_due]
    machines = len({one.machine for one in tried})
    what = "pairs of faults" if in_pairs else "faults"
    lines = [f"{len(tried)} {what} on {machines} machines, {profile}", ""]
    if in_pairs:
        alone = sum(not one.found.second for one in tried)
        lines[1:] = [f"In {alone} of them the first had ended the run before the second came.", ""]
    if drawn > len(tried):
        lines.insert(1, f"Of {drawn} drawn the others never came: their phase or the run was over.")
    lines += ["What the fitted sensors can see:", *_table(due), ""]
    lines += ["What they can't, or not for certain:", *_table(others), ""]
    seen = [one for one in due if one.found.cause]
    right = sum(one.is_right for one in seen)
    lines.append(
        f"Seen {share_text(len(seen), len(due))}, "
        f"with the right cause {share_text(right, len(seen))}."
    )
    lines += [f"  {replay_text(one, profile)}: unseen" for one in due if not one.found.cause]
    wrong = [one for one in seen if not one.is_right]
    lines += [f"  {replay_text(one, profile)}: {one.found.cause}" for one in wrong]
    missed = [one for one in due if one.is_missed]
    lines.append(f"Harm with heat on and nobody told, where it could be seen: {len(missed)}.")
    lines += _listed(missed, profile)
    unsure = [one for one in others if one.is_missed]
    which = "one of the two could not" if in_pairs else "it could not"
    lines.append(f"The same where {which}, or not for sure: {len(unsure)}.")
    lines += _listed(unsure, profile)
    crashed = [one for one in tried if one.found.crash]
    lines += [f"  {replay_text(one, profile)}: {one.found.crash}" for one in crashed]
    return "\n".join(lines) + "\n"


def _listed(missed: Sequence[Tried], profile: str) -> list[str]:
    return [f"  {replay_text(one, profile)}: {one.found.harm}" for one in missed]


def replay_text(one: Tried, profile: str) -> str:
    """How one of them is tried alone."""
    found = one.found
    specs = ["--fault", _spec(found.fault, found.size, found.phase, found.after_s)]
    if found.second:
        specs += [
            "--fault",
            _spec(found.second, found.second_size, found.second_phase, found.second_after_s),
        ]
    return shlex.join(["bainward", "try", profile, *_who(one.machine, one.fittings), *specs])


def _spec(word: str, size: float, phase: str, after_s: float) -> str:
    """A fault as `bainward try` takes it."""
    fault = BY_WORD[word]
    spec = word if fault.size is None else f"{word}:{size_text(fault.size, size)}"
    return spec if BEFORE_THE_RUN & set(fault.acts) else f"{spec}@{phase}+{after_s:g}s"


def _who(machine: str, fittings: Iterable[str]) -> list[str]:
    return ["--machine", machine, "--fitted", ",".join(sorted(fittings)) or "none"]


def _table(tried: Sequence[Tried]) -> list[str]:
    by_fault: dict[str, list[Tried]] = defaultdict(list)
    for one in tried:
        by_fault[one.found.fault].append(one)
    head = " " * 26 + "".join(f"{head:>{width}}" for head, width in COLUMNS)
    return [head, *(_line(fault, by_fault[fault]) for fault in sorted(by_fault))]


def cells(tried: Sequence[Tried]) -> tuple[str, ...]:
    """The figures of one fault, in the order of `COLUMNS`: times in s, temperatures in °C."""
    found = [one.found for one in tried]
    seen = [one for one in tried if one.found.cause]
    inhibited = sorted(one.inhibited_s for one in found if not math.isnan(one.inhibited_s))
    told = sorted(one.told_s for one in found if not math.isnan(one.told_s))
    trips = sorted(one.trip_s for one in found if not math.isnan(one.trip_s))
    return (
        str(len(tried)),
        str(len(seen)),
        str(sum(one.is_right for one in seen)),
        _at(told, 0.5),
        *(_at(inhibited, share) for share in (0.5, 0.99, 1.0)),
        *(_at(trips, share) for share in (0.5, 0.99, 1.0)),
        f"{max(one.bath_max_c for one in found):.1f}",
        f"{max(one.bowl_max_c for one in found):.1f}",
        str(sum(one.is_missed for one in tried)),
    )


def _line(fault: str, tried: Sequence[Tried]) -> str:
    texts = zip(cells(tried), COLUMNS, strict=True)
    return f"{fault:26}" + "".join(f"{text:>{width}}" for text, (_, width) in texts)


def _at(values: Sequence[float], share: float) -> str:
    """The value that so many lie at or under, s; "-" without any."""
    if not values:
        return "-"
    return f"{values[max(0, math.ceil(share * len(values)) - 1)]:.0f}"


def share_text(part: int, whole: int) -> str:
    """So many of so many, and in percent."""
    return f"{part} of {whole}" + (f" ({part / whole:.1%})" if whole else "")


def rough_text(rows: Sequence[Row], profile: str) -> str:
    """How often machines that were whole tripped, with a newline at the end."""
    hours = sum(float(row.get(HOURS) or 0.0) for row in rows)
    tripped = [row for row in rows if row.get("trip")]
    bound = rate_bound(len(tripped), hours) * PER_H
    lines = [
        f"{hours:.0f} h of {profile}, {len(rows)} machines handled roughly: {len(tripped)} tripped",
        f"With {SURE:.0%} confidence fewer than {bound:.3g} false trips in {PER_H:.0f} h",
    ]
    alone = [row for row in rows if not row.get(DEEDS)]
    alone_h = sum(float(row.get(HOURS) or 0.0) for row in alone)
    alone_tripped = sum(bool(row.get("trip")) for row in alone)
    told = Counter(cause for row in alone for cause in str(row.get(TOLD, "")).split())
    lines.append(
        f"Of them {len(alone)} left alone, for {alone_h:.0f} h: {alone_tripped} tripped, "
        f"{told.total()} alarms" + _counted(told)
    )
    causes = Counter(str(row["trip"]) for row in tripped)
    lines += [f"  {count} {cause}" for cause, count in causes.most_common()]
    for row in tripped:
        faults = [word for deed in str(row[DEEDS]).split() for word in ("--fault", deed)]
        who = _who(str(row[MACHINE]), _fitted(row))
        words = ["bainward", "try", profile, *who, *faults]
        lines.append(f"  {shlex.join(words)}: {row['trip']}")
    return "\n".join(lines) + "\n"


def _counted(causes: Counter[str]) -> str:
    """What was told how often, most often first, in brackets; empty for nothing."""
    if not causes:
        return ""
    return " (" + ", ".join(f"{count} {cause}" for cause, count in causes.most_common()) + ")"


def rate_bound(count: int, hours: float) -> float:
    """The rate per hour at which so few events or fewer would come in one try of twenty.

    The upper limit of a Poisson rate (Garwood, Biometrika 28:437, 1936), found by halving.
    """
    if hours <= 0.0:
        return math.inf
    low, high = 0.0, 10.0 + 3.0 * count
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _at_most(count, middle) > 1.0 - SURE else (low, middle)
    return high / hours


def _at_most(count: int, mean: float) -> float:
    """The chance of so many events or fewer, where `mean` are to be expected."""
    return math.fsum(
        math.exp(n * math.log(mean) - mean - math.lgamma(n + 1)) for n in range(count + 1)
    )
