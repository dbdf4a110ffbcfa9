"""One sentence for each of the guard's causes: what was seen, and what to do now.

Responsible for words; not for deciding anything.
"""

from controller.guard.decision import Cause

UNPLUG = "Unplug the machine, find out why and mend it before you re-arm."

WORDS: dict[Cause, tuple[str, str]] = {
    Cause.NONE: ("nothing is latched", ""),
    Cause.CONTROLLER_LOST: (
        "the controller's process ended in the middle of a run",
        "Look at the batch and at the controller's log, then re-arm.",
    ),
    Cause.CONTROLLER_TRIPPED: (
        "the controller tripped and ended its run",
        "Do what the run's screen and record say for that trip, then re-arm.",
    ),
    Cause.LEASE_LAPSED: (
        "the controller fell silent for too long or too often",
        "Free the computer of other work, look at the log, then re-arm.",
    ),
    Cause.BATH_OVER_CAP: ("the bath was hotter than its limit", UNPLUG),
    Cause.GUARD_PROBE_LOST: (
        "the guard's own bath thermometer gives no value",
        "Check the plug, the wire and the place of the guard's bath thermometer, then re-arm.",
    ),
    Cause.HEATER_LIVE_WHEN_OFF: (
        "the heater is live though it is told to be off",
        "Unplug the machine now; a switch may be welded and must be replaced before you re-arm.",
    ),
    Cause.HEATER_DEAD_WHEN_ON: (
        "the heater is dead though it is told to be on",
        "Unplug; check fuse, cut-out, switches and the mains-live wire, then re-arm.",
    ),
    Cause.GUARD_RESTARTED: (
        "the guard ended while heat was permitted, and has just started again",
        "Look at the batch and at why the guard ended (a power cut?), then re-arm.",
    ),
    Cause.LATCH_UNREADABLE: (
        "the file that remembers trips can't be read or written",
        "Check the disk and the folder of the latch file, then re-arm.",
    ),
}


def words_of(cause: Cause, tripped: str = "") -> tuple[str, str]:
    """What was seen, with the controller's own word for its trip, and what to do now."""
    what, action = WORDS[cause]
    return (f"{what} ({tripped})" if tripped else what), action
