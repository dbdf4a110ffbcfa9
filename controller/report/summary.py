"""What came of a run, in numbers, from its journal alone.

Responsible for the numbers; not for the words (summary_text).
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby, pairwise

from controller.core.alarms import trip_of
from controller.core.lacks import Lack
from controller.core.profile import Action, Verdict
from controller.core.reasons import why
from controller.core.state import ENDED, EventName, Mode
from controller.core.tempering import Temper
from controller.journal.records import (
    READY_FORETOLD,
    TEMPER_JUDGED,
    Header,
    Note,
    PhasePlan,
    Run,
    Sample,
)
from controller.report.held import Held
from controller.report.layout import summary_text
from controller.report.shapes import Band, Crystals, Foretold, Judged, PhaseTime, Summary, TripNote

__all__ = ["Band", "Crystals", "PhaseTime", "Summary", "TripNote", "summarise", "summary_text"]

J_PER_KWH = 3.6e6  # by definition: 1 kW times 3600 s
PERCENT = 100.0
REWARM = "rewarm"  # the phase that brings the bowl back up to the working temperature


def summarise(run: Run) -> Summary:
    """All that a journal tells of a run, whether or not the run ended in order."""
    header, last = run.header, run.samples[-1] if run.samples else None
    live = tuple(s for s in run.samples if s.mode is not Mode.IDLE and s.mode not in ENDED)
    ready_s = _ready_s(run)
    worked = _worked(live, header, ready_s)
    truth = run.closing.truth if run.closing else None
    return Summary(
        run_id=header.run_id,
        began_utc=header.began_utc,
        profile_title=header.profile_title,
        profile_kind=header.profile_kind,
        machine_name=header.machine_name,
        batch_kg=header.batch_kg,
        lacks=header.lacks,
        lasted_s=_end_s(run, live),
        phases=_phase_times(run, live),
        ready_s=ready_s,
        ready_utc=_later(header.began_utc, ready_s),
        foretold=_foretold(run),
        melt_overshoot_k=_overshoot_k(_melt_over_k(live, header)),
        working_target_c=header.phases[-1].target_c,
        working_overshoot_k=_overshoot_k(worked.over_k),
        hold_band=_band(worked.off_k),
        warmed_k=worked.warmed_k,
        trips=tuple(_trip(n) for n in run.events if n.name == EventName.TRIP_LATCHED),
        heat_asked_kwh=(last.heat_j if last else 0.0) / J_PER_KWH,
        energy_kwh=truth.energy_j / J_PER_KWH if truth else None,
        switches=last.switches if last else 0,
        verdict=last.verdict if last else Verdict.NONE,
        is_test_soon=_is_test_soon(run),
        judged=_judged(run),
        crystals=Crystals(
            form_v_percent=truth.form_v * PERCENT,
            unstable_percent=truth.unstable * PERCENT,
            verdict=truth.verdict,
        )
        if truth
        else None,
        outcome=run.closing.outcome if run.closing else None,
        torn=run.torn,
    )


def _ready_s(run: Run) -> float | None:
    """When the last phase first reached its target; nobody claims that of a bowl unseen."""
    if Lack.BOWL_PROBE in run.header.lacks:
        return None
    hold = run.header.phases[-1].name
    reached = EventName.TARGET_REACHED
    return next((n.t_s for n in run.events if n.name == reached and n.phase == hold), None)


def _foretold(run: Run) -> Foretold | None:
    """The first forecast that named a time."""
    for note in run.events:
        early_s, likely_s, late_s = (
            _number(note.facts.get(key)) for key in ("early_s", "likely_s", "late_s")
        )
        if note.name == READY_FORETOLD and math.isfinite(early_s + likely_s + late_s):
            return Foretold(said_s=note.t_s, early_s=early_s, likely_s=likely_s, late_s=late_s)
    return None


def _is_test_soon(run: Run) -> bool:
    """Whether the last set test was answered before it can have been made."""
    tests = [
        note.facts
        for note in run.events
        if note.name == EventName.QUESTION_ANSWERED and note.facts.get("action") == Action.SET_TEST
    ]
    return bool(tests) and tests[-1].get("soon") is True


def _judged(run: Run) -> Judged | None:
    """The last estimate of temper, if its word is one of ours."""
    note = next((one for one in reversed(run.events) if one.name == TEMPER_JUDGED), None)
    if note is None or note.facts.get("verdict") not in set(Temper):
        return None
    return Judged(
        said_s=note.t_s,
        verdict=Temper(str(note.facts["verdict"])),
        confidence=_number(note.facts.get("confidence")),
        why=str(note.facts.get("why", "")),
    )


def _number(fact: object) -> float:
    return float(fact) if isinstance(fact, int | float) else math.nan


def _later(began_utc: str, after_s: float | None) -> str | None:
    """The wall time `after_s` after the beginning, as ISO 8601 to the second."""
    if after_s is None:
        return None
    try:
        began = datetime.fromisoformat(began_utc)
    except ValueError:
        return None
    return (began + timedelta(seconds=round(after_s))).isoformat(timespec="seconds")


def _end_s(run: Run, live: tuple[Sample, ...]) -> float:
    """When the run ended; the stirrer may turn, and the record go on, long after that."""
    if not live:
        return 0.0
    return next((s.t_s for s in run.samples if s.t_s > live[-1].t_s), live[-1].t_s)


def _phase_times(run: Run, live: tuple[Sample, ...]) -> tuple[PhaseTime, ...]:
    """Each phase lasts until the next begins; the last until the run ended."""
    if not live:
        return ()
    firsts = [next(group) for _, group in groupby(live, key=lambda s: s.phase)]
    edges = [*(s.t_s for s in firsts), _end_s(run, live)]
    targets = {plan.name: plan.target_c for plan in run.header.phases}
    return tuple(
        PhaseTime(name=s.phase, start_s=a, duration_s=b - a, target_c=targets[s.phase])
        for s, (a, b) in zip(firsts, pairwise(edges), strict=True)
    )


def _working(header: Header) -> tuple[PhasePlan, ...]:
    """The phases at working temperature: from rewarm on, or the last alone where there is none."""
    names = [plan.name for plan in header.phases]
    return header.phases[names.index(REWARM) :] if REWARM in names else header.phases[-1:]


def _overshoot_k(over_k: Iterable[float]) -> float | None:
    """The most by which the bowl was over its target, once it had been at or under it.

    A phase entered from above is on its way down, and that is no overshoot.
    """
    known = [over for over in over_k if math.isfinite(over)]
    first = next((i for i, over in enumerate(known) if over <= 0), None)
    return None if first is None else max(0.0, *known[first:])


def _melt_over_k(live: tuple[Sample, ...], header: Header) -> Iterator[float]:
    melt = header.phases[0]
    return (s.bowl_c - melt.target_c for s in live if s.phase == melt.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worked:
    """The bowl at its working temperature, each beside where it was asked to be."""

    over_k: tuple[float, ...]  # over the warmest that was asked for, from rewarm on
    off_k: tuple[float, ...]  # while it was held ready; pauses aside
    warmed_k: float  # asked to be so much warmer than its target at most


def _worked(live: tuple[Sample, ...], header: Header, ready_s: float | None) -> _Worked:
    names = {plan.name for plan in _working(header)}
    last = header.phases[-1]
    held = Held(last.target_c)
    over_k, off_k = [], []
    for sample in live:
        is_held = ready_s is not None and sample.t_s >= ready_s and sample.phase == last.name
        if is_held and sample.mode is Mode.RUNNING:
            off_k.append(held.see(sample.t_s, sample.bowl_setpoint_c, sample.bowl_c))
        if sample.phase in names:
            over_k.append(sample.bowl_c - last.target_c - held.over_k)
    return _Worked(over_k=tuple(over_k), off_k=tuple(off_k), warmed_k=held.warmed_k)


def _band(off_k: Iterable[float]) -> Band | None:
    """How far off the bowl was, from the least to the most."""
    known = [off for off in off_k if math.isfinite(off)]
    if not known:
        return None
    rms_k = math.sqrt(math.fsum(off * off for off in known) / len(known))
    return Band(min_k=min(known), max_k=max(known), rms_k=rms_k)


def _trip(note: Note) -> TripNote:
    trip = trip_of(note.facts, note.t_s)
    return TripNote(
        at_s=trip.at_s,
        cause=trip.cause,
        what=trip.what,
        why=trip.why or why(trip.cause),
        action=trip.action,
    )
