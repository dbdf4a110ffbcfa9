"""The sentences that a module can say, read from its source: so that none is without a test.

Responsible for finding them, and where something is refused; not for what is expected of them.
"""

import ast
import re
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
_PROSE = re.compile(r"[A-Za-z']+ [A-Za-z']+")  # two words at least
_ALOUD = {
    "say",
    "show",
    "ask",
    "_tell_to_look",
}  # what a person is told or asked on the way refuses nothing


class Fragment(NamedTuple):
    """A piece of a sentence, as far as it stands in the source word for word."""

    at: str  # module and function, or constant
    line: int
    text: str


@cache
def _tree(module: str) -> ast.Module:
    return ast.parse((ROOT / module).read_text(encoding="utf-8"))


def fragments(module: str) -> Iterator[Fragment]:
    """All prose of a module but docstrings, facts and what is said aloud, by its path."""
    yield from _within(_tree(module), Path(module).stem, "")


def _within(node: ast.AST, module: str, owner: str) -> Iterator[Fragment]:
    if isinstance(node, ast.Call) and getattr(node.func, "attr", "") in _ALOUD:
        return
    if isinstance(node, ast.Dict) and not owner.isupper():
        return  # facts, which are kept
    if isinstance(node, ast.Constant):
        if isinstance(node.value, str) and _PROSE.search(node.value):
            yield Fragment(f"{module}.{owner}", node.lineno, node.value)
        return
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        owner = f"{owner}.{node.name}".removeprefix(".")
    elif isinstance(node, ast.Assign) and not owner:
        owner = ast.unparse(node.targets[0])
    for child in ast.iter_child_nodes(node):
        is_docstring = isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)
        if not is_docstring:
            yield from _within(child, module, owner)


class Spot(NamedTuple):
    """Where a module refuses or finds something."""

    module: str
    first: int
    last: int  # line

    def holds(self, at: tuple[str, int]) -> bool:
        """Whether a line that ran belongs to it."""
        return at[0] == self.module and self.first <= at[1] <= self.last


def raises(module: str) -> Iterator[Spot]:
    """Every place where a new error is raised for a user."""
    for node in ast.walk(_tree(module)):
        if not isinstance(node, ast.Raise) or node.exc is None:
            continue
        if "ValueError" not in ast.unparse(node.exc):  # which is put into another, or a caller's
            yield Spot(module, node.lineno, node.end_lineno or node.lineno)


def calls(module: str, names: Sequence[str]) -> Iterator[Spot]:
    """Every place where one of these functions is called."""
    for node in ast.walk(_tree(module)):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in names:
            yield Spot(module, node.lineno, node.end_lineno or node.lineno)


def passed(error: BaseException | None) -> Iterator[tuple[str, int]]:
    """Modules and lines that an error, and what led to it, came through."""
    while error is not None:
        trace = error.__traceback__
        while trace is not None:
            path = Path(trace.tb_frame.f_code.co_filename)
            if path.is_relative_to(ROOT):
                yield str(path.relative_to(ROOT)), trace.tb_lineno
            trace = trace.tb_next
        error = error.__context__
