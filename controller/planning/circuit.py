"""The machine's circuit and its parts by kind, as tables from which drawings and lists are made.

Responsible for what is in series with what, what each wall is for and what to look for in it; not
for sizes (parts), nor for wires and fuses, which local codes and licensed people choose. It names
kinds, never a make. Informed by IEC 60335-1 and IEC 60730-1, whose texts we have not read
first-hand; else common practice, no source.
"""

from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple


class Need(StrEnum):
    """How much a part is needed."""

    MUST = "must"
    WISE = "wise"  # without it something can't be seen, as `bainward check` says


class Part(NamedTuple):
    """One kind of part."""

    node: str  # its name in the drawings
    how_many: str
    look_for: str
    danger: str  # that it stands against, or that it is
    need: Need = Need.MUST


# In the order in which current passes from the socket to the element: each opens the circuit alone.
MAINS = (
    Part(
        "residual-current device",
        "1",
        "30 mA or less, with its test button in reach; press it before first use and now and then",
        "shock",
    ),
    Part(
        "fuse",
        "1",
        "by your code, for the current that `bainward parts` names and the wire behind it",
        "fire",
    ),
    Part(
        "double-pole switch",
        "1",
        "opens both poles, marked on and off, in reach with the lid open; the plug stays in reach, "
        "too",
        "shock",
    ),
    Part(
        "thermal cut-out",
        "1",
        "on the tank, reset by hand only, at the temperature that `bainward parts` names",
        "scald, boiling",
    ),
    Part(
        "first switch",
        "1",
        "as `bainward parts` says, on a heat sink if solid-state; off without a signal",
        "a switch that sticks",
    ),
    Part(
        "second switch",
        "1",
        "of another kind than the first, with a line of its own from the guard",
        "a switch that sticks",
    ),
    Part(
        "thermal fuse",
        "1",
        "on the element itself, so near that a dry one melts it; replaced, never bridged",
        "fire, a dry element",
    ),
)
ELEMENT = Part(
    "heating element",
    "1",
    "of the power that `bainward parts` names, earthed, under water by its own height and more",
    "fire",
)
LOW = (
    Part("board", "1", "runs Linux, with lines that fall to off at its reset", "heat that stays"),
    Part(
        "low-voltage supply",
        "1",
        "isolated from the mains (safety extra-low voltage), for board, probes and stirrer",
        "shock",
    ),
    Part(
        "resistors that pull to off",
        "1 a line",
        "at each switch's input and the stirrer's, so that a dead or unplugged board means off",
        "heat that stays",
    ),
    Part(
        "thermometers",
        "3",
        "bowl, bath and the guard's own, of a class that `bainward parts` finds fit; fit for food "
        "where they touch it",
        "a probe that lies",
    ),
    Part(
        "stirrer",
        "1",
        "geared low-voltage motor that a hand can stop",
        "entanglement",
    ),
    Part(
        "stop button",
        "1",
        "latches, and breaks the supply of both switches' inputs and of the stirrer by itself; to "
        "be seen by the board besides",
        "whatever went wrong",
    ),
    Part(
        "lid switch",
        "1",
        "breaks the stirrer's supply by itself; to be seen by the board besides",
        "entanglement",
    ),
    Part(
        "level switch",
        "1",
        "closed while water covers the element; breaks the supply of both switches' inputs by "
        "itself; to be seen by the board besides",
        "a dry element",
        Need.WISE,
    ),
    Part(
        "mains-live detector",
        "1",
        "isolated, across the element, to a line of the guard",
        "a switch that sticks",
        Need.WISE,
    ),
    Part(
        "current transformer",
        "1",
        "around the element's wire, to a chip that the kernel's hwmon knows",
        "an element that is dead or wrong",
        Need.WISE,
    ),
    Part(
        "shaft pulses, motor current",
        "1 each",
        "pulses of the shaft, and the motor's current on a chip of hwmon",
        "a stirrer that stands; temper unseen",
        Need.WISE,
    ),
)
BILL = (*MAINS, ELEMENT, *LOW)

# What the low-voltage side joins: from, to, and what passes. Names are those of the parts.
SIGNALS = (
    ("guard's program", "first switch", "on when high, pulled to off"),
    ("guard's program", "second switch", "a line of its own, pulled to off"),
    ("guard's own thermometer", "guard's program", "bath"),
    ("mains-live detector", "guard's program", "seen behind both switches"),
    ("run's program", "guard's program", "asks for heat, each second anew"),
    ("bath and bowl thermometers", "run's program", "two more of their own"),
    ("lid, stop, level, shaft, load", "run's program", "seen"),
    ("run's program", "stirrer", "on when high, pulled to off"),
    ("lid switch", "stirrer", "breaks its supply by itself"),
    ("stop button", "stirrer", "breaks its supply by itself"),
    ("stop button", "supply of both switches' inputs", "breaks it by itself"),
    ("level switch", "supply of both switches' inputs", "breaks it by itself"),
    ("supply of both switches' inputs", "first switch", "feeds"),
    ("supply of both switches' inputs", "second switch", "feeds"),
)


def mains_drawing() -> str:
    """The circuit of the element as a Mermaid flow chart."""
    names = ["socket", *(part.node for part in MAINS), ELEMENT.node, "back through both poles"]
    lines = ["flowchart LR"]
    lines += [f'    m{index}["{name}"]' for index, name in enumerate(names)]
    lines += [f"    m{index} --> m{index + 1}" for index in range(len(names) - 1)]
    earth = len(names) - 2
    lines += [f'    m{earth} -.- earth["earth: tank, element, every metal part"]']
    return "\n".join(lines)


def signal_drawing() -> str:
    """What the low-voltage side joins, as a Mermaid flow chart."""
    names = tuple(dict.fromkeys(name for one, two, _ in SIGNALS for name in (one, two)))
    lines = ["flowchart LR"]
    lines += [f'    s{index}["{name}"]' for index, name in enumerate(names)]
    lines += [
        f"    s{names.index(one)} -->|{what}| s{names.index(two)}" for one, two, what in SIGNALS
    ]
    return "\n".join(lines)


def bill_table() -> str:
    """The parts by kind, as a table in Markdown."""
    lines = ["| part | how many | look for | against | |", "|---|---|---|---|---|"]
    lines += [
        f"| {part.node} | {part.how_many} | {part.look_for} | {part.danger} | {part.need} |"
        for part in BILL
    ]
    return "\n".join(lines)


def bill_lines() -> Iterator[str]:
    """The parts by kind, as sentences."""
    for part in BILL:
        look = part.look_for.replace("`", "")
        yield f"{part.node} ({part.how_many}, {part.need}): {look}. Against: {part.danger}."
