"""Every log line in the source has a name from the one list, and the list has no idle names."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from controller.core.state import EventName
from controller.logs import LOG_EVENTS

ROOT = Path(__file__).parents[2]
METHODS = {"debug", "info", "warning", "error", "exception", "critical"}
# Past verbs of English that do not end in -ed, as far as names here use them.
IRREGULAR = {"lost", "ran", "overran", "withheld", "begun", "sent", "found", "left", "held"}


def log_calls() -> Iterator[tuple[str, ast.Call]]:
    """Every call of a logger's method in the source, with where it stands."""
    for package in ("controller", "hardware"):
        for path in sorted((ROOT / package).rglob("*.py")):
            for call in calls_in(path.read_text("utf-8")):
                yield f"{path.relative_to(ROOT)}:{call.lineno}", call


def calls_in(source: str) -> list[ast.Call]:
    """Calls of `<something called log>.<method>`, or of a name that was given such a method."""
    nodes = list(ast.walk(ast.parse(source)))
    aliases = {
        target.id
        for node in nodes
        if isinstance(node, ast.Assign)
        and any(is_log_method(part) for part in ast.walk(node.value))
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    calls = [node for node in nodes if isinstance(node, ast.Call)]
    return [
        call
        for call in calls
        if is_log_method(call.func) or (isinstance(call.func, ast.Name) and call.func.id in aliases)
    ]


def is_log_method(node: ast.AST) -> bool:
    """Whether this is `<something called log>.<method>`."""
    if not isinstance(node, ast.Attribute) or node.attr not in METHODS:
        return False
    owner = ast.unparse(node.value).lower()
    return re.search(r"\blog\b|_log\b|logger", owner) is not None


def named(call: ast.Call) -> str | None:
    """The event's name; None when it is not plain text."""
    first = call.args[0] if call.args else None
    return first.value if isinstance(first, ast.Constant) and isinstance(first.value, str) else None


def test_every_log_call_has_a_name_from_the_list() -> None:
    assert [
        (where, named(call)) for where, call in log_calls() if named(call) not in LOG_EVENTS
    ] == []


def test_no_name_on_the_list_is_idle() -> None:
    used = {named(call) for _, call in log_calls()} | {name.value for name in EventName}
    assert sorted(LOG_EVENTS - used) == []


def test_names_are_a_noun_and_a_past_verb() -> None:
    for name in LOG_EVENTS:
        *nouns, verb = name.split("_")
        assert nouns, name
        assert verb.endswith("ed") or verb in IRREGULAR, name
        assert re.fullmatch(r"[a-z]+(_[a-z]+)+", name), name


def test_the_search_finds_log_calls() -> None:
    source = """
self._log.bind(a=1).info('x_done', b=2)
log.error('y')
say = self._log.warning if loud else self._log.debug
say('z')
math.log(2)
parser.error('no')
shout('no')
"""
    assert sorted(str(named(call)) for call in calls_in(source)) == ["x_done", "y", "z"]
