"""Tables of the documents, drawn from the code that they describe.

Responsible for the text that a document must hold; not for checking it. Print it with
`python -m tests.helpers.docs`.
"""

import math
import sys

from controller.core.blind_spots import BLIND_SPOTS
from controller.core.interlock_rows import Effect, Interlock, probe_wait
from controller.core.interlocks import INTERLOCKS
from controller.core.self_rows import SELF_ROWS, WARNINGS
from controller.guard.decision import Cause as GuardCause
from controller.guard.resets import RULES
from controller.guard.words import WORDS
from controller.link.fitted_rows import EVERY_PART
from controller.link.homie import Rhythm
from controller.link.tree import tree
from tests.helpers.scene import profile


def interlock_table() -> str:
    """Every row of the interlocks: what it compares, what follows, what a person does about it."""
    lines = [
        "| cause | compares | limit | trips after | priority | needs | what to do |",
        "|---|---|---|---|---|---|---|",
    ]
    lines += [
        f"| `{row.cause}` | {row.compares} | {row.limit} | {_delay(row)} | {row.priority} "
        f"| {row.needs or ''} | {row.action} |"
        for row in INTERLOCKS
        if row not in WARNINGS  # a table of their own
    ]
    return "\n".join(lines)


def _delay(row: Interlock) -> str:
    """When a row trips, in words."""
    if row.effect is Effect.ADVICE:
        return "never: advice"
    if row.effect is Effect.INHIBIT:
        return "never: heat is withheld"
    if row.trip_after_s is probe_wait:
        return "the profile's wait"
    wait_s = row.trip_after_s(profile())
    return f"{wait_s:g} s" if wait_s else "at once"


def blind_table() -> str:
    """What no sensor that can be fitted sees for certain."""
    lines = ["| what | why | what to do about it |", "|---|---|---|"]
    lines += [f"| {spot.what} | {spot.why} | {spot.instead} |" for spot in BLIND_SPOTS]
    return "\n".join(lines)


def self_table() -> str:
    """What makes a run refuse to start, and what it only warns of."""
    lines = [
        "| cause | what is looked at | no run starts | a run warns | priority | what to do |",
        "|---|---|---|---|---|---|",
    ]
    lines += [
        f"| `{row.cause}` | {row.compares} | {row.start_limit or 'never'} "
        f"| {row.run_limit or 'never'} | {row.priority} | {row.action} |"
        for row in SELF_ROWS
    ]
    return "\n".join(lines)


def topic_table() -> str:
    """Every topic of the link, below `homie/5/DEVICE`."""
    lines = ["| topic | what | type | sent |", "|---|---|---|---|"]
    for row in tree(profile(), run_id="", fitted=EVERY_PART):
        kind = f"{row.datatype}, {row.unit}" if row.unit else str(row.datatype)
        sent = _rhythm(row.rhythm) if row.retained else "on event, not kept; `/set` takes yours"
        lines.append(f"| `{row.path}` | {row.name} | {kind} | {sent} |")
    alert = "What is unsafe or has tripped, why that is bad, and what to do"
    lines.append(f"| `$alert/CAUSE` | {alert} | string | while it is so |")
    lines.append("| `$log/LEVEL` | What has happened | string | on event, not kept |")
    return "\n".join(lines)


def _rhythm(rhythm: Rhythm) -> str:
    changed = f"on a change of {rhythm.step:g}" if rhythm.step else "on a change"
    figures = "figures " if rhythm.words_at_once else ""
    apart = f", {figures}{rhythm.gap_s:g} s apart at least" if rhythm.gap_s else ""
    most = f", {rhythm.most_s:g} s at most" if math.isfinite(rhythm.most_s) else ""
    return f"{changed}{apart}{most}"


def guard_table() -> str:
    """Every cause that the guard latches."""
    lines = ["| cause | what was seen | what to do |", "|---|---|---|"]
    lines += [
        f"| `{cause}` | {WORDS[cause][0]} | {WORDS[cause][1]} |"
        for cause in GuardCause
        if cause is not GuardCause.NONE
    ]
    return "\n".join(lines)


def reset_table() -> str:
    """What must be true before a trip is cleared."""
    lines = ["| cause | must be true | a person types | measured besides |", "|---|---|---|---|"]
    lines += [
        f"| `{word}` | {rule.must} | `{rule.confirm}` | {', '.join(rule.proofs)} |"
        for word, rule in RULES.items()
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    tables = (
        interlock_table(),
        blind_table(),
        self_table(),
        guard_table(),
        reset_table(),
        topic_table(),
    )
    sys.stdout.write("\n\n".join(tables) + "\n")
