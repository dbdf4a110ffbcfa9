"""Every worked example that the project rests on is a test: the list in the reference README."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "tests" / "reference" / "README.md"
_NAMED = re.compile(r"`(test_\w+\.py)::(test_\w+)`")
NAMED = _NAMED.findall(PAGE.read_text(encoding="utf-8"))


def test_the_list_is_there() -> None:
    assert len(NAMED) > 30


@pytest.mark.parametrize(("file", "name"), sorted(set(NAMED)))
def test_each_oracle_of_the_list_is_a_test_with_its_source_beside_it(file: str, name: str) -> None:
    path = next((ROOT / "tests").rglob(file), None)
    assert path is not None, f"no file {file}"
    text = path.read_text(encoding="utf-8")
    found = [
        node
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef) and node.name == name
    ]
    assert found, f"{file} has no {name}"
    lines = text.splitlines()
    first = min([node.lineno for node in found[0].decorator_list] or [found[0].lineno])
    beside = "\n".join(lines[max(0, first - 4) : found[0].end_lineno])
    assert "#" in beside, f"{name} names no source"
