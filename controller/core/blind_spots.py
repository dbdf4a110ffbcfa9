"""What no sensor that can be fitted sees for certain: named at start, with why in the documents.

Responsible for that table, for what goes unseen where something is not fitted, and for what a run
says of both as it begins; not for what is seen (interlocks).
"""

from collections.abc import Callable

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.interlock_rows import Need
from controller.core.interlocks import INTERLOCKS
from controller.core.machine import Machine
from controller.core.state import Event, EventName


def _on_any(_machine: Machine) -> bool:
    return True


class BlindSpot(Struct, frozen=True, kw_only=True):
    """Something that may go unseen for a quarter of an hour of hold, or for good."""

    brief: str  # as a run names it at its start, several together where they are alike
    what: str
    why: str
    instead: str  # what a person can do about it
    faults: tuple[str, ...]  # the bench's words for it
    on: Callable[[Machine], bool] = _on_any  # the machines that have it


_OFF = "a thermometer that is slow, misplaced, creeps or is a little off"
_OTHER = "another chocolate or amount than said"

BLIND_SPOTS: tuple[BlindSpot, ...] = (
    BlindSpot(
        brief="water lost above the element",
        what="water that is lost while it still covers the element",
        why="the bath is held as before, and its swings grow by less than a thermometer's step",
        instead="look at the water's mark now and then",
        faults=("water-low", "water-spilled"),
    ),
    BlindSpot(
        brief="a level switch that sticks",
        what="a level switch that always says water",
        why="until water is lost it says what it should",
        instead="lift its float by hand before each batch and see it withhold heat",
        faults=("level-stuck",),
        on=lambda machine: machine.has_level,
    ),
    BlindSpot(
        brief="a lid that is off",
        what="a lid that is off",
        why="control makes up for it; the bath needs a quarter more heat, as in a draught",
        instead="look, or fit a switch under it, whose word is taken",
        faults=("lid-off",),
        on=lambda machine: not machine.has_lid,
    ),
    BlindSpot(
        brief="a heater of another power",
        what="in hold, a heater of another power than the machine file's",
        why="it only needs to be on for another share of the time",
        instead="measure its current, or write the power on its plate into the machine file",
        faults=("heater-wrong",),
        on=lambda machine: not machine.has_current,
    ),
    BlindSpot(
        brief="one of two switches welded",
        what="a switch in series that has welded while the other still opens",
        why="the heater is off as it should be",
        instead="start the next batch with a mains-live input or current: each is tested alone",
        faults=("second-switch-welded",),
        on=lambda machine: machine.has_second,
    ),
    BlindSpot(
        brief=_OFF,
        what="before any heat, a bowl's thermometer that reads too warm, or up to 8 K too cold",
        why="chocolate may be warmer or colder than a bath at room temperature",
        instead="see that it shows the room's warmth before the bath is heated",
        faults=(),
        on=lambda machine: machine.has_bowl,
    ),
    BlindSpot(
        brief="a stirrer that stands before the chocolate is soft",
        what="a stirrer that stands, before the chocolate is soft",
        why="it must not turn in solid pieces, and proves itself with its first turn",
        instead="turn it by hand, the machine unplugged",
        faults=(),
        on=lambda machine: machine.has_stirrer,
    ),
    BlindSpot(
        brief=_OFF,
        what="in hold, a thermometer that is slow, at the wall or in the other's place",
        why="bath and bowl are alike then and hardly move",
        instead="see that both stand where they belong before each batch",
        faults=("bath-probe-slow", "bowl-probe-slow", "bowl-probe-at-wall", "probes-swapped"),
    ),
    BlindSpot(
        brief=_OFF,
        what="while it cools or is seeded, for about an hour, a bowl's thermometer that creeps up",
        why="chocolate that sets warms itself, and may truly be warmer than its bath",
        instead="look: chocolate that thickens though it reads warm is colder than that",
        faults=(),
        on=lambda machine: machine.has_bowl,
    ),
    BlindSpot(
        brief=_OFF,
        what="a bowl's thermometer a few kelvin off, the fewer the better the bath warms it",
        why="a lid that is off or a draught moves the bowl as much",
        instead="hold another thermometer beside it now and then, the machine stopped",
        faults=(),
        on=lambda machine: machine.has_bowl,
    ),
    BlindSpot(
        brief=_OFF,
        what="without a stirrer, a bowl's thermometer that creeps away",
        why="in chocolate that stands the bath tells little of the bowl",
        instead="stir by hand and measure with another thermometer, the machine stopped",
        faults=(),
        on=lambda machine: machine.has_bowl and not machine.has_stirrer,
    ),
    BlindSpot(
        brief=_OTHER,
        what="another chocolate than the profile's, if nobody says so",
        why="dark, milk and white warm alike",
        instead="read the packet before you answer what is in the bowl",
        faults=(),
    ),
    BlindSpot(
        brief=_OTHER,
        what="a batch that is off by less than twice",
        why="water and bowl of a machine file are that uncertain, too",
        instead="weigh it",
        faults=("amount-wrong",),
    ),
    BlindSpot(
        brief="a set test misjudged",
        what="a set test that was misjudged",
        why="the set test is the judge",
        instead="make another one if in doubt",
        faults=("answer-wrong",),
    ),
)


# What a thermometer that is not fitted leaves unseen besides what its own rows look at.
WITHOUT_BATH = "a bowl's thermometer that stays at one value"
WITHOUT_BATH_AND_GUARD = "a bath colder than believed, a bowl's thermometer that creeps away"
WITHOUT_BOWL = (
    f"how warm the chocolate is, a bath probe less than {th.APART_K:g} K off, "
    "a bowl that takes no heat"
)


# No sensor, but told with them: with two switches in series a relay that welds costs nothing.
SECOND = "second switch"
WITHOUT_SECOND = (
    "a relay that welds shut can't be overruled, and only a cut-out keeps the bath from boiling"
)


def declared(machine: Machine) -> tuple[Event, ...]:
    """What a run begins with, few lines on a screen.

    First that no second switch is fitted; then, one event for each sensor that is not, what can't
    be seen without it; and in one event what those that are may miss.
    """
    told: list[dict[str, str | float | bool]] = []
    if not machine.has_second:
        told.append({"not_fitted": SECOND, "means": WITHOUT_SECOND})
    told += [{"not_fitted": need.value, "unseen": what} for need, what in unseen_without(machine)]
    told.append({"may_miss": ", ".join(missed_on(machine))})
    return tuple(Event(name=EventName.SIGHT_DECLARED, facts=facts) for facts in told)


def missed_on(machine: Machine) -> tuple[str, ...]:
    """What the sensors of a machine may miss, whatever is fitted, in a few words each."""
    return tuple(dict.fromkeys(spot.brief for spot in BLIND_SPOTS if spot.on(machine)))


def unseen_without(machine: Machine) -> tuple[tuple[Need, str], ...]:
    """What is not fitted on a machine, each with what therefore goes unseen."""
    missing: dict[Need, list[str]] = {}
    for row in INTERLOCKS:
        if row.needs is not None and row.sees and not row.fitted(machine):
            missing.setdefault(row.needs, []).append(row.sees)
    if not machine.has_bath:
        words = (WITHOUT_BATH,) if machine.has_guard else (WITHOUT_BATH, WITHOUT_BATH_AND_GUARD)
        missing.setdefault(Need.BATH, []).extend(words)
    if not machine.has_bowl:
        missing.setdefault(Need.BOWL, []).append(WITHOUT_BOWL)
    return tuple((need, ", ".join(sees)) for need, sees in missing.items())
