"""Every mutant of the guard's decision must be killed, or stand justified in a file beside this.

Usage: python tests/proofs/mutate_guard.py [--processes 2]

Needs `pip install '.[mutation]'`. The mutants are made and run in a copy, by the unit tests alone;
the defaults of `Limits`, which are not mutated, are held by a golden test.
Responsible for running the mutation tester and comparing what survives with guard_survivors.toml.
"""

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
JUSTIFIED = Path(__file__).with_name("guard_survivors.toml")
COPIED = (
    "controller/__init__.py",
    "controller/guard/__init__.py",
    "controller/guard/decision.py",
    "tests/helpers/guard_scene.py",
    "tests/unit/test_guard_causes.py",
    "tests/unit/test_guard_decision.py",
    "tests/unit/test_guard_lease.py",
)
CONFIGURATION = """
[tool.mutmut]
paths_to_mutate = ["controller/guard/decision.py"]
tests_dir = ["tests/unit"]
also_copy = ["controller", "tests"]

[tool.pytest.ini_options]
pythonpath = ["."]
"""
MUTMUT = Path(sys.executable).with_name("mutmut")
KILLED = {"killed", "timeout", "segfault"}  # any but these is a survivor
FEWEST = 200  # mutants, so that a run that makes none is seen
# The copy is too small for the project's own plugin of pytest, and its tests need no other.
BARE = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}


def mutmut(folder: Path, *words: str) -> str:
    """What the mutation tester prints."""
    command = [str(MUTMUT), *words]
    result = subprocess.run(
        command, cwd=folder, env=BARE, capture_output=True, text=True, check=False
    )
    if result.returncode:
        sys.exit(result.stdout[-4000:] + result.stderr[-4000:])
    return result.stdout


def copy_into(folder: Path) -> None:
    """The little that the mutants need."""
    for name in COPIED:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, folder / name)
    (folder / "pyproject.toml").write_text(CONFIGURATION, encoding="utf-8")


def fates(folder: Path) -> dict[str, str]:
    """What became of each mutant, by its name."""
    lines = mutmut(folder, "results", "--all", "true").splitlines()
    pairs = (line.strip().partition(": ") for line in lines if "__mutmut_" in line)
    return {name: fate for name, _, fate in pairs}


def changed(folder: Path, mutant: str) -> tuple[str, str]:
    """The line as it was and as it became."""
    diff = mutmut(folder, "show", mutant)
    was = re.findall(r"^-(?!--)\s*(.*)$", diff, re.MULTILINE)
    became = re.findall(r"^\+(?!\+\+)\s*(.*)$", diff, re.MULTILINE)
    return " ".join(was), " ".join(became)


def justified() -> Iterator[tuple[str, str]]:
    """The survivors that the file explains."""
    for entry in tomllib.loads(JUSTIFIED.read_text(encoding="utf-8"))["survivor"]:
        assert entry["reason"].strip(), entry
        yield entry["was"], entry["became"]


def main() -> None:
    """Mutate, and print what lives and why."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    if not MUTMUT.exists():
        sys.exit("No mutation tester here: install it with pip install '.[mutation]'.")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        copy_into(folder)
        mutmut(folder, "run", "--max-children", str(options.processes))
        fate_of = fates(folder)
        alive = {
            mutant: changed(folder, mutant)
            for mutant, fate in fate_of.items()
            if fate not in KILLED
        }
    known = set(justified())
    bare = {mutant: lines for mutant, lines in alive.items() if lines not in known}
    stale = known - set(alive.values())
    print(
        f"{len(fate_of)} mutants, {len(fate_of) - len(alive)} killed, "
        f"{len(alive) - len(bare)} justified, {len(bare)} neither"
    )
    for mutant, (was, became) in bare.items():
        print(f"alive: {mutant} ({fate_of[mutant]})\n  was    {was}\n  became {became}")
    for was, became in sorted(stale):
        print(f"justified, but not alive:\n  was    {was}\n  became {became}")
    sys.exit(bool(bare or stale or len(fate_of) < FEWEST))


if __name__ == "__main__":
    main()
