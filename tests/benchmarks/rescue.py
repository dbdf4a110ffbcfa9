"""Whether what `bainward rescue` proposes helps: mishaps on machines never seen, judged by truth.

Usage: python tests/benchmarks/rescue.py [--machines 50] [--seed 1001] [--table FILE] [--jobs 1]

Each kind of mishap is done to each of so many random machines of the bench, whose chocolate
follows a crystal law of another form than the estimate's, each of its rates random. The command is
told what a cook would say of it, and its proposal is carried out by hands with a thermometer that
is a little off. Where it does not end in temper, every other action that was thought about is
tried, too: a case counts where any action could. Seeds 1 to 99 are for tuning. A table keeps what
is done: the same command goes on after an interruption.
Responsible for the command and its counts; cases stand in rescue_cases.
"""

import argparse
import json
import math
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.rescue_cases import DONE, Tried, run_case

GOAL = 0.9
MINUTE_S = 60.0
Key = tuple[int, int, str]


def share_text(part: int, whole: int) -> str:
    """A share, or a dash of nothing."""
    return f"{100.0 * part / whole:5.1f} %" if whole else "      -"


def summary(tried: Sequence[Tried]) -> str:
    """A line a mishap, then all of them."""
    lines = [f"{'':20}{'cases':>6}{'could':>7}{'in temper':>11}{'share':>9}{'min':>6}  proposed"]
    for mishap in DONE:
        part = [one for one in tried if one.mishap == mishap]
        if part:
            lines.append(_line(mishap, part))
    lines.append(_line("all", tried))
    return "\n".join(lines)


def _line(name: str, part: Sequence[Tried]) -> str:
    could = [one for one in part if one.could]
    ends = sum(one.ends for one in could)
    acts = Counter(one.proposed for one in part).most_common(3)
    takes_s = [one.takes_s for one in part if math.isfinite(one.takes_s)]
    minutes = sum(takes_s) / max(1, len(takes_s)) / MINUTE_S
    return (
        f"{name:20}{len(part):6}{len(could):7}{ends:11}{share_text(ends, len(could)):>9}"
        f"{minutes:6.0f}  {', '.join(f'{act} {count}' for act, count in acts)}"
    )


def failures_text(tried: Sequence[Tried]) -> str:
    """Each that did not end in temper."""
    return "\n".join(
        f"{one.machine:16}{one.mishap:20}{one.kind:7}{one.proposed:15}"
        f"V {100.0 * one.form_v:.2f} %, unstable {100.0 * one.unstable:.2f} %"
        f", believed {100.0 * one.believed_v:.2f} %"
        for one in tried
        if not one.ends
    )


def judged(keys: Iterable[Key], table: Path | None, jobs: int = 1) -> Iterator[Tried]:
    """All of these, those from the table first; what is new is added to it."""
    known = _known(table)
    wanted = list(keys)
    yield from (known[key] for key in wanted if key in known)
    left = [key for key in wanted if key not in known]
    if jobs == 1:
        yield from (_noted(key, run_case(*key), table) for key in left)
        return
    with ProcessPoolExecutor(jobs) as pool:
        for key, one in zip(left, pool.map(_run, left), strict=True):
            yield _noted(key, one, table)


def _run(key: Key) -> Tried:
    return run_case(*key)


def _known(table: Path | None) -> dict[Key, Tried]:
    if table is None or not table.exists():
        return {}
    found = {}
    for line in table.read_text(encoding="utf-8").splitlines():
        *key, row = json.loads(line)
        found[key[0], key[1], key[2]] = Tried(*row)
    return found


def _noted(key: Key, one: Tried, table: Path | None) -> Tried:
    if table is not None:
        with table.open("a", encoding="utf-8") as file:
            file.write(json.dumps([*key, one]) + "\n")
    return one


def main() -> None:
    """Run and print; exit code 1 below the goal."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--machines", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1001)
    parser.add_argument("--table", type=Path, help="keeps what is done")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--failures", action="store_true", help="each that failed, one a line")
    options = parser.parse_args()
    numbers = range(1, options.machines + 1)
    keys = [(options.seed, number, mishap) for number in numbers for mishap in DONE]
    tried = list(judged(keys, options.table, options.jobs))
    print(f"drawn-{options.seed}-1 to -{options.machines}, law nuclei with random rates\n")
    print(summary(tried))
    if options.failures:
        print(f"\n{failures_text(tried)}")
    could = [one for one in tried if one.could]
    sys.exit(sum(one.ends for one in could) < GOAL * len(could))


if __name__ == "__main__":
    main()
