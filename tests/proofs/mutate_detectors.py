"""Every detector weakened and every threshold moved must make a test fail, or stand justified.

    python tests/proofs/mutate_detectors.py [--processes 2] [--only WORD] [--first N] [--table FILE]

Each threshold is halved and doubled, so that one of the two sees less and the other trips falsely;
each row is made blind (never unsafe), toothless (never a trip, never heat withheld) and fearful
(never safe). A mutant is made in a copy of this process, before anything but the mutated module is
imported, and tested by the few files named below; the golden table of thresholds is none of them,
since it would kill every mutant by itself. Prints which test fails first for each; what survives is
listed, and ends the proof with 1 unless detector_survivors.toml says why it may. A table keeps what
was killed: the same command goes on from it, and once core or tests have changed each mutant is
tried again, first by the test that killed it before, which takes seconds instead of minutes.
Responsible for making mutants and judging them; not for what tests hold.
"""

import argparse
import contextlib
import hashlib
import importlib
import io
import json
import os
import sys
import tomllib
import traceback
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
JUSTIFIED = Path(__file__).with_name("detector_survivors.toml")
CORE = "controller.core"
UNIT = ROOT / "tests" / "unit"
# Whose numbers are moved. All but the first use a few of their own.
NUMBERS = (
    "thresholds",
    "consistency",
    "evidence",
    "alarms",
    "self_rows",
    "calling",
    "heater_sight",
    *("heeding", "stand_in", "ceilings", "lacks", "recovery_rows"),
)
ROWS = (  # that have tables of rows
    *("interlocks", "machine_rows", "run_rows"),
    *("detector_rows", "heater_rows", "self_rows"),
)
# A mutant is done with at the first test that fails: of numbers these find most, and soonest.
EDGES = ("core_edges", "core_consistency_edges", "core_calling", "core_self_rows")
TABLES = ("core_interlocks", "core_detector_rows", "core_heater_sight")  # of rows these
REST = (
    *("core_consistency", "core_evidence", "core_dead_heaters", "core_off_test"),
    *("core_intermittent", "core_told_falls", "core_alarms", "core_standing_bowls"),
    *("core_kept_machine", "core_touched", "core_lacking_looks"),
    *("core_judging", "core_setting", "core_too_warm", "core_relay"),
)
SLOW = (
    *(
        "core_start_proof",
        "core_ceilings",
        "core_nudging",
        "core_start",
        "core_selfcheck",
        "core_announcing",
    ),
    *("core_tick", "core_tick_runs", "core_frozen", "core_lacks", "recovery_table"),
    *("recovery_boots",),
)
PLAINLY = (
    *("-x", "-q", "-p", "no:cacheprovider"),
    *("-W", "ignore::pytest.PytestAssertRewriteWarning"),  # the mutated module was there before
)
BARE = "PYTEST_DISABLE_PLUGIN_AUTOLOAD"  # its plugins take longer to load than a mutant to die
FEWEST = 300  # mutants, so that a run that makes none is seen
UNCHANGED = "unchanged"


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: of a number in a module, or of a row of the interlocks by its place."""

    name: str
    module: str
    key: str  # the number's name, or the row's place in INTERLOCKS
    change: str  # halved, doubled, blind, toothless, fearful or unchanged


def mutants() -> Iterator[Mutant]:
    """All of them, from the modules as they are."""
    for module in NUMBERS:
        for key, value in vars(importlib.import_module(f"{CORE}.{module}")).items():
            is_ours = key.lstrip("_").isupper() and _is_defined_in(module, key)
            if is_ours and isinstance(value, int | float) and not isinstance(value, bool) and value:
                for change in ("halved", "doubled"):
                    yield Mutant(f"{key} {change}", module, key, change)
    rows = importlib.import_module(f"{CORE}.interlocks").INTERLOCKS
    effects = importlib.import_module(f"{CORE}.interlock_rows").Effect
    for place, row in enumerate(rows):
        changes = ["blind", "fearful"]
        changes += [] if row.effect is effects.ADVICE else ["toothless"]
        for change in changes:
            yield Mutant(f"row {place} {row.cause} {change}", "interlocks", str(place), change)


def _is_defined_in(module: str, key: str) -> bool:
    text = (ROOT / "controller" / "core" / f"{module}.py").read_text(encoding="utf-8")
    return f"\n{key} = " in text or f"\n{key}: " in text


def make(mutant: Mutant) -> None:
    """Make it so, in this process, which has imported nothing of the core yet."""
    if mutant.change == UNCHANGED:
        return
    module = importlib.import_module(f"{CORE}.{mutant.module}")
    if mutant.change in {"halved", "doubled"}:
        value = getattr(module, mutant.key)
        factor = 2 if mutant.change == "doubled" else 0.5
        setattr(module, mutant.key, type(value)(value * factor))
        return
    old = module.INTERLOCKS[int(mutant.key)]
    new = _changed(old, mutant.change)
    for name in ROWS:
        home = importlib.import_module(f"{CORE}.{name}")
        for key, value in list(vars(home).items()):
            if isinstance(value, tuple) and any(one is old for one in value):
                setattr(home, key, tuple(new if one is old else one for one in value))
    # What the module took from its tables as it began.
    records = (module.HEATER_ROWS, module.DETECTOR_ROWS, module.WARNINGS)
    rules = vars(module)["_rules_of"]
    own = module.INTERLOCKS[: -sum(map(len, records))]
    vars(module).update(_RECORD_RULES=tuple(map(rules, records)), _OWN_RULES=rules(own))


def _changed(row: object, change: str) -> object:
    rows = importlib.import_module(f"{CORE}.interlock_rows")
    replace: Callable[..., object] = importlib.import_module(f"{CORE}.records").replace
    if change == "toothless":
        return replace(row, trip_after_s=rows.never, advice=row.effect is rows.Effect.INHIBIT)  # type: ignore[attr-defined] # a row, imported late
    return replace(row, safe=lambda _: change == "blind")


class First:
    """A plugin that remembers the first test that failed."""

    def __init__(self) -> None:
        """None so far."""
        self.failed = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note it."""
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """A test file that can't even be read has failed, too."""
        if report.failed and not self.failed:
            self.failed = report.nodeid


def killer_of(mutant: Mutant, known: str = "") -> str:
    """The first test that fails for a mutant, tried in a copy of this process; empty: none does.

    `known` is a test that killed it once, and is tried before all others.
    """
    inward, outward = os.pipe()
    copy = os.fork()
    if copy == 0:
        os.close(inward)
        try:
            make(mutant)
            os.write(outward, _tested(mutant, known).encode())
            os._exit(0)
        finally:  # whatever came, it must not unwind into the proof itself
            traceback.print_exc()
            os._exit(1)
    os.close(outward)
    with os.fdopen(inward, encoding="utf-8") as told:
        found = told.read()
    if os.waitpid(copy, 0)[1]:
        raise RuntimeError(f"the mutant {mutant.name} could not be tried")
    return found


def _tested(mutant: Mutant, known: str) -> str:
    """The first test that fails in this process."""
    is_row = mutant.module == "interlocks"
    tiers = (TABLES if is_row else EDGES, (*REST, *(EDGES if is_row else TABLES)), SLOW)
    rounds = [[str(UNIT / f"test_{name}.py") for name in names] for names in tiers]
    # A test that is no more would fail for every mutant, and is found by nobody.
    if known and (ROOT / known.partition("::")[0]).exists():
        rounds.insert(0, [str(ROOT / known)])
    for files in rounds:
        first = First()
        silence = io.StringIO()
        with contextlib.redirect_stdout(silence), contextlib.redirect_stderr(silence):
            pytest.main([*files, *PLAINLY], plugins=[first])
        if first.failed:
            return first.failed
    return ""


class Table:
    """What was killed by which test, on the disk, so that the proof can be done in pieces."""

    def __init__(self, path: Path | None) -> None:
        """Read it, where it is there; without a path nothing is kept."""
        self._path = path
        self._sources = _digest()
        self._killed: dict[str, tuple[str, str]] = {}
        if path is not None and path.exists():
            lines = map(json.loads, path.read_text(encoding="utf-8").splitlines())
            self._killed = {one["mutant"]: (one["killer"], one["sources"]) for one in lines}

    def killer_of(self, mutant: Mutant) -> str:
        """As the function, but at once where core and tests are those of before."""
        known, sources = self._killed.get(mutant.name, ("", ""))
        if known and sources == self._sources:
            return known
        killer = killer_of(mutant, known)
        if self._path is not None and killer:
            line = {"mutant": mutant.name, "killer": killer, "sources": self._sources}
            with self._path.open("a", encoding="utf-8") as out:
                out.write(json.dumps(line) + "\n")
        return killer


def _digest() -> str:
    """Of all that a mutant is made of and tried by."""
    folders = (ROOT / "controller" / "core", UNIT, ROOT / "tests" / "helpers")
    files = sorted(path for folder in folders for path in folder.glob("*.py"))
    together = hashlib.sha256()
    for path in files:
        together.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes())
    return together.hexdigest()


def listed() -> list[Mutant]:
    """All mutants, found in a copy of this process, so that this one has imported no core."""
    inward, outward = os.pipe()
    copy = os.fork()
    if copy == 0:
        os.close(inward)
        with os.fdopen(outward, "w", encoding="utf-8") as out:
            json.dump([(m.name, m.module, m.key, m.change) for m in mutants()], out)
        os._exit(0)
    os.close(outward)
    with os.fdopen(inward, encoding="utf-8") as told:
        found = [Mutant(*one) for one in json.load(told)]
    os.waitpid(copy, 0)
    return found


def prove(processes: int, only: str, first: int, table: Table) -> int:
    """Try them all; how many survive without a reason, or have one and survive no more.

    A test that fails with nothing changed would kill every mutant, so the unchanged is tried first.
    """
    if failing := killer_of(Mutant("nothing", "thresholds", "", UNCHANGED)):
        print(f"{failing} fails with nothing changed; mend it first")
        return 1
    reasons = {
        one["mutant"]: one["reason"] for one in tomllib.loads(JUSTIFIED.read_text())["survivor"]
    }
    chosen = [mutant for mutant in listed() if only in mutant.name][first - 1 :]
    assert only or first > 1 or len(chosen) >= FEWEST
    killed, justified, neither = 0, 0, 0
    with ThreadPoolExecutor(processes) as pool:
        for mutant, killer in zip(chosen, pool.map(table.killer_of, chosen), strict=True):
            if killer:
                killed += 1
                verdict = killer
            elif mutant.name in reasons:
                justified += 1
                verdict = f"survives: {reasons[mutant.name]}"
            else:
                neither += 1
                verdict = "SURVIVES"
            print(f"{mutant.name}: {verdict}", flush=True)
            if killer and mutant.name in reasons:
                print(f"{mutant.name}: is justified and killed; take its reason out")
                neither += 1
    print(f"{len(chosen)} mutants, {killed} killed, {justified} justified, {neither} neither")
    return neither


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--processes", type=int, default=1)
    words.add_argument("--only", default="", metavar="WORD", help="mutants with this in their name")
    words.add_argument("--first", type=int, default=1, metavar="N", help="begin with the Nth")
    words.add_argument("--table", type=Path, metavar="FILE", help="keeps what was killed")
    given = words.parse_args()
    os.environ[BARE] = "1"
    left = prove(given.processes, given.only, given.first, Table(given.table))
    sys.exit(1 if left else 0)
