"""The command `alarms`: every cause that is told or ends a run, looked up by its word.

Responsible for what is printed of a cause; not for the sentences themselves, which stand beside
each rule (core/interlocks, core/self_rows, core/reasons, guard/words, guard/resets).
"""

import argparse
import sys
import textwrap
from collections.abc import Iterator

from controller.core.interlock_rows import Effect, Interlock, Priority, at_once, without_again
from controller.core.interlocks import INTERLOCKS, PRIORITIES
from controller.core.reasons import call_off, why
from controller.core.self_rows import SELF_ROWS, SelfRow
from controller.errors import Exit, UsageError
from controller.files.complaints import nearest
from controller.guard.decision import Cause as GuardCause
from controller.guard.decision import causes_of
from controller.guard.resets import RULES, demanded
from controller.guard.words import END, REARM, WORDS

WIDTH = 100  # columns
_LABEL = 13
_ENTRY = 41  # of the list: a cause and what it does
_SOON = {
    Priority.HIGH: "act now",
    Priority.MEDIUM: "act within minutes: the batch waits, or will be lost",
    Priority.LOW: "act when there is time",
}
_DOES = {
    Effect.TRIP: "ends the run",
    Effect.INHIBIT: "holds heat back",
    Effect.ADVICE: "tells you",
}
_GRAVEST = tuple(_DOES)
Line = tuple[str, str]


def alarms(options: argparse.Namespace) -> Exit:
    """Print them all, or all about one.

    Raises:
        UsageError: there is no cause of that name.
    """
    word = "-".join(options.cause).lower().replace(" ", "-")
    if not word:
        sys.stdout.write("".join(f"{line}\n" for line in _listed()))
        return Exit.DONE
    told = about(word)
    if not told:
        close = nearest(word, _known())
        hint = f"do you mean {close}?" if close else "`bainward alarms` lists them."
        raise UsageError(f"There is no cause {word!r}: {hint}")
    sys.stdout.write("".join(f"{line}\n" for line in told))
    return Exit.DONE


def actions_of(cause: str) -> tuple[str, ...]:
    """What the rows by which a cause ends a run say to do, without the new run that may follow."""
    rows = (row for row in INTERLOCKS if row.cause == cause and row.effect is Effect.TRIP)
    return tuple(dict.fromkeys(without_again(row.action) for row in rows))


def about(word: str) -> list[str]:
    """All about one cause, as lines; none for a word that means nothing."""
    rows = [row for row in INTERLOCKS if row.cause == word]
    own = [row for row in SELF_ROWS if row.cause == word]
    lines: list[Line] = [line for row in rows for line in _row_lines(row)]
    lines += [line for row in own for line in _start_lines(row)]
    if word in set(GuardCause) - {GuardCause.NONE}:
        what, action = WORDS[GuardCause(word)]
        lines += [("Seen by guard", f"{what}."), ("Do now", _without_rearm(action))]
    if not lines:
        return []
    if why(word):
        lines.insert(0, ("Why", why(word)))
    lines += [("Call it off?", call_off(word))] if call_off(word) else []
    lines += _reset_lines(word)
    soon = _priority(word)
    return [f"{word}: {soon} priority, {_SOON[soon]}.", *map(_wrapped, lines)]


def _priority(word: str) -> Priority:
    """How soon to act: what only keeps a run from starting is in no table of the run's."""
    at_start = (row.priority for row in SELF_ROWS if row.cause == word)
    return PRIORITIES.get(word) or next(at_start, Priority.HIGH)


def _row_lines(row: Interlock) -> Iterator[Line]:
    needs = f" (needs {row.needs})" if row.needs else ""
    yield "Looks at", f"{row.compares}{needs}; limit: {row.limit}; {_effect(row)}."
    yield "Do now", without_again(row.action)


def _effect(row: Interlock) -> str:
    if row.effect is not Effect.TRIP:
        return f"it {_DOES[row.effect]}"
    return (
        "it ends the run at once" if row.trip_after_s is at_once else "it ends the run if it lasts"
    )


def _start_lines(row: SelfRow) -> Iterator[Line]:
    if row.to_start is not None:
        yield "No run starts", f"while it is {row.start_limit} ({row.compares})."
        if row.in_run is None:
            yield "Do now", without_again(row.action)


def _reset_lines(word: str) -> Iterator[Line]:
    if word in RULES:
        rule = RULES[word]
        measured = f", and by {', '.join(rule.proofs)}" if rule.proofs else ""
        command = "`bainward rearm --machine FILE`"
        word = f"on a real machine by {command}, the word {rule.confirm!s}{measured}."
        yield "Cleared", f"{word} {rule.must}"


def _without_rearm(action: str) -> str:
    return f"{action.removesuffix(REARM)}{END}."


def _wrapped(line: Line) -> str:
    label, text = line
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=f"  {label:<{_LABEL}} ",
        subsequent_indent=" " * (_LABEL + 3),
    )


def _known() -> list[str]:
    return [*PRIORITIES, *(row.cause for row in SELF_ROWS), *_guards_own()]


def _guards_own() -> list[str]:
    return [str(one) for one in GuardCause if one is not GuardCause.NONE and one not in PRIORITIES]


def _listed() -> Iterator[str]:
    yield "All that is told or ends a run, and what to do now; `bainward alarms CAUSE` says more."
    for priority in Priority:
        yield f"\n{priority} priority: {_SOON[priority]}"
        for cause, most in PRIORITIES.items():
            if most is priority:
                rows = [row for row in INTERLOCKS if row.cause == cause]
                gravest = min(rows, key=lambda row: _GRAVEST.index(row.effect))
                yield _entry(f"{cause:<24}{_DOES[gravest.effect]}", gravest.action)
    yield "\nlatched by the guard of a real machine: no heat until `bainward rearm --machine FILE`"
    yield from (_entry(one, _without_rearm(WORDS[GuardCause(one)][1])) for one in _guards_own())
    yield "\nno run starts on such a computer"
    yield from (
        _entry(f"{row.cause:<24}{row.start_limit}", row.action) for row in SELF_ROWS if row.to_start
    )


def _entry(head: str, action: str) -> str:
    """A cause of the list, with what to do now beside it."""
    return textwrap.fill(
        without_again(action),
        WIDTH,
        initial_indent=f"  {head:<{_ENTRY}} ",
        subsequent_indent=" " * (_ENTRY + 3),
    )


def told_of_latch(latched: GuardCause, tripped: str = "", also: tuple[str, ...] = ()) -> list[str]:
    """What a person who is to clear a latch reads: what to do first, and what must be true.

    `also` are the causes that came after the first: each with what to do, and what must be true.
    """
    what, action = WORDS[latched]
    known = actions_of(tripped) if latched is GuardCause.CONTROLLER_TRIPPED else ()
    first = known or (_without_rearm(action),)
    cause = tripped if known else str(latched)
    lines = [f"Seen: {what}{f' ({tripped})' if tripped else ''}."]
    lines += [f"Why: {why(cause)}"] if why(cause) else []
    lines += [f"Do first: {' Or: '.join(first)}"]
    lines += [f"Call the batch off? {call_off(cause)}"] if call_off(cause) else []
    lines += [f"Besides: {one}. Do first: {' Or: '.join(_first_of(one))}" for one in also]
    musts = demanded(causes_of(latched, tripped, also)).musts
    return [*lines, *(f"Must be true: {must}" for must in musts)]


def _first_of(cause: str) -> tuple[str, ...]:
    """What to do for one cause of the guard's, or of the controller's trips."""
    if cause in set(GuardCause):
        return (_without_rearm(WORDS[GuardCause(cause)][1]),)
    return actions_of(cause) or (_without_rearm(WORDS[GuardCause.CONTROLLER_TRIPPED][1]),)
