"""Where a step is taken: the machine, its file of proofs, clocks, and the person who is there.

Responsible for reading and keeping what was shown; not for any step.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from msgspec.structs import replace

from controller.book.pen import refuse_unwritable
from controller.clock import Clock
from controller.commissioning.person import Person
from controller.commissioning.proof_file import (
    change_proofs,
    done_now,
    proofs_path,
    read_proofs,
    with_step,
)
from controller.commissioning.proofs import (
    Done,
    Lack,
    Proofs,
    Step,
    age_of,
    is_here,
    lacking,
    made_of,
    needed_before,
    steps_of,
)
from controller.errors import UnprovenError, UsageError
from controller.files.machine_file import MachineFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A real machine that is being commissioned."""

    machine_file: MachineFile
    path: Path  # of the machine file
    clock: Clock
    now: Callable[[], datetime]  # the time of day, UTC
    person: Person
    computer: str  # which one this is

    @property
    def name(self) -> str:
        """The machine's name."""
        return self.machine_file.machine.name

    def read(self) -> Proofs:
        """What was shown so far."""
        return read_proofs(self.path, self.name)

    def keep(self, change: Callable[[Proofs], Proofs]) -> Proofs:
        """Change what was shown."""
        return change_proofs(self.path, self.name, change)

    def parts(self, step: Step) -> dict[str, Done]:
        """What a step that was broken off has shown of these very parts here, by their words."""
        of = made_of(step, self.machine_file)
        return {
            word.removeprefix(f"{step}/"): done
            for word, done in self.read().parts.items()
            if word.startswith(f"{step}/")
            and done.of == of
            and is_here(done, self.machine_file, step, self.computer)
        }

    def part(self, step: Step, word: str, facts: dict[str, str]) -> None:
        """Keep a part of a step, so that it goes on there when it is broken off."""
        done = self.shown(step, facts)
        self.keep(lambda old: replace(old, parts={**old.parts, f"{step}/{word}": done}))

    def done(self, step: Step, facts: dict[str, str]) -> None:
        """Date a step as shown."""
        self.keep(with_step(step, self.machine_file, self.now(), facts, on=self.computer))

    def shown(self, step: Step, facts: dict[str, str]) -> Done:
        """A step, or a part of one, that is shown now."""
        return done_now(step, self.machine_file, self.now(), facts, on=self.computer)

    def age_s(self, done: Done) -> float:
        """How long ago something was shown, s."""
        return age_of(done.done_utc, self.now()).total_seconds()

    def lacks(self, needed: tuple[Step, ...]) -> tuple[Lack, ...]:
        """What of that is missing, too old, of other parts or elsewhere."""
        proofs, now = self.read(), self.now()
        return lacking(proofs, self.machine_file, now, needed, self.path, on=self.computer)

    def begin(self, step: Step) -> None:
        """See that the steps before this one were taken, and that this one can be kept.

        Raises:
            AccessError: the proofs can't be written.
            UsageError: this machine has no such step.
            UnprovenError: one is missing or too old; the sentence says which to take.
        """
        if step not in steps_of(self.machine_file):
            raise UsageError(
                f"Machine {self.name} has nothing to {step}: it does without what that is of."
            )
        found = self.lacks(needed_before(self.machine_file, step))
        if found:
            raise UnprovenError(f"{found[0].why}; do this first: `{found[0].command}`.")
        refuse_unwritable(proofs_path(self.path))
