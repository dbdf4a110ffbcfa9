"""How well temper is judged on batches never seen: verdicts against the truth, and how sure.

Usage: python tests/benchmarks/temper.py [--machines 200] [--seed 1001] [--law nuclei] [--jobs 1]
           [--without-load] [--moments]

Machines are drawn at random; seeds 1 to 99 are for tuning, so judge on others. The truth follows
a crystal law of another form than the estimate's, each of its rates random, the load another
viscosity law; batches go wrong in every tenth way in turn. Judged at the end of each phase after
the melt, at each half hour of hold and after a top-up, by whoever asks "may I dip?".
Responsible for the command and its tables; batches stand in temper_cases.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.core.tempering import Temper
from hardware.bench.laws import LAWS
from tests.benchmarks.temper_cases import Said, run_case

SURE = 0.8
BINS = (0.65, 0.7, 0.8, 0.9, 0.95, 1.0)
CLASSES = (Temper.NOT_YET, Temper.IN_TEMPER, Temper.UNDER, Temper.OVER, Temper.MELTED_OUT)
UNKNOWN = Temper.UNKNOWN.value


def percent(part: float, whole: float) -> str:
    """A share, or a dash of nothing."""
    return f"{100.0 * part / whole:5.1f} %" if whole else "      -"


def classes_text(said: Sequence[Said]) -> str:
    """Recall and precision of each class among the verdicts that are sure."""
    sure = [one for one in said if one.confidence >= SURE and one.verdict != UNKNOWN]
    lines = [f"{'':16}{'moments':>9}{'sure':>7}{'recall':>10}{'precision':>11}"]
    for word in CLASSES:
        true = [one for one in sure if one.truth == word]
        told = [one for one in sure if one.verdict == word]
        hits = sum(one.verdict == word for one in true)
        whole = sum(one.truth == word for one in said)
        lines.append(
            f"{word.value:16}{whole:9}{len(true):7}"
            f"{percent(hits, len(true)):>10}{percent(hits, len(told)):>11}"
        )
    return "\n".join(lines)


def reliability_text(said: Sequence[Said]) -> str:
    """What confidence was claimed, and how often it came true."""
    lines = [f"{'confidence':16}{'verdicts':>9}{'claimed':>10}{'true':>10}"]
    for low, high in pairwise(BINS):
        part = [one for one in said if low <= one.confidence < high and one.verdict != UNKNOWN]
        claimed = sum(one.confidence for one in part)
        true = sum(one.verdict == one.truth for one in part)
        lines.append(
            f"{low:.2f} to {high:.2f}    {len(part):9}"
            f"{percent(claimed, len(part)):>10}{percent(true, len(part)):>10}"
        )
    return "\n".join(lines)


def summary(said: Sequence[Said]) -> str:
    """All tables."""
    unknown = sum(one.verdict == UNKNOWN for one in said)
    sure = sum(one.verdict != UNKNOWN and one.confidence >= SURE for one in said)
    head = (
        f"{len(said)} moments; {percent(unknown, len(said)).strip()} unknown, "
        f"{percent(sure, len(said)).strip()} at a confidence of {SURE} or more"
    )
    return "\n\n".join((head, classes_text(said), reliability_text(said)))


def mistakes_text(said: Sequence[Said]) -> str:
    """Which sure verdicts were wrong, by mishap, moment, verdict and truth."""
    wrong = Counter(
        (one.mishap, one.moment, one.verdict, one.truth)
        for one in said
        if one.confidence >= SURE and one.verdict not in {UNKNOWN, one.truth}
    )
    return "\n".join(f"{count:4}  {', '.join(key)}" for key, count in wrong.most_common())


def judged(
    seed: int, numbers: Sequence[int], law: str, *, has_load: bool, jobs: int = 1
) -> list[Said]:
    """All moments of these machines."""
    run = partial(run_case, seed, law=law, has_load=has_load)
    if jobs == 1:
        return [one for number in numbers for one in run(number)]
    with ProcessPoolExecutor(jobs) as pool:
        return [one for rows in pool.map(run, numbers) for one in rows]


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--machines", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1001)
    parser.add_argument("--law", choices=tuple(LAWS), default="nuclei")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--without-load", action="store_true", help="no load signal is fitted")
    parser.add_argument("--moments", action="store_true", help="every moment, one a line")
    options = parser.parse_args()
    said = judged(
        options.seed,
        range(1, options.machines + 1),
        options.law,
        has_load=not options.without_load,
        jobs=options.jobs,
    )
    fitted = "without" if options.without_load else "with"
    print(f"drawn-{options.seed}-1 to -{options.machines}, law {options.law}, {fitted} load\n")
    if options.moments:
        for one in said:
            print(
                f"{one.mishap:16}{one.moment:16}{one.verdict:15}{one.confidence:5.2f}  "
                f"{one.truth:15}V {100 * one.form_v:6.2f} %, believed {100 * one.believed_v:6.2f} %"
                f", unstable {100 * one.unstable:5.2f} %"
            )
    print(summary(said))
    print(f"\nwrong though sure:\n{mistakes_text(said)}")


if __name__ == "__main__":
    main()
