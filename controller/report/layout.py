"""A summary as plain text that reads well in a terminal, a mail or a pipe.

Responsible for words and columns; not for the numbers (summary).
"""

from collections.abc import Iterator

from controller.core.lacks import Lack, mode_text
from controller.core.profile import Kind, Verdict
from controller.core.reasons import call_off
from controller.core.scales import retold
from controller.core.words import shown_temperature
from controller.errors import Exit
from controller.report.shapes import PhaseTime, Summary, TripNote
from controller.report.words import clock_text, duration_text, span_text, verdict_text, wall_text

LABEL = 11  # columns: the longest label and a gap
Row = tuple[str, str]


def summary_text(summary: Summary, *, fahrenheit: bool = False) -> str:
    """The summary as lines of text, with a newline at the end."""
    rows = (
        *_heading(summary),
        ("", ""),
        *_phase_rows(summary.phases, fahrenheit=fahrenheit),
        ("", ""),
        ("Ready", _ready(summary)),
        *_foretold_rows(summary),
        ("Overshoot", _overshoot(summary, fahrenheit=fahrenheit)),
        ("Hold", _hold(summary, fahrenheit=fahrenheit)),
        *_chocolate_rows(summary),
        ("Heat", _heat(summary)),
        *_trip_rows(summary.trips, broke_off=summary.outcome is None),
    )
    lines = "\n".join(f"{label:<{LABEL}}{text}".rstrip() for label, text in rows)
    return retold(lines, fahrenheit=fahrenheit) + "\n"


def _heading(summary: Summary) -> tuple[Row, ...]:
    outcome = (summary.outcome or "").replace("-", " ") or "broke off: the record has no end"
    damage = (("Record", "cut at a damaged line; what follows it is lost"),) if summary.torn else ()
    return (
        ("Run", f"{summary.run_id}, begun {wall_text(summary.began_utc)}"),
        ("Profile", summary.profile_title),
        ("Machine", f"{summary.machine_name}, {summary.batch_kg:.2f} kg in the bowl"),
        *_mode_rows(summary.lacks),
        ("Outcome", f"{outcome}, after {duration_text(summary.lasted_s)}{_overruled(summary)}"),
        *damage,
    )


def _overruled(summary: Summary) -> str:
    """Why the outcome is not what the set test said."""
    is_bad = summary.outcome == Exit.NOT_IN_TEMPER.word
    if not is_bad or summary.verdict is not Verdict.IN_TEMPER:
        return ""
    return "; the set test was good, and what became of the crystals since counts"


def _mode_rows(lacks: tuple[Lack, ...]) -> tuple[Row, ...]:
    return (("Mode", mode_text(lacks)),) if lacks else ()


def _phase_rows(phases: tuple[PhaseTime, ...], *, fahrenheit: bool) -> tuple[Row, ...]:
    head = ("Phase", f"{'began at':<12}{'lasted':<14}bowl to")
    rows = (
        (phase.name, _phase_text(phase, shown_temperature(phase.target_c, fahrenheit=fahrenheit)))
        for phase in phases
    )
    return (head, *rows)


def _phase_text(phase: PhaseTime, target: str) -> str:
    return f"{clock_text(phase.start_s):<12}{duration_text(phase.duration_s):<14}{target}"


def _ready(summary: Summary) -> str:
    if Lack.BOWL_PROBE in summary.lacks:
        return "not claimed: there was no thermometer in the bowl"
    if summary.ready_s is None:
        return "never: the working temperature was not reached and settled"
    wall = f", at {wall_text(summary.ready_utc)}" if summary.ready_utc else ""
    return f"after {duration_text(summary.ready_s)}{wall}"


def _foretold_rows(summary: Summary) -> tuple[Row, ...]:
    """What was first said of it, and how far off that was."""
    said = summary.foretold
    if said is None:
        return ()
    span = f"{duration_text(said.early_s)} to {duration_text(said.late_s)}"
    text = f"after {duration_text(said.likely_s)} ({span}), said after {duration_text(said.said_s)}"
    if summary.ready_s is not None:
        off_s = summary.ready_s - said.likely_s
        late = "later" if off_s >= 0.0 else "earlier"
        text += f"; it was {duration_text(abs(off_s))} {late}"
    return (("Foretold", text),)


def _overshoot(summary: Summary, *, fahrenheit: bool) -> str:
    first = summary.phases[0].name if summary.phases else "first phase"
    known = (
        (first, summary.melt_overshoot_k),
        ("working temperature", summary.working_overshoot_k),
    )
    parts = [
        f"{name} {span_text(over_k, fahrenheit=fahrenheit)}"
        for name, over_k in known
        if over_k is not None
    ]
    return ", ".join(parts) or "not known"


def _hold(summary: Summary, *, fahrenheit: bool) -> str:
    if Lack.BOWL_PROBE in summary.lacks:
        return "not known"
    band = summary.hold_band
    target = shown_temperature(summary.working_target_c, fahrenheit=fahrenheit)
    if band is None:
        return f"never held at {target}"
    low = span_text(band.min_k, fahrenheit=fahrenheit, sign=True)
    high = span_text(band.max_k, fahrenheit=fahrenheit, sign=True)
    rms = span_text(band.rms_k, fahrenheit=fahrenheit)
    text = f"{low} to {high} around {target}, {rms} root mean square"
    if summary.warmed_k:
        warmer = span_text(summary.warmed_k, fahrenheit=fahrenheit)
        text += f"; on purpose up to {warmer} warmer, for it thickened"
    return text


def _chocolate_rows(summary: Summary) -> tuple[Row, ...]:
    if summary.profile_kind in {Kind.COMPOUND, Kind.WATER}:
        return ()
    found = summary.crystals
    soon = "; answered sooner than a smear takes to set" if summary.is_test_soon else ""
    able = ", as a bench can" if soon and found is not None else ""
    tests = (("Set test", verdict_text(summary.verdict) + soon + able), *_judged_rows(summary))
    if found is None:
        return tests
    truth = (
        f"{verdict_text(found.verdict)}: {found.form_v_percent:.2f} % of the fat in form V,"
        f" {found.unstable_percent:.2f} % unstable (only a bench can know)"
    )
    return (*tests, ("Crystals", truth))


def _judged_rows(summary: Summary) -> tuple[Row, ...]:
    """The last estimate of temper, as sure as it was."""
    said = summary.judged
    if said is None:
        return ()
    sure = f"{said.confidence:.0%} sure, " if said.confidence else ""
    return (("Estimate", f"{sure}{clock_text(said.said_s)}: {said.why}"),)


def _heat(summary: Summary) -> str:
    used = "" if summary.energy_kwh is None else f", {summary.energy_kwh:.3f} kWh used"
    return (
        f"{summary.heat_asked_kwh:.3f} kWh asked for{used}; the relay switched"
        f" {summary.switches} times"
    )


def _trip_rows(trips: tuple[TripNote, ...], *, broke_off: bool) -> tuple[Row, ...]:
    if not trips:
        return (("Trips", "none in what is left of the record" if broke_off else "none"),)
    return tuple(row for trip in trips for row in _trip_lines(trip))


def _trip_lines(trip: TripNote) -> Iterator[Row]:
    yield "Trip", f"{clock_text(trip.at_s)} {trip.cause.replace('-', ' ')}"
    off = call_off(trip.cause)
    said = (trip.what, trip.why, trip.action, off and f"Call the batch off? {off}")
    yield from (("", sentence) for sentence in said if sentence)
