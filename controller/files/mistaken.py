"""A file of ours in another's place: a machine file where a profile is wanted, and so on.

Responsible for one sentence that says so, where each key would have one; not for what is in it.
"""

from collections.abc import Mapping

PROFILE, MACHINE, PLAN, PUSH = "a profile", "a machine file", "a plan", "a push file"
# The table that only such a file has.
_MARKS = {PROFILE: "phase", MACHINE: "attach", PLAN: "make", PUSH: "push"}
_BELONGS = {
    PROFILE: "this one is run, tried or checked by its path",
    MACHINE: "this one goes after --machine",
    PLAN: "this one is for bainward plan",
    PUSH: "this one is for bainward notify",
}


def refuse_another(raw: Mapping[str, object], wanted: str) -> None:
    """Nothing, unless the file shows that it is of another kind.

    Raises:
        ValueError: a sentence without the file's name: what it is, and where that belongs.
    """
    found = [kind for kind, mark in _MARKS.items() if mark in raw]
    if found and wanted not in found:
        raise ValueError(f"{wanted} is wanted here, and this is {found[0]}; {_BELONGS[found[0]]}")
