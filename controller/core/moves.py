"""The procedural states of a run and the moves between them, as one table.

Responsible for which move is allowed from where (IEC 61512 names); not for when it is made.
"""

from enum import StrEnum

from controller.core.state import Mode


class Trigger(StrEnum):
    """What can move a run from one procedural state to the next."""

    START = "start"
    PAUSE = "pause"
    RESUME = "resume"
    STOP = "stop"
    TRIP = "trip"
    FINISH = "finish"
    SETTLE = "settle"  # a passing state has been seen for one tick


MOVES: dict[tuple[Mode, Trigger], Mode] = {
    (Mode.IDLE, Trigger.START): Mode.RUNNING,
    (Mode.IDLE, Trigger.STOP): Mode.STOPPING,
    (Mode.IDLE, Trigger.TRIP): Mode.ABORTING,
    (Mode.RUNNING, Trigger.PAUSE): Mode.PAUSING,
    (Mode.RUNNING, Trigger.STOP): Mode.STOPPING,
    (Mode.RUNNING, Trigger.TRIP): Mode.ABORTING,
    (Mode.RUNNING, Trigger.FINISH): Mode.COMPLETE,
    (Mode.PAUSING, Trigger.SETTLE): Mode.PAUSED,
    (Mode.PAUSING, Trigger.STOP): Mode.STOPPING,
    (Mode.PAUSING, Trigger.TRIP): Mode.ABORTING,
    (Mode.PAUSED, Trigger.RESUME): Mode.RESUMING,
    (Mode.PAUSED, Trigger.STOP): Mode.STOPPING,
    (Mode.PAUSED, Trigger.TRIP): Mode.ABORTING,
    (Mode.RESUMING, Trigger.SETTLE): Mode.RUNNING,
    (Mode.RESUMING, Trigger.PAUSE): Mode.PAUSING,
    (Mode.RESUMING, Trigger.STOP): Mode.STOPPING,
    (Mode.RESUMING, Trigger.TRIP): Mode.ABORTING,
    (Mode.STOPPING, Trigger.STOP): Mode.STOPPING,
    (Mode.STOPPING, Trigger.SETTLE): Mode.STOPPED,
    (Mode.STOPPING, Trigger.TRIP): Mode.ABORTING,
    (Mode.ABORTING, Trigger.STOP): Mode.ABORTING,  # a stop is never refused before the end
    (Mode.ABORTING, Trigger.SETTLE): Mode.ABORTED,
}


def move(mode: Mode, trigger: Trigger) -> Mode | None:
    """The next procedural state, or None where the table has no such move."""
    return MOVES.get((mode, trigger))


def diagram() -> str:
    """The table as a Mermaid state diagram, for the documents."""
    lines = ["stateDiagram-v2", f"    [*] --> {Mode.IDLE}"]
    lines += [f"    {old} --> {new}: {trigger}" for (old, trigger), new in MOVES.items()]
    return "\n".join(lines)
