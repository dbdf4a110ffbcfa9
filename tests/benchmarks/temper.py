"""How well temper is judged on batches never seen: verdicts against the truth, and how sure.

Usage: python tests/benchmarks/temper.py [--machines 300] [--seed 1001] [--laws nuclei pools]
           [--jobs 2] [--table FILE] [--moments]

Machines are drawn at random; seeds under 1000 are for tuning, so judge on others. The truth
follows a crystal law of another form than the estimate's, each of its rates random, the load
another viscosity law; batches go wrong in every tenth way in turn. Judged at the end of each phase
after the melt, at each half hour of hold, and after disturbances, by whoever asks "may I dip?";
disturbances are of copies of the run, so that hours before are simulated once. Each run is judged
twice, as with a load signal and as without one. With `--table` finished machines are kept, and the
same command goes on after an interruption.
Responsible for the command and the keeping; what is counted is in temper_tables, batches in
temper_cases.
"""

import argparse
import json
import os
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from hardware.bench.laws import LAWS
from tests.benchmarks.temper_cases import Said, run_case
from tests.benchmarks.temper_tables import brief_text, mistakes_text, moment_text, summary

Case = tuple[str, int, int]  # law, seed and number


def kept(path: Path | None) -> dict[Case, list[Said]]:
    """What a table holds; a line that was broken off is done again."""
    found: dict[Case, list[Said]] = {}
    if path is None or not path.exists():
        return found
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            law, seed, number, rows = json.loads(line)
        except ValueError:
            continue
        found[law, seed, number] = [Said(*row) for row in rows]
    return found


def judged(
    cases: Sequence[Case], jobs: int, path: Path | None = None
) -> Iterator[tuple[Case, list[Said]]]:
    """All moments of each case, as they come; those that a table holds come first."""
    known = kept(path)
    yield from ((case, known[case]) for case in cases if case in known)
    with ProcessPoolExecutor(jobs) as pool:
        asked = {
            pool.submit(run_case, seed, number, law, is_copied=True): (law, seed, number)
            for law, seed, number in cases
            if (law, seed, number) not in known
        }
        for done in as_completed(asked):
            case, said = asked[done], done.result()
            if path is not None:
                with path.open("a", encoding="utf-8") as table:
                    table.write(f"\n{json.dumps([*case, said])}")
            yield case, said


def options() -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--machines", type=int, default=300, help="so many of each law")
    parser.add_argument("--seed", type=int, default=1001, help="from 1000 on: never tuned on")
    parser.add_argument("--laws", nargs="+", choices=tuple(LAWS), default=["nuclei", "pools"])
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--table", type=Path, help="keeps finished machines, to go on from")
    parser.add_argument("--moments", action="store_true", help="every moment, one a line")
    return parser.parse_args()


def main() -> None:
    """Run and print."""
    asked = options()
    numbers = range(1, asked.machines + 1)
    cases = [(law, asked.seed, number) for number in numbers for law in asked.laws]
    found = dict(judged(cases, asked.jobs, asked.table))
    rows = [(case, one) for case in cases for one in found[case]]
    if asked.moments:
        for (law, _, number), one in rows:
            print(f"{law:8}{number:5}  {moment_text(one)}")
    whole = [one for _, one in rows]
    print(f"drawn-{asked.seed}-1 to -{asked.machines}\n")
    print(brief_text(asked.laws, [(law, one) for (law, _, _), one in rows]))
    for has_load in (True, False):
        part = [one for one in whole if one.has_load is has_load]
        print(f"\n{'With' if has_load else 'Without'} a load signal: {summary(part)}")
        if has_load:
            print(f"\nwrong though sure:\n{mistakes_text(part)}")


if __name__ == "__main__":
    main()
