"""Whether a tick went through all its steps, each once and in order, before a watchdog is fed.

Responsible for counting steps; not for what they do. Informed by the control of program sequence
in IEC 60730-1 Annex H; its text was not read first-hand.
"""

from enum import StrEnum


class Step(StrEnum):
    """The steps of one tick, in their order."""

    READ = "read"
    JUDGE = "judge"
    ADVANCE = "advance"
    REGULATE = "regulate"
    COMMAND = "command"
    DRIVE = "drive"
    RECORD = "record"


ORDER = tuple(Step)
_UP_TO: dict[str, list[str]] = {
    step: [str(one) for one in ORDER[:number]] for number, step in enumerate(ORDER, 1)
}


class TickOrder:
    """Marks that the steps of a tick leave behind.

    A step left out, repeated or out of turn spoils the tick: nothing later in it makes it good.
    """

    def __init__(self) -> None:
        """No tick has begun, so nothing is complete."""
        self._marks: list[str] = ["before the first tick"]
        # Notes that a step is done. Straight through: it is called for each step of each tick.
        self.mark = self._marks.append

    def begin(self) -> None:
        """A new tick begins; whatever the last one was is forgotten."""
        self._marks.clear()

    def is_good_through(self, step: Step) -> bool:
        """Whether all steps up to `step` came, and none else: ask before `step`'s follower."""
        return self._marks == _UP_TO[step]

    @property
    def complete(self) -> bool:
        """Whether the whole tick came, each step once and in order."""
        return self.is_good_through(ORDER[-1])
