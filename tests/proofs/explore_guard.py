"""Every state that the guard can come into, with small counters, and every step out of it.

Usage: python tests/proofs/explore_guard.py [--short]

Takes some minutes; the short one has smaller counters yet and takes seconds.
Responsible for the command; the walk itself stands in tests/helpers/guard_exploration.py.
"""

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.guard.decision import Cause
from tests.helpers.guard_exploration import LONG, SHORT, alphabet, explore

ENOUGH = 100_000  # states of the long exploration, at least


def main() -> None:
    """Explore, and print what was met."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--short", action="store_true")
    options = parser.parse_args()
    limits = SHORT if options.short else LONG
    began = time.perf_counter()
    found = explore(limits)
    took_s = time.perf_counter() - began
    print(
        f"{found.states} states, all of them, {found.transitions} transitions "
        f"({len(alphabet(limits))} sights in each), {found.transitions / took_s:.0f} a second"
    )
    print(
        f"heat is on in {found.with_heat}; a person gets heat again from all but {found.dead}; "
        f"invariants broken: {len(found.breaches)}"
    )
    print(", ".join(f"{cause} {found.by_cause[cause]}" for cause in Cause))
    for breach in found.breaches[:10]:
        print(breach)
    short_of = not options.short and found.states < ENOUGH
    sys.exit(bool(found.breaches or found.dead or short_of or not found.whole))


if __name__ == "__main__":
    main()
