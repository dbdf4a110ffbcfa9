"""When the chocolate will be ready, as far as that can be told: the record.

Responsible for the shape only; the forecast fills it, words and link show it.
"""

import math
from enum import StrEnum

from msgspec import Struct

LIMIT_S = 6 * 3600.0  # own choice: a leg that takes longer is not worth waiting for


class Obstacle(StrEnum):
    """Why a run as it is now will not get ready."""

    NONE = "none"
    ROOM = "room"  # nothing in this room is as cold as a phase asks for
    TIME = "time"  # a phase would take longer than anybody waits


class Outlook(Struct, frozen=True, kw_only=True):
    """When the last phase will have reached its target, in run time; NaN while nobody can know.

    The truth is meant to lie from `early_s` to `late_s` eight times in ten, to come sooner once and
    later once. All three are the same once it has happened.
    """

    early_s: float = math.nan
    likely_s: float = math.nan
    late_s: float = math.nan
    obstacle: Obstacle = Obstacle.NONE
    obstacle_c: float = math.nan  # the target that is out of reach
    warned_c: float = math.nan  # the last target that was found out of reach
    room_c: float = math.nan  # the room, as the machine file says
    is_ready: bool = False
    due_s: float = -math.inf  # run time at which to look again
    seen: tuple[object, ...] = ()  # where the run stood when this was made


UNKNOWN = Outlook()
