"""The shape of the code base: sizes, arrows, clocks, excepts, units in names, documents.

The limits are the project's own style, not published.
"""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.commands.options import EPILOG, parser
from controller.core.moves import diagram
from controller.errors import Exit
from controller.guard import chain
from controller.planning import circuit
from tests.helpers import docs

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted(
    path for room in ("controller", "hardware", "profiles") for path in (ROOT / room).rglob("*.py")
)
CODE = [*SOURCES, *sorted((ROOT / "tests").rglob("*.py"))]
MAX_LINES = 440  # "about 400"
MAX_FUNCTION_LINES = 45
UNITS = (
    *(
        "_c",
        "_k",
        "_k_per_min",
        "_w",
        "_w_per_k",
        "_j",
        "_j_per_k",
        "_kg",
        "_s",
        "_rpm",
        "_kpa",
        "_mb",
    ),
    *("_v", "_a"),
    "_share",
)
# Numbers without a unit, or whose unit is in their description.
PLAIN = {"duty", "share", "age_s", "value", "lagged", "melted", "solid", "in_bowl"} | {
    *("confidence", "unstable", "growth", "births", "chopped", "thickens", "off"),  # of temper
    "came",  # how likely seed is in
    *("excess", "level", "slope", "var_level", "cov", "var_slope"),  # of logarithms of a load
}


def functions(path: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    """Every function of a file."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_file_and_no_function_has_grown_too_long(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MAX_LINES
    for function in functions(path):
        length = (function.end_lineno or 0) - function.lineno + 1
        assert length <= MAX_FUNCTION_LINES, function.name


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_module_says_what_it_is(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))


def test_the_import_rules_hold() -> None:
    command = Path(sys.executable).parent / "lint-imports"
    result = subprocess.run(
        [command, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stdout


def test_only_the_clock_reads_a_clock() -> None:
    readers = {
        path.relative_to(ROOT).as_posix()
        for path in SOURCES
        if re.search(r"^\s*(import time\b|from time import)", path.read_text("utf-8"), re.MULTILINE)
    }
    assert readers == {"controller/clock.py"}


def is_broad(handler: ast.ExceptHandler) -> bool:
    """Whether it takes whatever comes."""
    name = handler.type.id if isinstance(handler.type, ast.Name) else None
    return handler.type is None or name in {"Exception", "BaseException"}


def test_a_broad_except_stands_where_heat_goes_off_and_where_a_sweep_goes_on() -> None:
    broad = [
        path.relative_to(ROOT).as_posix()
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ExceptHandler) and is_broad(node)
    ]
    assert broad == ["controller/daemon.py", "controller/trials/sweep_work.py"]


def test_only_the_command_line_and_the_loop_wait() -> None:
    loops = [
        path.relative_to(ROOT).as_posix()
        for path in [*(ROOT / "controller" / "core").rglob("*.py"), ROOT / "controller/daemon.py"]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.While)
    ]
    assert loops == ["controller/daemon.py"]


def numbers(shape: ast.ClassDef) -> Iterator[str]:
    """The names of a dataclass's fields that are single numbers."""
    for field in shape.body:
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
            kind = ast.unparse(field.annotation)
            if kind in {"float", "float | None"}:
                yield field.target.id


def test_every_number_in_the_cores_shapes_carries_its_unit() -> None:
    nameless = [
        f"{path.name}: {shape.name}.{name}"
        for path in (ROOT / "controller" / "core").glob("*.py")
        for shape in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(shape, ast.ClassDef)
        for name in numbers(shape)
        if not name.removesuffix("_sd").endswith(UNITS) and name.removesuffix("_sd") not in PLAIN
    ]
    assert nameless == []


def between(text: str, mark: str) -> str:
    """What a document says between two marks."""
    return text.partition(f"<!-- {mark} -->")[2].partition("<!-- end -->")[0]


def test_the_state_diagram_in_the_documents_is_the_table() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert diagram() in between(text, "moves")


def test_every_exit_code_is_in_the_readme_and_in_the_help() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for code in Exit:
        assert f"\n| {int(code)} | " in readme
        assert re.search(rf"(^|\s){int(code)}  \w", EPILOG)


def test_every_command_has_a_row_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    actions = parser()._actions  # noqa: SLF001 - argparse has no other way to ask
    names = next(one.choices for one in actions if one.dest == "command")
    assert names
    assert set(re.findall(r"^\| `bainward ([a-z-]+)", readme, re.MULTILINE)) == set(names)


def test_a_message_that_says_how_to_install_an_extra_names_one_that_there_is() -> None:
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    said = [
        named
        for path in SOURCES
        for named in re.findall(r"pip install '([^']*)'", path.read_text(encoding="utf-8"))
    ]
    assert said
    for named in said:
        extra = re.fullmatch(r"\.\[([a-z]+)\]", named)  # from a copy: no index has the project
        assert extra, named
        assert f"\n{extra[1]} = [" in project


def test_every_dependency_is_reasoned() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    names = re.findall(r'^\s+"([a-z-]+)>=', project, re.MULTILINE)
    names += re.findall(r'= \["([a-z-]+)>=', project)
    assert names
    for name in names:
        assert re.search(rf"[|, ]{name}[,) |]", text), name


@pytest.mark.parametrize(
    ("mark", "drawn"),
    [
        ("chain", chain.diagram()),
        ("guard causes", docs.guard_table()),
        ("topics", docs.topic_table()),
        ("interlocks", docs.interlock_table()),
        ("blind spots", docs.blind_table()),
        ("self-watch", docs.self_table()),
        ("resets", docs.reset_table()),
    ],
    ids=lambda value: value[:12],
)
def test_what_the_controller_s_document_draws_is_what_the_code_says(mark: str, drawn: str) -> None:
    text = (ROOT / "controller" / "README.md").read_text(encoding="utf-8")
    assert drawn in between(text, mark)


HARDWARE_PAGES = sorted((ROOT / "hardware").glob("*.md"))


@pytest.mark.parametrize("path", HARDWARE_PAGES, ids=lambda path: path.name)
def test_each_command_that_a_page_for_makers_names_is_there(path: Path) -> None:
    actions = parser()._actions  # noqa: SLF001 - argparse has no other way to ask
    names = next(one.choices for one in actions if one.dest == "command")
    assert names
    said = re.findall(r"`(?:sudo )?bainward ([a-z-]+)", path.read_text(encoding="utf-8"))
    assert said
    assert set(said) <= set(names)


@pytest.mark.parametrize("path", HARDWARE_PAGES, ids=lambda path: path.name)
def test_each_link_of_a_page_for_makers_leads_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)]+)\)", path.read_text(encoding="utf-8")):
        name, _, anchor = target.partition("#")
        page = path if not name else (path.parent / name).resolve()
        assert page.exists(), target
        if anchor:
            headings = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), re.MULTILINE)
            slugs = {re.sub(r"[^a-z0-9 -]", "", one.lower()).replace(" ", "-") for one in headings}
            assert anchor in slugs, target


@pytest.mark.parametrize(
    ("mark", "drawn"),
    [
        ("mains", circuit.mains_drawing()),
        ("signals", circuit.signal_drawing()),
        ("bill", circuit.bill_table()),
    ],
    ids=lambda value: value[:12],
)
def test_what_the_hardware_s_document_draws_is_what_the_tables_say(mark: str, drawn: str) -> None:
    text = (ROOT / "hardware" / "README.md").read_text(encoding="utf-8")
    assert drawn in between(text, mark)


def test_the_tests_that_the_documents_name_are_there() -> None:
    text = (ROOT / "controller" / "README.md").read_text(encoding="utf-8")
    named = re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", text)
    assert [test for _, test in named if test]
    for name, test in named:
        assert (ROOT / name).is_file(), name
        assert not test or f"def {test}(" in (ROOT / name).read_text(encoding="utf-8"), test
