"""One sentence for each of the guard's causes: what was seen, and what to do now.

Responsible for words; not for deciding anything.
"""

import shlex
from pathlib import Path

from controller.guard.decision import Cause

END = "Then end any run"  # which is not re-armed while it goes on
REARM = f"{END} and type `bainward rearm --machine FILE`."

WORDS: dict[Cause, tuple[str, str]] = {
    Cause.NONE: ("nothing is latched", ""),
    Cause.CONTROLLER_LOST: (
        "the program that leads the run ended in the middle of it",
        f"Look at the batch and the log (`journalctl -u 'bainward*'`). {REARM}",
    ),
    Cause.CONTROLLER_TRIPPED: (
        "a run tripped",
        f"Do what the run said (`bainward alarms` says it, too). {REARM}",
    ),
    Cause.LEASE_LAPSED: (
        "the program that leads the run fell silent for too long or too often",
        f"End other programs on the computer. {REARM}",
    ),
    Cause.BATH_OVER_CAP: (
        "the bath was hotter than its limit",
        f"Unplug; let the bath cool; look for a dry bath, stuck switch or moved probe. {REARM}",
    ),
    Cause.GUARD_PROBE_LOST: (
        "the guard's own bath thermometer gives no value",
        (
            "Unplug; check plug, wire and place of the guard's bath thermometer; replace it if "
            f"that does not help. {REARM}"
        ),
    ),
    Cause.HEATER_LIVE_WHEN_OFF: (
        "the heater is live though it is told to be off",
        (
            "Unplug now: a switch is stuck closed, or the mains-live input is: find which, and "
            f"replace it before it heats. {REARM}"
        ),
    ),
    Cause.HEATER_DEAD_WHEN_ON: (
        "the heater is dead though it is told to be on",
        (
            "Unplug; check plug, fuse, switches, the mains-live input's wire; has the cut-out "
            f"tripped, find what overheated. {REARM}"
        ),
    ),
    Cause.GUARD_RESTARTED: (
        "the guard ended while heat was permitted, and has just started again",
        f"Look at the batch and at why the guard ended (a power cut?). {REARM}",
    ),
    Cause.LATCH_UNREADABLE: (
        "the file that remembers trips can't be read or written",
        f"Free or mend the disk of the latch file (`latch` under [guard]). {REARM}",
    ),
}


def of_file(action: str, path: Path) -> str:
    """The same with the machine file's own place where it says FILE."""
    return action.replace("FILE", shlex.quote(str(path)))


def words_of(cause: Cause, tripped: str = "") -> tuple[str, str]:
    """What was seen, with the controller's own word for its trip, and what to do now."""
    what, action = WORDS[cause]
    return (f"{what} ({tripped})" if tripped else what), action
