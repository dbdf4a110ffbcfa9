"""What a run advises beside its questions: the record.

Responsible for the shape; not for what is advised (advising, leaving).
"""

import math
from enum import StrEnum

from msgspec import Struct

from controller.core.actions import Act, Action, Ending


class Matter(StrEnum):
    """What advice is about."""

    NONE = "none"
    RESCUE = "rescue"  # out of temper
    TOP_UP = "top-up"  # it thickens, and warmth is spent
    WATER = "water"  # or something in the stirrer's way


class Advice(Struct, frozen=True, kw_only=True):
    """What is advised, and what is being thought through for it, an action a tick."""

    matter: Matter = Matter.NONE
    text: str = ""
    at_s: float = -math.inf  # run time at which it was said
    began_s: float = -math.inf  # and from which it was thought about
    left: tuple[Action, ...] = ()  # still to be fast-forwarded
    found: tuple[Ending, ...] = ()
    act: Act | None = None  # of the rescue that is advised
    seen: object = None  # the estimate of temper that was looked at
    told: tuple[Matter, Act | None] = (Matter.NONE, None)  # what people were last told of,
    told_s: float = -math.inf  # and when, which outlasts that all seems well in between
    leave: str = ""  # the answer to whoever asked whether it may be left


SILENT = Advice()
