"""What no sensor that can be fitted sees for certain, and why: said at start and in the documents.

Responsible for that table and for what goes unseen where something is not fitted; not for what is
seen (interlocks).
"""

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.interlock_rows import Need
from controller.core.interlocks import INTERLOCKS
from controller.core.machine import Machine
from controller.core.state import Event, EventName


class BlindSpot(Struct, frozen=True, kw_only=True):
    """Something that may go unseen for a quarter of an hour of hold, or for good."""

    what: str
    why: str
    instead: str  # what a person can do about it
    faults: tuple[str, ...]  # the bench's words for it


BLIND_SPOTS: tuple[BlindSpot, ...] = (
    BlindSpot(
        what="water that is lost while it still covers the element",
        why="the bath is held as before, and its swings grow by less than a thermometer's step",
        instead="look at the water's mark now and then",
        faults=("water-low", "water-spilled"),
    ),
    BlindSpot(
        what="a level switch that always says water",
        why="until water is lost it says what it should",
        instead="lift its float by hand before each batch and see it withhold heat",
        faults=("level-stuck",),
    ),
    BlindSpot(
        what="a lid that is off",
        why="control makes up for it; the bath needs a quarter more heat, as in a draught",
        instead="look, or fit a switch under it, whose word is taken",
        faults=("lid-off",),
    ),
    BlindSpot(
        what="in hold, a heater of another power than the machine file's",
        why="it only needs to be on for another share of the time",
        instead="measure its current, or write the power on its plate into the machine file",
        faults=("heater-wrong",),
    ),
    BlindSpot(
        what="a switch in series that has welded while the other still opens",
        why="the heater is off as it should be",
        instead="start the next batch with a mains-live input or current: each is tested alone",
        faults=("second-switch-welded",),
    ),
    BlindSpot(
        what="a bowl's thermometer that is off by less than 8 K before any heat",
        why="chocolate may be colder than a bath at room temperature",
        instead="see that it shows the room's warmth before the bath is heated",
        faults=(),
    ),
    BlindSpot(
        what="a stirrer that stands, before the chocolate is soft",
        why="it must not turn in solid pieces, and proves itself with its first turn",
        instead="turn it by hand, the machine unplugged",
        faults=(),
    ),
    BlindSpot(
        what="in hold, a thermometer that is slow, at the wall or in the other's place",
        why="bath and bowl are alike then and hardly move",
        instead="see that both stand where they belong before each batch",
        faults=("bath-probe-slow", "bowl-probe-slow", "bowl-probe-at-wall", "probes-swapped"),
    ),
    BlindSpot(
        what="while it cools or is seeded, for about an hour, a bowl's thermometer that creeps up",
        why="chocolate that sets warms itself, and may truly be warmer than its bath",
        instead="look: chocolate that thickens though it reads warm is colder than that",
        faults=(),
    ),
    BlindSpot(
        what="a bowl's thermometer a few kelvin off, the fewer the better the bath warms it",
        why="a lid that is off or a draught moves the bowl as much",
        instead="hold another thermometer beside it now and then, the machine stopped",
        faults=(),
    ),
    BlindSpot(
        what="without a stirrer, a bowl's thermometer that creeps away",
        why="in chocolate that stands the bath tells little of the bowl",
        instead="stir by hand and measure with another thermometer, the machine stopped",
        faults=(),
    ),
    BlindSpot(
        what="another chocolate than the profile's, if nobody says so",
        why="dark, milk and white warm alike",
        instead="read the packet before you answer what is in the bowl",
        faults=(),
    ),
    BlindSpot(
        what="a batch that is off by less than twice",
        why="water and bowl of a machine file are that uncertain, too",
        instead="weigh it",
        faults=("amount-wrong",),
    ),
    BlindSpot(
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


def declared(machine: Machine) -> tuple[Event, ...]:
    """What a run begins with: what can't be seen on this machine, one event for each sensor."""
    return tuple(
        Event(name=EventName.SIGHT_DECLARED, facts={"not_fitted": need.value, "unseen": what})
        for need, what in unseen_without(machine)
    )


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
