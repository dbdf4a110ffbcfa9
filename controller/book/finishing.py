"""What is left to do once a run is over: empty, store, set, unmould, clean.

Responsible for the advice, each with its source here; not for physics (planning) or layout (page).
"""

import math
import textwrap
from dataclasses import dataclass

from controller.core.profile import Kind
from controller.core.scales import retold
from controller.core.state import EventName
from controller.core.words import shown_temperature
from controller.journal.records import Run
from controller.planning.finish import Warming, warming
from controller.planning.room import SETS_MOST_C, SETS_SLACK_K
from controller.report.words import duration_text

FRIDGE_C = 6.0  # own engineering value: a household's fridge
DAMP = 0.60  # where nobody said: the most that chocolate is worked in (common practice, no source)
WIDE = 78  # columns of a terminal
BAR_M, BOX_M = 0.010, 0.080  # a bar, and pieces packed close; own engineering values


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Where it all takes place."""

    room_c: float
    humidity: float | None = None  # relative, 0 to 1; None: nobody said


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a run ended, as far as it changes what to do now."""

    is_tripped: bool = False  # the machine is not to be touched before it is unplugged
    was_worked: bool = True  # its last phase was reached: there may be pieces


def ended_of(run: Run) -> Ended:
    """How this one ended."""
    names = {sample.phase for sample in run.samples}
    return Ended(
        is_tripped=any(note.name == EventName.TRIP_LATCHED for note in run.events),
        was_worked=bool(run.header.phases) and run.header.phases[-1].name in names,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do, and how."""

    name: str
    text: str


def steps(kind: str, room: Room, ended: Ended, *, fahrenheit: bool = False) -> tuple[Step, ...]:
    """What to do now, in this order. For water unplugging and drying alone.

    All of it is common practice, no source, unless said otherwise.
    """
    unplug = (_unplug(),) if ended.is_tripped else ()
    if kind == Kind.WATER:
        dry = "Empty bowl and bath, and dry both before chocolate comes near: water spoils it."
        return (*unplug, Step(name="Dry", text=dry))
    store = Step(name="Store", text=retold(_store(kind), fahrenheit=fahrenheit))
    if not ended.was_worked:
        return (*unplug, _keep(), store, _clean())
    return (
        *unplug,
        _empty(),
        store,
        _set(kind, room, fahrenheit=fahrenheit),
        Step(name="Out of the fridge", text=_fridge(room, fahrenheit=fahrenheit)),
        _clean(),
    )


def text(kind: str, room: Room, ended: Ended, *, fahrenheit: bool = False) -> str:
    """The same for a terminal, a step a line."""
    found = steps(kind, room, ended, fahrenheit=fahrenheit)
    return "".join(
        textwrap.fill(f"{step.name}: {step.text}", WIDE, subsequent_indent="  ") + "\n"
        for step in found
    )


def _unplug() -> Step:
    return Step(
        name="First",
        text="Unplug the machine before you touch bowl, bath or stirrer. Lift the bowl out with "
        "dry gloves, and fill a bath that has run dry only once its heater is cool.",
    )


def _keep() -> Step:
    return Step(
        name="Keep",
        text="It was not brought to where it is worked with, so dip and pour nothing. It may stay "
        "in its bowl, covered, for a new run to melt, unless it smells burnt. To take it out "
        "instead, pour it while it runs, or lift it out once it has set hard.",
    )


def _empty() -> Step:
    return Step(
        name="Empty",
        text="Pour out what is left while it is warm and runs. Scrape bowl and stirrer, and let "
        "no water into it.",
    )


def _store(kind: str) -> str:
    tempered = kind != Kind.COMPOUND
    again = (
        "It may be melted and tempered again; note each time. "
        if tempered
        else "It may be melted again; note each time. "
    )
    return (
        "Spread what is left thin on paper, let it set, pack it airtight, and keep it dark and dry "
        f"at 15 to 18 °C. Label it with kind, date, remelts and allergens. {again}"
        "What has met water or filling goes into a ganache or a cake, not back."
    )


def _set(kind: str, room: Room, *, fahrenheit: bool) -> Step:
    low, high = (shown_temperature(value, fahrenheit=fahrenheit) for value in (18.0, 21.0))
    fridge = "" if kind == Kind.COMPOUND else " A short stay in a fridge is enough for a mould."
    return Step(
        name="Set and unmould",
        # McGee, On Food and Cooking, 2004, for the room; the rest is common practice, no source.
        text=f"Dipped pieces set at {low} to {high} in 10 to 20 minutes; don't touch them before."
        f"{_too_warm(room, fahrenheit=fahrenheit)}"
        f"{fridge} Unmould once it has drawn back from the mould all round, after 20 to 40 "
        "minutes: what clings needs longer, not force.",
    )


def _too_warm(room: Room, *, fahrenheit: bool) -> str:
    """What a room does to setting that is warmer than chocolate sets in, or damper."""
    said = ""
    if room.room_c > SETS_MOST_C + SETS_SLACK_K:
        here = shown_temperature(room.room_c, fahrenheit=fahrenheit)
        said = f" At {here}, as it is here, they hardly do: find a cooler place."
    if room.humidity is not None and room.humidity > DAMP:
        dry = warming(FRIDGE_C, room.room_c, room.humidity, BAR_M).dry_from_c
        said += (
            " In this damp air whatever is cooler than "
            f"{shown_temperature(dry, fahrenheit=fahrenheit)} gets wet: cover it."
        )
    return said


def _fridge(room: Room, *, fahrenheit: bool) -> str:
    humidity = DAMP if room.humidity is None else room.humidity
    bar = warming(FRIDGE_C, room.room_c, humidity, BAR_M)
    box = warming(FRIDGE_C, room.room_c, humidity, BOX_M)
    here, dry = (
        shown_temperature(value, fahrenheit=fahrenheit) for value in (room.room_c, bar.dry_from_c)
    )
    air = f"a room of {here} at {100.0 * humidity:.0f} %"
    assumed = ", a guess, as nobody said how damp it is," if room.humidity is None else ""
    if math.isinf(bar.wait_s):
        return (
            f"In {air} water settles on all that comes out of a fridge, however long it waits, and "
            "sugar bloom follows: unwrap pieces in drier air only."
        )
    return (
        f"Leave pieces wrapped until they are at {dry}, or water settles on them and sugar bloom "
        f"follows: in {air}{assumed} {_wait(bar)} for a bar of 10 mm, "
        f"and {_wait(box)} for a packed box of 80 mm (own estimate, not published)."
    )


def _wait(found: Warming) -> str:
    return f"about {duration_text(found.wait_s)}" if found.wait_s > 0.0 else "no time"


def _clean() -> Step:
    return Step(
        name="Clean",
        text="Wipe bowl, stirrer and thermometer with paper while they are warm; the paper goes "
        "into the bin. Never pour warm chocolate, or the first wash water, down the drain: it sets "
        "there. Then wash hot, and dry all of it, and the rim of the bath, before the next batch.",
    )
