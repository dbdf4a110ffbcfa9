"""The table of the self-watch: what makes a run refuse to start, and what it only warns of.

Responsible for the limits of memory, threads, lateness, disk and clock; not for reading them
(wiring) or for late ticks and clocks that part, which withhold heat (interlocks). Limits are own
engineering values, not published. A run that goes on is never ended by a row of this table: heat
depends on ticks and guard, and a batch is not lost for want of a record.
"""

from collections.abc import Callable

from msgspec import Struct

from controller.core.interlock_rows import Cause, Interlock, Priority, in_words, never
from controller.core.vitals import Vitals

GROWN_MOST_MB = 64.0  # a run holds some 50 MB in all, and grows by a few
LEFT_TO_START_MB = 64.0
LEFT_LEAST_MB = 16.0
THREADS_MOST = 32  # a run has about five
DISK_TO_START_MB = 50.0  # a day's record at 0.25 Hz is 40 MB or so
DISK_LEAST_MB = 5.0
JUMP_MOST_S = 2.0  # what a time server corrects by slewing is far less
LATE_TO_START_S = 0.5
SILENT_MOST_S = 60.0  # six looks

Check = Callable[[Vitals], bool]


class SelfRow(Struct, frozen=True, kw_only=True):
    """One row: a run that is not shown sound `to_start` is refused, or warned `in_run`."""

    cause: Cause
    to_start: Check | None = None
    in_run: Check | None = None
    what: Callable[[Vitals], str]
    action: str
    compares: str
    start_limit: str = ""  # for people
    run_limit: str = ""
    priority: Priority = Priority.LOW

    def says(self, vitals: Vitals) -> str:
        """What was seen, as one sentence, whatever of it has no number."""
        return in_words(self.what(vitals))


# What a person calls the parts that a run can't do without, by their threads' names.
_PARTS = {"journal": "what writes the record", "link": "what talks to the broker"}


def _part(name: str) -> str:
    return _PARTS.get(name, f"what reads the thermometers of {name.removeprefix('bus ')}")


_ANEW = (
    "Let the run end, then start the program anew; keep the record and the log "
    "(`journalctl -u 'bainward*'`) for whoever mends it."
)

SELF_ROWS: tuple[SelfRow, ...] = (
    SelfRow(
        cause=Cause.MEMORY_SHORT,
        to_start=lambda v: v.memory_left_mb >= LEFT_TO_START_MB,
        in_run=lambda v: v.memory_left_mb >= LEFT_LEAST_MB,
        what=lambda v: f"The computer has {v.memory_left_mb:.0f} MB of memory left.",
        action="End other programs on this computer, or restart it between two runs.",
        compares="the computer's free memory",
        start_limit=f"under {LEFT_TO_START_MB:g} MB",
        run_limit=f"under {LEFT_LEAST_MB:g} MB",
        priority=Priority.MEDIUM,
    ),
    SelfRow(
        cause=Cause.MEMORY_GROWING,
        in_run=lambda v: v.memory_grown_mb <= GROWN_MOST_MB,
        what=lambda v: f"This program holds {v.memory_grown_mb:.0f} MB more than as it began.",
        action=_ANEW,
        compares="what this program holds with ten minutes after its start",
        run_limit=f"over {GROWN_MOST_MB:g} MB more",
    ),
    SelfRow(
        cause=Cause.PART_ENDED,
        in_run=lambda v: not v.ended,
        what=lambda v: f"A part of this program has ended: {', '.join(map(_part, v.ended))}.",
        action=(
            "Stay with the machine until the run ends; keep the record and the log "
            "(`journalctl -u 'bainward*'`) for whoever mends it."
        ),
        compares="the parts of this program with those of its start",
        run_limit="one less",
        priority=Priority.MEDIUM,
    ),
    SelfRow(
        cause=Cause.PARTS_PILING_UP,
        in_run=lambda v: v.threads <= THREADS_MOST,
        what=lambda v: f"This program does {v.threads} things at once, where a handful is usual.",
        action=_ANEW,
        compares="how many things this program does at once",
        run_limit=f"over {THREADS_MOST}",
    ),
    SelfRow(
        cause=Cause.COMPUTER_BUSY,
        to_start=lambda v: v.late_s <= LATE_TO_START_S,
        what=lambda v: f"The computer is so busy that a short wait took {v.late_s:.1f} s too long.",
        action="End other programs on this computer, then start again.",
        compares="a wait of 50 ms with the clock",
        start_limit=f"over {LATE_TO_START_S:g} s late",
    ),
    SelfRow(
        cause=Cause.DISK_FULL,
        to_start=lambda v: v.disk_left_mb >= DISK_TO_START_MB,
        in_run=lambda v: v.disk_left_mb >= DISK_LEAST_MB,
        what=lambda v: f"The disk of the record has {v.disk_left_mb:.0f} MB left.",
        action="Delete or move old records; a new run may use another folder with --journal-dir.",
        compares="the space left for the record",
        start_limit=f"under {DISK_TO_START_MB:g} MB",
        run_limit=f"under {DISK_LEAST_MB:g} MB",
    ),
    SelfRow(
        cause=Cause.RECORD_BROKEN_OFF,
        in_run=lambda v: not v.record_fault,
        what=lambda v: f"The record is no longer written ({v.record_fault}).",
        action="Note times and temperatures by hand; see to the disk once the run has ended.",
        compares="whether the record is written",
        run_limit="it is not",
        priority=Priority.MEDIUM,
    ),
    SelfRow(
        cause=Cause.CLOCK_JUMPED,
        in_run=lambda v: -JUMP_MOST_S <= v.clock_jump_s <= JUMP_MOST_S,
        what=lambda v: f"The computer's time of day was set by {v.clock_jump_s:.0f} s.",
        action="The run does not need it; see that the hour the computer shows is right.",
        compares="the time of day with the seconds since boot",
        run_limit=f"{JUMP_MOST_S:g} s within 10 s",
    ),
    SelfRow(
        cause=Cause.SELF_WATCH_SILENT,
        in_run=lambda v: 0.0 <= v.age_s <= SILENT_MOST_S,
        what=lambda v: f"For {v.age_s:.0f} s nothing has looked after the computer itself.",
        action=(
            "A disk may hang: stay with the machine; after the run look at the log "
            "(`journalctl -k`), and restart the computer."
        ),
        compares="the age of the last look at the computer",
        run_limit=f"over {SILENT_MOST_S:g} s",
        priority=Priority.MEDIUM,
    ),
)


def refusals(vitals: Vitals) -> tuple[SelfRow, ...]:
    """The rows for which no run may start now."""
    return tuple(row for row in SELF_ROWS if row.to_start is not None and not row.to_start(vitals))


def _warning(row: SelfRow, in_run: Check) -> Interlock:
    """A row as the interlocks know it: advice, and where nobody looks, as on a bench, nothing."""
    return Interlock(
        cause=row.cause,
        advice=True,
        safe=lambda e: e.vitals is None or in_run(e.vitals),
        trip_after_s=never,
        what=lambda e: row.what(e.vitals) if e.vitals is not None else "",
        action=row.action,
        compares=row.compares,
        limit=row.run_limit,
        priority=row.priority,
    )


WARNINGS: tuple[Interlock, ...] = tuple(
    _warning(row, row.in_run) for row in SELF_ROWS if row.in_run is not None
)
