"""Tables of the documents, drawn from the code that they describe.

Responsible for the text that a document must hold; not for checking it. Print it with
`python -m tests.helpers.docs`.
"""

import sys

from controller.core.interlocks import INTERLOCKS, Cause
from controller.guard.decision import Cause as GuardCause
from controller.guard.words import WORDS


def interlock_table() -> str:
    """Every cause for which the controller trips, and what a person does about it."""
    actions: dict[Cause, str] = {}
    for row in INTERLOCKS:
        actions[row.cause] = row.action  # the last row of a cause is the one that trips
    lines = ["| cause | what to do |", "|---|---|"]
    lines += [f"| `{cause}` | {action} |" for cause, action in actions.items()]
    return "\n".join(lines)


def guard_table() -> str:
    """Every cause that the guard latches."""
    lines = ["| cause | what was seen | what to do |", "|---|---|---|"]
    lines += [
        f"| `{cause}` | {WORDS[cause][0]} | {WORDS[cause][1]} |"
        for cause in GuardCause
        if cause is not GuardCause.NONE
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(f"{interlock_table()}\n\n{guard_table()}\n")
