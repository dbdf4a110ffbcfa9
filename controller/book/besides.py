"""What happened between the questions: what the cook told, what the machine did and advised.

Responsible for finding it in a record and for its words; not for layout (page).
"""

import math
from collections.abc import Iterator

from controller.core.announcement import Announcement, Deed, announced
from controller.core.scales import F_PER_K
from controller.core.state import EventName, Mode
from controller.core.words import mass_text, shown_temperature
from controller.journal.records import Run, Sample
from controller.report.held import Held
from controller.report.words import S_PER_MIN

PERCENT = 100.0
# Own engineering values, not published.
DISTURBED_K = 0.15  # no held bowl is off by so much of itself
SETTLED_S = 900.0  # after so long a deed no longer shows
_NAMES = {
    Deed.ADDED: "adding chocolate",
    Deed.TOPPED_UP: "the top-up",
    Deed.SWAPPED: "swapping water",
    Deed.LID_OPEN: "taking the lid off",
    Deed.STIRRER_PAUSED: "pausing the stirrer",
}


def besides(run: Run, *, fahrenheit: bool = False) -> tuple[tuple[float, str], ...]:
    """Run time and a few words each, in their order."""
    found = [  # within a minute in this order: advice says what more than warmth would help
        *_warmth(run, fahrenheit=fahrenheit),
        *_advice(run),
        *_deeds(run, fahrenheit=fahrenheit),
    ]
    return tuple(sorted(found, key=lambda one: one[0] // S_PER_MIN))


def held(run: Run) -> tuple[Sample, ...]:
    """The run while the chocolate was held ready: from the last phase's target on, pauses aside."""
    last = run.header.phases[-1].name if run.header.phases else ""
    ready = (
        note.t_s
        for note in run.events
        if note.name == EventName.TARGET_REACHED and note.phase == last
    )
    ready_s = next(ready, math.inf)
    return tuple(
        one
        for one in run.samples
        if one.t_s >= ready_s and one.phase == last and one.mode is Mode.RUNNING
    )


def disturbed(run: Run) -> tuple[float, str] | None:
    """Run time and name of the deed that brought the bowl furthest from where it was asked to be.

    None where it hardly was off, or no deed was announced shortly before.
    """
    asked = Held(run.header.phases[-1].target_c if run.header.phases else math.nan)
    off_k = [
        (abs(asked.see(one.t_s, one.bowl_setpoint_c, one.bowl_c)), one.t_s) for one in held(run)
    ]
    most_k, at_s = max((one for one in off_k if math.isfinite(one[0])), default=(0.0, 0.0))
    for note in reversed(run.events):
        given = announced(str(note.facts.get("deed", "")))
        is_just_before = 0.0 <= at_s - note.t_s <= SETTLED_S
        if most_k >= DISTURBED_K and given is not None and is_just_before and given.deed in _NAMES:
            return note.t_s, _NAMES[given.deed]
    return None


def degrees(span_k: float, *, fahrenheit: bool) -> str:
    """A span in the reader's degrees, to a tenth."""
    return f"{span_k * F_PER_K if fahrenheit else span_k:.1f}"


def _warmth(run: Run, *, fahrenheit: bool) -> Iterator[tuple[float, str]]:
    """Each time that what thickened was held warmer, or less warm again."""
    asked = Held(run.header.phases[-1].target_c if run.header.phases else math.nan)
    before_k = 0.0
    for sample in held(run):
        asked.see(sample.t_s, sample.bowl_setpoint_c, sample.bowl_c)
        over_k = asked.asked_k
        if over_k == before_k:
            continue
        span = degrees(over_k, fahrenheit=fahrenheit)
        if over_k > before_k:
            yield sample.t_s, f"it thickened, so the machine held the bowl {span} degrees warmer"
        elif over_k > 0.0:
            yield sample.t_s, f"it had thinned, so the bowl was only {span} degrees warmer"
        else:
            yield sample.t_s, "it had thinned, so the bowl was held at its target again"
        before_k = over_k


def _deeds(run: Run, *, fahrenheit: bool) -> Iterator[tuple[float, str]]:
    for note in run.events:
        if note.name == EventName.DEED_ANNOUNCED:
            told = deed_text(str(note.facts.get("deed", "")), fahrenheit=fahrenheit)
            yield note.t_s, f"you {told}"


def _advice(run: Run) -> Iterator[tuple[float, str]]:
    for note in run.events:
        if note.name == EventName.ADVICE_OFFERED:
            yield note.t_s, f"the machine advised: {note.facts.get('advice', '')}"


def deed_text(words: str, *, fahrenheit: bool = False) -> str:
    """What was announced, as "topped up with 56 g of melted chocolate at 40.0 °C"."""
    given = announced(words)
    return words if given is None else _deed_text(given, fahrenheit=fahrenheit)


def _deed_text(given: Announcement, *, fahrenheit: bool) -> str:
    at = f" at {shown_temperature(given.temp_c, fahrenheit=fahrenheit)}"
    at = at if math.isfinite(given.temp_c) else ""
    mass = mass_text(given.mass_kg) if math.isfinite(given.mass_kg) else "some"
    share = f"{PERCENT * given.share:.0f} %" if math.isfinite(given.share) else "some"
    return {
        Deed.ADDED: f"added {mass} of set chocolate{at}",
        Deed.TOPPED_UP: f"topped up with {mass} of melted chocolate{at}",
        Deed.SWAPPED: f"swapped {share} of the bath water for water{at}",
        Deed.STIRRER_PAUSED: "paused the stirrer",
        Deed.STIRRER_ON: "let the stirrer turn again",
        Deed.LID_OPEN: "took the lid off",
        Deed.LID_CLOSED: "put the lid back on",
    }[given.deed]
