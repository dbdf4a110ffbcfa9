"""The goals that control meets by now, and whether it still does.

Responsible for what must not be lost again; not for the goals themselves (table). Judged on the
machines of `--check`, which are always the same, so that one and the same build gives one and the
same answer. What depends on the computer (speed) is not in it.
"""

from collections.abc import Mapping

from tests.benchmarks.control_table import Line

# By the words of lines, for each of its goals whether it is met; taken from what --check prints.
MET: Mapping[str, tuple[bool, ...]] = {
    "melt": (False, False),
    "rewarm": (True, True),
    "melt-time": (False, False),
    "rewarm-time": (True, True),
    "hold": (False, False, False),
    "relay": (True, True),
    "cooling": (True, True),
    "stirrer": (False,),
    "gain": (False,),
    "addition": (False,),
    "ready-reference": (True,),
    "ready-brisk": (True,),
}


def lost(lines: Mapping[str, Line]) -> list[str]:
    """A sentence for each goal that was met before and is not any more."""
    return [
        f"{lines[word].title}: {goal} was met before, and now it is {lines[word].reached}."
        for word, before in MET.items()
        for goal, was, is_met in zip(lines[word].goals, before, lines[word].met, strict=True)
        if was and not is_met
    ]


def won(lines: Mapping[str, Line]) -> list[str]:
    """A sentence for each goal that is met now, and was not before."""
    return [
        f"{lines[word].title}: {goal} is met now; say so in control_goals.py."
        for word, before in MET.items()
        for goal, was, is_met in zip(lines[word].goals, before, lines[word].met, strict=True)
        if is_met and not was
    ]
