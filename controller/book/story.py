"""A batch told in plain sentences, from its record and its notes.

Responsible for what can be said of it; not for layout (page) or for figures (report/summary).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from controller.book.asked import Asked, questions, set_tests
from controller.book.besides import degrees, disturbed
from controller.book.notes import Bloom, Gloss, Notes, SetTest, Snap
from controller.book.traces import OF_KIND
from controller.core.profile import Kind, Verdict
from controller.core.scales import F_PER_K, retold
from controller.core.tempering import Temper
from controller.core.words import mass_text, shown_temperature
from controller.errors import Exit, TableError
from controller.journal.records import Run
from controller.report.shapes import Summary
from controller.report.summary import summarise
from controller.report.words import duration_text

UNTEMPERED = frozenset({Kind.COMPOUND.value, Kind.WATER.value})
_TESTS = {
    SetTest.CLEAN: "The smear set clean: the batch was in temper.",
    SetTest.STREAKED: "The smear set streaked: the batch was not in temper.",
    SetTest.NOT_SET: "The smear did not set: the batch was not in temper.",
    Verdict.IN_TEMPER: "The set test was clean: the batch was in temper.",
    Verdict.NOT_IN_TEMPER: "The set test failed: the batch was not in temper.",
}
_WORDS = frozenset(one.value for one in SetTest)
_SEEMS = {
    Temper.IN_TEMPER: "in temper",
    Temper.UNDER: "under-tempered, with too few good crystals",
    Temper.OVER: "over-tempered, with too many crystals, and thick",
    Temper.MELTED_OUT: "melted out, its crystals lost",
    Temper.NOT_YET: "not in temper yet",
}
_ENDS = {
    Exit.DONE.word: "The run went to its end.",
    Exit.NOT_IN_TEMPER.word: "The run went to its end.",
    Exit.STOPPED.word: "The run was stopped before its end.",
    Exit.TRIPPED.word: "The machine ended the run itself, for safety.",
    Exit.CRASHED.word: "The program failed, and the heat was switched off.",
}
_KEPT = {
    Gloss.GLOSSY: "The pieces shine.",
    Gloss.DULL: "The pieces are dull.",
    Gloss.STREAKED: "The pieces are streaked.",
    Snap.CLEAN: "They break with a clean snap.",
    Snap.SOFT: "They bend or break softly.",
    Snap.CRUMBLES: "They crumble.",
    Bloom.NONE: "Looked at again later, they had no bloom.",
    Bloom.SPECKS: "Looked at again later, they had specks of bloom.",
    Bloom.FILM: "Looked at again later, they had a film of bloom.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """All that a page is made of."""

    run: Run
    summary: Summary
    asked: tuple[Asked, ...]
    notes: Notes
    began: datetime  # with the zone of whoever reads
    fahrenheit: bool = False

    @property
    def chocolate(self) -> str:
        """What was in the bowl, in two words."""
        kind = self.notes.chocolate or self.summary.profile_kind
        if kind == Kind.WATER:
            return "water"
        return "compound coating" if kind == Kind.COMPOUND else f"{kind} chocolate"

    @property
    def contains(self) -> str:
        """Its allergens: what its kind always holds, and what was noted; the bag knows more."""
        kind = self.notes.chocolate or self.summary.profile_kind
        certain = next((held for one, held in OF_KIND.items() if one == kind), ())
        listed = ", ".join(dict.fromkeys((*certain, *self.notes.contains)))
        if self.notes.contains:
            return listed
        return f"{listed}; see the bag for more" if listed else "nothing was noted; see the bag"

    @property
    def is_tempered(self) -> bool:
        """Whether temper is a question at all."""
        is_asked = bool(set_tests(self.asked)) or self.notes.set_test is not None
        return self.summary.profile_kind not in UNTEMPERED and is_asked

    def clock(self, run_s: float) -> str:
        """A run time on the reader's clock."""
        return f"{self.began + timedelta(seconds=run_s):%H:%M}"


def tell(run: Run, notes: Notes, *, fahrenheit: bool = False) -> Told:
    """All of a batch, on the clock of whoever reads.

    Raises:
        TableError: the record does not say when the run began.
    """
    try:
        began = datetime.fromisoformat(run.header.began_utc)
    except ValueError as error:
        raise TableError(
            f"The record of {run.header.run_id} does not say when the run began; name another."
        ) from error
    return Told(
        run=run,
        summary=summarise(run),
        asked=questions(run),
        notes=notes,
        began=began.astimezone(),
        fahrenheit=fahrenheit,
    )


def verdict(told: Told) -> str:
    """The first thing that anybody wants to know."""
    noted = told.notes.set_test
    if noted is not None:
        return _TESTS[noted]
    seen = [one.choice for one in set_tests(told.asked) if one.choice in _WORDS]
    if seen:
        return _TESTS[SetTest(str(seen[-1]))]
    if told.summary.verdict is not Verdict.NONE:
        return _TESTS[told.summary.verdict]
    # A run that went to its end has asked all that its profile asks.
    is_done = told.summary.outcome == Exit.DONE.word and not set_tests(told.asked)
    if is_done or told.summary.profile_kind in UNTEMPERED:
        return "Nothing was to be tempered."
    return "No set test was made, so nobody knows whether this batch was in temper."


def sentences(told: Told) -> Iterator[str]:
    """What happened, the more telling the earlier."""
    return (retold(one, fahrenheit=told.fahrenheit) for one in _happened(told))


def _happened(told: Told) -> Iterator[str]:
    summary = told.summary
    yield verdict(told)
    yield _end(summary.outcome)
    yield from _times(told)
    yield from _hold(told)
    yield from _estimate(told)
    yield from _troubles(told)
    yield from _kept(told.notes)


def _end(outcome: str | None) -> str:
    if outcome is None:
        return "The record breaks off: nobody knows the end."
    return _ENDS.get(outcome, f"The run ended: {outcome.replace('-', ' ')}.")


def _times(told: Told) -> Iterator[str]:
    summary = told.summary
    mass = mass_text(summary.batch_kg)
    if summary.ready_s is None:
        yield f"{mass} of {told.chocolate} did not reach the working temperature."
        return
    yield (
        f"{mass} of {told.chocolate} was ready at {told.clock(summary.ready_s)}, "
        f"{duration_text(summary.ready_s)} after the start."
    )


def _hold(told: Told) -> Iterator[str]:
    summary, band = told.summary, told.summary.hold_band
    if band is None or summary.ready_s is None:
        return
    warmer_k = summary.warmed_k
    off_k = max(abs(band.min_k), abs(band.max_k))
    off = math.ceil(10.0 * (F_PER_K * off_k if told.fahrenheit else off_k) - 1e-6) / 10.0
    target = shown_temperature(summary.working_target_c, fahrenheit=told.fahrenheit)
    lasted = duration_text(max(0.0, summary.lasted_s - summary.ready_s))
    span = degrees(warmer_k, fahrenheit=told.fahrenheit)
    thick = f", up to {span} degrees warmer as it thickened" if warmer_k else ""
    deed = disturbed(told.run)
    after = f" (just after {deed[1]} at {told.clock(deed[0])})" if deed else ""
    span_off = f"{off:g} degree{'' if off == 1.0 else 's'} off{' that' if warmer_k else ''}"
    yield f"It was kept at {target} for {lasted}{thick}, never more than {span_off}{after}."


def _estimate(told: Told) -> Iterator[str]:
    judged = told.summary.judged
    if judged is None or judged.verdict is Temper.NONE:
        return
    if judged.verdict is Temper.UNKNOWN:
        yield "What the crystals were like at the end, the machine could not tell."
        return
    sure = f"{math.floor(100.0 * judged.confidence)} % sure"
    yield (
        f"By its own reckoning the machine took it for {_SEEMS[judged.verdict]} ({sure}); "
        "the set test is the judge."
    )


def _troubles(told: Told) -> Iterator[str]:
    for trip in told.summary.trips:
        yield f"At {told.clock(trip.at_s)} the heat was cut off: {trip.what}"
    if told.summary.torn:
        yield "Part of the record is damaged; what follows the damage is not on this page."


def _kept(notes: Notes) -> Iterator[str]:
    for noted in (notes.gloss, notes.snap, notes.bloom):
        if noted is not None:
            yield _KEPT[noted]


def test_sentences(told: Told) -> Iterator[str]:
    """The set tests: when, what was seen, and whether it was given its time."""
    for one in set_tests(told.asked):
        took_s = one.took_s or 0.0
        yield (
            f"Asked at {told.clock(one.at_s)}, answered {str(one.choice).replace('-', ' ')} "
            f"after {duration_text(took_s)}."
        )
        if one.is_soon:
            yield "That is sooner than a smear needs to set: trust it less."
    if told.notes.set_test is not None:
        yield "Noted afterwards, and so the last word: " + _TESTS[told.notes.set_test]
