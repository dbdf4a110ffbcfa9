"""What the link shows of parts that not every machine has: load, lid, stop button.

Responsible for these rows of the tree, and for which of them a machine has; not for the others
(tree).
"""

from collections.abc import Mapping
from enum import StrEnum, auto
from functools import partial

from controller.core.switches import ACTIVE, is_known
from controller.link.homie import Datatype, Property, Rhythm, boolean, number
from controller.ports import Moment

_EACH_S = Rhythm(gap_s=1.0)  # own engineering value, not published: a lid may rattle
_boolean = partial(Property, datatype=Datatype.BOOLEAN)


class Fitted(StrEnum):
    """Parts that are shown where they are fitted."""

    LOAD = auto()
    LID = auto()
    STOP = auto()


EVERY_PART = frozenset(Fitted)


def fitted_in(moment: Moment) -> frozenset[Fitted]:
    """Which of them the machine has, by one of its ticks."""
    has = {
        Fitted.LOAD: moment.load_w is not None,
        Fitted.LID: moment.lid is not None,
        Fitted.STOP: moment.has_stop,
    }
    return frozenset(part for part, is_there in has.items() if is_there)


def _load(moment: Moment) -> str | None:
    return None if moment.load_w is None else number(moment.load_w, 2)


def _lid(moment: Moment) -> str | None:
    """Whether it is off; None while its switch says nothing."""
    lid = moment.lid
    return boolean(lid.value < ACTIVE) if lid is not None and is_known(lid) else None


def _pressed(moment: Moment) -> str | None:
    """Whether it was pressed, be it for less than a tick: the run is over for good then."""
    return boolean(moment.state.switches.is_pressed) if moment.has_stop else None


FITTED_ROWS: Mapping[Fitted, Property] = {
    Fitted.LOAD: Property(
        path="stirrer/load",
        name="Stirrer load at the shaft",
        datatype=Datatype.FLOAT,
        unit="W",
        rhythm=_EACH_S,
        value=_load,
    ),
    Fitted.LID: _boolean(
        path="lid/open", name="Lid off, as its switch says", rhythm=_EACH_S, value=_lid
    ),
    Fitted.STOP: _boolean(
        path="stop/pressed", name="Stop button pressed, in this run", value=_pressed
    ),
}
