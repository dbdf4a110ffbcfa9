"""One sentence for each of the guard's causes: what was seen, and what to do now.

Responsible for words; not for deciding anything.
"""

from controller.guard.decision import Cause

REARM = "then type `bainward rearm`."

WORDS: dict[Cause, tuple[str, str]] = {
    Cause.NONE: ("nothing is latched", ""),
    Cause.CONTROLLER_LOST: (
        "the program that leads the run ended in the middle of it",
        f"Look at the batch and at that program's log, {REARM}",
    ),
    Cause.CONTROLLER_TRIPPED: (
        "a run tripped and ended",
        f"Do what the run said as it ended, and its record still says, {REARM}",
    ),
    Cause.LEASE_LAPSED: (
        "the program that leads the run fell silent for too long or too often",
        f"End other programs on the computer, look at the log, {REARM}",
    ),
    Cause.BATH_OVER_CAP: (
        "the bath was hotter than its limit",
        f"Unplug the machine, let it cool, look for a welded switch or a misplaced probe, {REARM}",
    ),
    Cause.GUARD_PROBE_LOST: (
        "the guard's own bath thermometer gives no value",
        f"Check the plug, the wire and the place of the guard's bath thermometer, {REARM}",
    ),
    Cause.HEATER_LIVE_WHEN_OFF: (
        "the heater is live though it is told to be off",
        f"Unplug the machine now and replace the switch, which may be welded, {REARM}",
    ),
    Cause.HEATER_DEAD_WHEN_ON: (
        "the heater is dead though it is told to be on",
        f"Unplug; check fuse, cut-out, switches and the mains-live wire, {REARM}",
    ),
    Cause.GUARD_RESTARTED: (
        "the guard ended while heat was permitted, and has just started again",
        f"Look at the batch and at why the guard ended (a power cut?), {REARM}",
    ),
    Cause.LATCH_UNREADABLE: (
        "the file that remembers trips can't be read or written",
        f"Check the disk and the folder of the latch file, {REARM}",
    ),
}


def words_of(cause: Cause, tripped: str = "") -> tuple[str, str]:
    """What was seen, with the controller's own word for its trip, and what to do now."""
    what, action = WORDS[cause]
    return (f"{what} ({tripped})" if tripped else what), action
