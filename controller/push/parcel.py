"""What came of one try to hand a message over.

Responsible for the shape; the ways of sending give it, the errand acts on it.
"""

from dataclasses import dataclass
from enum import Enum


class Outcome(Enum):
    """What became of it."""

    TAKEN = "taken"
    LATER = "later"  # nobody there, or too busy: the same again
    WRONG = "wrong"  # the service doesn't want us: the same again, but a person must see to it
    NEVER = "never"  # the service will never take this one


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Outcome, and a sentence's part that says why."""

    outcome: Outcome
    why: str = ""
    wait_s: float = 0.0  # the least that the service asks us to wait


TAKEN = Answer(outcome=Outcome.TAKEN)
