"""Pairs of faults on every shipped profile: no run may crash, heat on, or overheat its bath.

    python tests/proofs/fault_pairs.py [COUNT [SEED]] [--profile NAME ...] [--jobs N]

Prints what came of COUNT (200) drawn pairs a profile; a line for each run that broke a rule. Each
can be run again by itself: `bainward try PROFILE --machine brisk --fault ... --fault ...`.
"""

import argparse
import logging
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import structlog

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.helpers.faulted import PROFILES, Tally, try_pairs

COUNT = 200
SEED = 1


def pairs_of(name: str, count: int, seed: int) -> Tally:
    """What came of a profile's pairs, without a word of the runs' own."""
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    return try_pairs(name, count, seed)


def main() -> int:
    """Run them all; 1 when a rule was broken."""
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("count", nargs="?", type=int, default=COUNT)
    parser.add_argument("seed", nargs="?", type=int, default=SEED)
    parser.add_argument("--profile", action="append", choices=PROFILES)
    parser.add_argument("--jobs", type=int, default=1)
    options = parser.parse_args()
    names = options.profile or PROFILES
    is_sound = True
    with ProcessPoolExecutor(options.jobs) as pool:
        tallies = pool.map(partial(pairs_of, count=options.count, seed=options.seed), names)
        for name, tally in zip(names, tallies, strict=True):
            ends = ", ".join(f"{exits} {word}" for word, exits in sorted(tally.exits.items()))
            print(
                f"{name}: {tally.runs} pairs, {len(tally.complaints)} broke a rule; {ends}; "
                f"hottest bath {tally.bath_max_c:.1f} °C where no fault heats by itself",
                flush=True,
            )
            for complaint in tally.complaints:
                print(f"  {complaint}")
            is_sound = is_sound and not tally.complaints
    return 0 if is_sound else 1


if __name__ == "__main__":
    sys.exit(main())
