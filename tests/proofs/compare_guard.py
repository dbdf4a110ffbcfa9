"""The guard against the slow reference, on many random histories.

Usage: python tests/proofs/compare_guard.py [--histories 5000] [--seed 1]

Responsible for the long version of tests/property/test_guard_properties.py.
"""

import argparse
import sys
import time
from collections import Counter
from itertools import islice
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.guard.decision import begin, step
from tests.helpers.guard_histories import SMALL, STARTS, history
from tests.helpers.guard_reference import Verdict, judge_all

SHORTEST, LONGEST = 5, 40


def main() -> None:
    """Compare, and print how much of what was met."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--histories", type=int, default=5_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    rng = Random(options.seed)  # noqa: S311 - reproducible, not secret
    met: Counter[str] = Counter()
    began = time.perf_counter()
    for _ in range(options.histories):
        start, latched = rng.randrange(60), rng.choice(STARTS)
        seen = list(islice(history(rng), start, start + rng.randint(SHORTEST, LONGEST)))
        guard = begin(0, latched)
        for sight, want in zip(seen, judge_all(seen, SMALL, latched=latched), strict=True):
            guard = step(guard, sight, SMALL)
            said = Verdict(
                heat=guard.heat,
                latched=guard.latched,
                armed=guard.armed,
                alone=guard.alone,
                causes=guard.causes,
            )
            assert said == want, (seen, guard, want)
            met[guard.latched] += 1
            met["steps"] += 1
            met["with heat"] += guard.heat
    took_s = time.perf_counter() - began
    print(f"{options.histories} histories, no difference, {took_s:.0f} s")
    print(", ".join(f"{what} {count}" for what, count in met.items()))


if __name__ == "__main__":
    main()
