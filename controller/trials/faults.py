"""Faults of a trial: how they are written, and when they come and go.

Responsible for the text of a fault and for breaking the bench at its moment; not for which faults
there are or what they do (hardware/bench), nor for clocks and disks (staging).
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from controller.core.profile import Profile
from controller.core.state import EventName
from controller.core.words import mass_text
from controller.errors import UsageError
from controller.files.complaints import nearest
from controller.files.temperatures import (
    parse_duration_s,
    parse_mass_kg,
    parse_share,
    parse_span_k,
    quoted,
)
from controller.ports import Moment
from controller.wiring import BY_WORD, Bench, BenchFault, FaultSize, Part

EXAMPLES = "relay-welded@hold+10min or bath-probe-drift:1.5K@melt/20min"
BEFORE_THE_RUN = {Part.FILLING, Part.BATCH}
_SPEC = re.compile(
    r"(?P<word>[^:@+/]+)(?::(?P<size>[^:@+/]+))?"
    r"(?:@(?P<phase>[^:@+/]+)(?:\+(?P<after>[^:@+/]+))?)?"
    r"(?:/(?P<lasts>[^:@+/]+))?"
)
_READS: Mapping[str, Callable[[object], float]] = {
    "K": parse_span_k,
    "s": parse_duration_s,
    "kg": parse_mass_kg,
    "%": parse_share,
}
_SHOWS: Mapping[str, Callable[[float], str]] = {
    "K": lambda size: f"{size:g}K",
    "s": lambda size: f"{size:g}s",
    "kg": lambda size: mass_text(size).replace(" ", ""),
    "%": lambda size: f"{size:.0%}",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultPlan:
    """One fault and its moment."""

    fault: BenchFault
    phase: str | None = None  # in which it comes; None: it is there from the start
    after_s: float = 0.0  # so long after the phase began
    size: float | None = None  # None: its usual size, or it has none
    lasts_s: float | None = None  # None: for good

    @property
    def by(self) -> float:
        """How big it is; 0 for a fault that has no size."""
        if self.size is not None:
            return self.size
        return 0.0 if self.fault.size is None else self.fault.size.usual


def parse_fault(text: str) -> FaultPlan:
    """A fault as people write it: `NAME[:SIZE][@PHASE[+DELAY]][/LASTS]`.

    Raises:
        UsageError: it can't be read, or there is no such fault; the sentence says what to write.
    """
    match = _SPEC.fullmatch(text.strip())
    if match is None:
        raise UsageError(f"The fault {quoted(text)} can't be read; write it like {EXAMPLES}.")
    word, size, phase, after, lasts = match.group("word", "size", "phase", "after", "lasts")
    fault = BY_WORD.get(word)
    if fault is None:
        raise UsageError(_no_such(word))
    if phase is not None and BEFORE_THE_RUN & set(fault.acts):
        raise UsageError(
            f"{fault} is made before a run begins; leave @{phase} out and write {fault}."
        )
    if lasts is not None and fault.once:
        raise UsageError(f"{fault} happens in a moment and has no end; leave /{lasts} out.")
    return FaultPlan(
        fault=fault,
        phase=phase,
        after_s=0.0 if after is None else _duration_s(fault, after),
        size=None if size is None else _sized(fault, size),
        lasts_s=None if lasts is None else _lasting_s(fault, lasts),
    )


def plans_for(texts: Iterable[str], profile: Profile) -> tuple[FaultPlan, ...]:
    """The faults of a run of `profile`, each phase being one that it has.

    Raises:
        UsageError: one of them can't be; the sentence says which and what to write.
    """
    plans = tuple(parse_fault(text) for text in texts)
    names = [phase.name for phase in profile.phases]
    for plan in plans:
        if plan.phase is not None and plan.phase not in names:
            raise UsageError(
                f"{plan.fault} is to come in phase {quoted(plan.phase)}, which profile "
                f"{profile.name} does not have; its phases are {', '.join(names)}."
            )
    return plans


def size_text(size: FaultSize, value: float) -> str:
    """A fault's size as people write it: "1.5K", "30s", "50%"."""
    return _SHOWS[size.unit](value)


def _no_such(word: str) -> str:
    close = nearest(word, [str(fault) for fault in BenchFault])
    if close is not None:
        return f"There is no fault {quoted(word)}; did you mean {close}?"
    return f"There is no fault {quoted(word)}; `bainward try --list-faults` shows all of them."


def _sized(fault: BenchFault, text: str) -> float:
    size = fault.size
    if size is None:
        raise UsageError(f"{fault} has no size; leave :{text} out.")
    usual, least, most = (size_text(size, each) for each in (size.usual, size.least, size.most))
    try:
        value = _READS[size.unit](text)
    except ValueError as error:
        raise UsageError(
            f"{fault}:{text} has a size that can't be read; write it like {fault}:{usual}."
        ) from error
    if not size.least <= value <= size.most:
        raise UsageError(f"{fault}:{text} is out of range; write {least} to {most}.")
    return value


def _duration_s(fault: BenchFault, text: str) -> float:
    try:
        value_s = parse_duration_s(text)
    except ValueError as error:
        raise UsageError(f"The fault {fault}: {error}.") from error
    if value_s < 0.0:
        raise UsageError(f"The fault {fault}: {quoted(text)} is before its time; leave - out.")
    return value_s


def _lasting_s(fault: BenchFault, text: str) -> float:
    lasts_s = _duration_s(fault, text)
    if lasts_s == 0.0:
        raise UsageError(
            f"The fault {fault} is to last {quoted(text)}; write /30s, or leave / out."
        )
    return lasts_s


class FaultScript:
    """A teller that breaks the bench when the moment of a fault has come, and mends it again."""

    def __init__(self, plans: Iterable[FaultPlan], bench: Bench) -> None:
        """Break at once what is to be broken from the start."""
        self._bench = bench
        self._to_come = list(plans)
        self._come: list[FaultPlan] = []
        self._since_s: dict[str | None, float] = {}  # since when each phase is on
        self._to_mend: list[tuple[float, BenchFault]] = []
        self._for_good: set[BenchFault] = set()
        for plan in self._to_come:
            if plan.phase is None:
                bench.inject(plan.fault, plan.size)

    @property
    def to_come(self) -> tuple[FaultPlan, ...]:
        """The faults whose moment has not come yet."""
        return tuple(self._to_come)

    @property
    def come(self) -> tuple[FaultPlan, ...]:
        """The faults whose moment has come, in that order."""
        return tuple(self._come)

    def tell(self, moment: Moment) -> None:
        """Do what is due."""
        if not self._to_come and not self._to_mend:
            return
        if not self._since_s:
            self._since_s[None] = moment.now_s
        for event in moment.events:
            if event.name is EventName.PHASE_ENTERED:
                self._since_s[str(event.facts["phase"])] = moment.now_s
        self._mend(moment.now_s)
        for plan in [plan for plan in self._to_come if self._is_due(plan, moment.now_s)]:
            self._to_come.remove(plan)
            self._come.append(plan)
            if plan.phase is not None:
                self._bench.inject(plan.fault, plan.size)
            if plan.lasts_s is None:
                self._for_good.add(plan.fault)
            else:
                self._to_mend.append((moment.now_s + plan.lasts_s, plan.fault))

    def _is_due(self, plan: FaultPlan, now_s: float) -> bool:
        since_s = self._since_s.get(plan.phase)
        return since_s is not None and now_s >= since_s + plan.after_s

    def _mend(self, now_s: float) -> None:
        """Mend what is due, but for what is still to be broken by another of the plans."""
        for due in [due for due in self._to_mend if due[0] <= now_s]:
            self._to_mend.remove(due)
            if due[1] not in self._for_good and all(due[1] is not on for _, on in self._to_mend):
                self._bench.clear(due[1])
