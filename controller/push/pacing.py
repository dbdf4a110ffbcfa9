"""Which message may go now: quiet hours, and how many in a while.

Responsible for the choice, as pure functions; not for keeping (spool) or sending.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time

from controller.core.interlock_rows import Priority
from controller.push.message import Waiting
from controller.push.settings import Kind, PushSettings
from controller.push.telling import Facts

# Own engineering values, not published.
WINDOW_S = 600.0
MOST_PRESSING = 30  # alarms of high priority in that time, whatever `most` says
TOO_OLD_S = 24 * 3600.0  # what couldn't be told for so long is told only while it is still so
LATE_S = 120.0  # what is told later than this says so
FIRST_PAUSE_S, LONGEST_PAUSE_S = 2.0, 300.0  # between two tries of a service that is away
_S_PER_MIN = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What to do with the messages that wait."""

    send: Waiting | None = None
    hold: tuple[int, ...] = ()  # numbers that quiet hours keep back from now on
    over: tuple[tuple[int, str], ...] = ()  # numbers that are told no more, and why


def choose(
    waiting: Sequence[Waiting],
    settings: PushSettings,
    facts: Facts,
    *,
    now_s: float,
    local: time,
    sent: tuple[int, int],
) -> Choice:
    """The next message to send, and what becomes of the others.

    `now_s` is since the epoch, `local` the hour on the wall; `sent` says how many of high
    priority, and others, went within the window.
    """
    is_quiet = settings.quiet is not None and settings.quiet.holds(local)
    over = tuple(
        (one.number, why) for one in waiting if (why := _is_over(one, facts, now_s, quiet=is_quiet))
    )
    left = [one for one in waiting if one.number not in dict(over)]
    held = [one for one in left if is_quiet and not is_pressing(one)]
    free = [one for one in left if one not in held]
    pressing, others = sent
    allowed = (
        one
        for one in free
        if (pressing < MOST_PRESSING if is_pressing(one) else others < settings.most)
    )
    return Choice(
        send=next(allowed, None),
        hold=tuple(one.number for one in held if not one.is_held),
        over=over,
    )


def is_pressing(one: Waiting) -> bool:
    """Whether it breaks through quiet hours and limits."""
    return one.message.kind is Kind.ALARM and one.message.priority is Priority.HIGH


def _is_over(one: Waiting, facts: Facts, now_s: float, *, quiet: bool) -> str:
    """Why it is told no more; empty where it is.

    Nobody wants to be asked in the morning what was answered at night. Age alone is no reason: a
    board without a battery for its clock may believe that it is years later.
    """
    is_settled = facts.get(one.message.about, "") != one.message.value
    is_late = (one.is_held and not quiet) or now_s - one.at_s > TOO_OLD_S
    return "settled" if is_settled and is_late else ""


def aged(one: Waiting, now_s: float) -> str:
    """The text as it is sent now: what comes late says by how much."""
    late_s = now_s - one.at_s
    if late_s < LATE_S:
        return one.message.text
    ago = f"{late_s / _S_PER_MIN:.0f} min" if late_s < TOO_OLD_S else "a day or more"
    return f"{one.message.text} (This was {ago} ago.)"


def next_pause_s(pause_s: float) -> float:
    """How long to wait after one more try in vain."""
    return min(max(FIRST_PAUSE_S, 2.0 * pause_s), LONGEST_PAUSE_S)
