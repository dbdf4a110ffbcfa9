"""The command `rescue`: what to do with a batch that went wrong, by a mishap or by a run's record.

Responsible for reading options and records and for what is printed; not for the actions
(core/rescuing) or their words (core/rescue_words).
"""

import argparse
import math
import sys

from controller.commands.rescue_case import Case, case_of
from controller.commands.rescue_record import recorded
from controller.core.ahead import Batch
from controller.core.batches import EVEN
from controller.core.mishaps import BY_WORD, SET_C, Mishap, Told
from controller.core.profile import Kind
from controller.core.records import replace
from controller.core.rescue_words import LATER, crystals_text, steps_text, title, why_text
from controller.core.rescuing import Means, cheapest, endings, melting
from controller.core.scales import retold
from controller.core.tempering import spread_of
from controller.core.words import shown_temperature
from controller.errors import Exit, UsageError
from controller.files.complaints import nearest
from controller.planning.quantities import BATCH, LEFT, ROOM, TAP, WORK, Quantity, quoted, read
from controller.wiring import machine_meant

KINDS = (Kind.DARK, Kind.MILK, Kind.WHITE)
# What is sane: own engineering values, not published.
BOWL = Quantity(units=ROOM.units, low=0.0, high=70.0, example="34 C")
SPAN = Quantity(units=WORK.units, low=0.0, high=600.0, example="12 min")
AMOUNT = Quantity(units=LEFT.units, low=1.0, high=5000.0, example="150 g")
MOST_OVER = 2.0  # more came in than twice what is in the bowl: a slip


def rescue(options: argparse.Namespace) -> Exit:
    """`bainward rescue`.

    Raises:
        BainwardError: words that make no sense, or no record to go by.
    """
    means = _means(options.without)
    mishap = None if options.mishap is None else _named(options.mishap)
    is_f = options.units == "F"
    if mishap is not None and mishap.is_ruined:
        sys.stdout.write(retold(ruined_text(mishap), fahrenheit=is_f))
        return Exit.DONE
    if mishap is None:
        case = recorded(options, _value(options, "bowl", BOWL))
    else:
        case = _told(options, mishap)
    sys.stdout.write(retold(advice(case, means, fahrenheit=is_f), fahrenheit=is_f))
    return Exit.DONE


def ruined_text(mishap: Mishap) -> str:
    """What is said where nothing brings it back."""
    return (
        f"{mishap.what[0].upper()}{mishap.what[1:]}.\n"
        "Nothing brings this batch back into temper, whatever is done with it.\n"
        f"It is still good for {mishap.makes}.\n"
        "Before the next batch wash and dry bowl and stirrer: a drop spoils that one, too.\n"
    )


def advice(case: Case, means: Means, *, fahrenheit: bool) -> str:
    """All that is printed."""
    found = endings(case.batch, case.window, case.kitchen, weights=case.weights, means=means)
    form_v, _ = spread_of(case.batch.bank, case.weights)
    bowl = shown_temperature(case.batch.bowl_c, fahrenheit=fahrenheit)
    lines = [f"{case.head} The bowl is at {bowl}. {crystals_text(form_v)}"]
    best = cheapest(found)
    if best is None:
        best, lead = melting(found), "Nothing is likely to help with what is at hand; likeliest is"
    else:
        lead = "Do this:"
    if best is None:  # pragma: no cover - melting is always thought about
        return lines[0] + "\n"
    lines.append(f"{lead} {title(best)}.")
    steps = steps_text(best, case.window, water_c=case.kitchen.water_c, fahrenheit=fahrenheit)
    lines += [f"  {number}. {text}" for number, text in enumerate((*steps, LATER), start=1)]
    lines.append(f"Why: {why_text(best, found)}")
    return "\n".join(lines) + "\n"


def _means(text: str) -> Means:
    words = {word.strip().casefold() for word in text.split(",") if word.strip()}
    if unknown := words - {"seed", "melt"}:
        raise UsageError(
            f"--without {quoted(min(unknown))} is not known; write seed, melt or both."
        )
    return Means(seed="seed" not in words, melt="melt" not in words)


def _named(word: str) -> Mishap:
    found = BY_WORD.get(word.casefold())
    if found is not None:
        return found
    close = nearest(word, tuple(BY_WORD))
    hint = f"did you mean {close}?" if close else f"known are {', '.join(BY_WORD)}."
    raise UsageError(f"There is no mishap {quoted(word)}; {hint}")


def _told(options: argparse.Namespace, mishap: Mishap) -> Case:
    """By what somebody says of a mishap, on a machine as its file says."""
    kind = _kind(options.chocolate)
    machine = machine_meant(options.machine).machine
    machine = replace(
        machine,
        batch_kg=_value(options, "batch", BATCH, machine.batch_kg),
        room_c=_value(options, "room", ROOM, machine.room_c),
        cold_water_c=_value(options, "tap", TAP, machine.cold_water_c),
    )
    case = case_of(kind, machine)
    window = case.window
    at_c = _value(options, "at", _range(mishap, window.softer_k))
    said = Told(
        at_c=at_c,
        for_s=_value(options, "for", SPAN),
        share=_value(options, "amount", AMOUNT) / machine.batch_kg,
    )
    _fits(options, mishap, said)
    full = mishap.filled(said, window)
    bowl_c = _value(options, "bowl", BOWL, mishap.bowl_c(full, window))
    assumed = _assumed(mishap, said, full, fahrenheit=options.units == "F")
    is_set = mishap.is_set or (mishap.word == "power-gone" and bowl_c < SET_C - window.softer_k)
    head = f"{kind.value.capitalize()} chocolate: {mishap.what}.{assumed}"
    if full.at_c > window.never_above_c:
        most = shown_temperature(window.never_above_c, fahrenheit=options.units == "F")
        head += (
            f" Above {most} it may have scorched: if it is grainy, see bainward rescue scorched."
        )
    batch = Batch(bowl_c, bowl_c, mishap.made(full, window), is_set=is_set)
    return case._replace(batch=batch, weights=EVEN, head=head)


def _range(mishap: Mishap, softer_k: float) -> Quantity:
    """What is sane of its temperature; other fats than dark's melt lower."""
    low_c, high_c = mishap.range_c
    if math.isnan(low_c):
        return BOWL
    example = f"{mishap.usual.at_c - softer_k:g} C"
    low_c = max(0.0, low_c - softer_k)
    return Quantity(units=ROOM.units, low=low_c, high=high_c, example=example)


def _fits(options: argparse.Namespace, mishap: Mishap, said: Told) -> None:
    """Refuse what the mishap has no use for, and more seed than can be."""
    taken = {
        "at": not math.isnan(mishap.range_c[0]),
        "for": mishap.takes_time,
        "amount": mishap.takes_share,
    }
    for key, is_taken in taken.items():
        if getattr(options, f"{key}_") is not None and not is_taken:
            fitting = ", ".join(f"--{one}" for one, takes in taken.items() if takes) or "none"
            raise UsageError(f"{mishap.word} has no use for --{key}; it takes {fitting}.")
    if said.share > MOST_OVER:
        raise UsageError(
            f"--amount {quoted(options.amount_)} is over twice what is in the bowl; mind g and kg, "
            "or say what is in the bowl with --batch."
        )


def _assumed(mishap: Mishap, said: Told, full: Told, *, fahrenheit: bool) -> str:
    """What nobody said and is therefore taken as usual."""
    parts = []
    if math.isnan(said.at_c) and not math.isnan(full.at_c):
        parts.append(f"{shown_temperature(full.at_c, fahrenheit=fahrenheit)} (--at)")
    if mishap.takes_time and math.isnan(said.for_s):
        parts.append(f"{full.for_s / 60.0:.0f} min (--for)")
    if mishap.takes_share and math.isnan(said.share):
        parts.append(f"{100.0 * full.share:.0f} % of what was in the bowl (--amount)")
    return f" Nobody said otherwise, so taken for {', '.join(parts)}." if parts else ""


def _kind(text: str | None) -> Kind:
    word = (text or Kind.DARK).casefold()
    found = next((kind for kind in KINDS if kind == word), None)
    if found is None:
        raise UsageError(f"--chocolate {quoted(word)} has no temper; write dark, milk or white.")
    return found


def _value(
    options: argparse.Namespace, key: str, quantity: Quantity, usual: float = math.nan
) -> float:
    """An option's value inside, or the usual one where it was not given."""
    text = getattr(options, f"{key}_")
    if text is None:
        return usual
    try:
        return read(text, quantity)
    except ValueError as error:
        raise UsageError(f"--{key}: {error}.".replace("?.", "?")) from None
