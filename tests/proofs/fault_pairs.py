"""Pairs of faults on every shipped profile: no run may crash, heat on, or overheat its bath.

    python tests/proofs/fault_pairs.py [COUNT [SEED]]

Prints what came of COUNT (200) drawn pairs a profile; a line for each run that broke a rule. Each
can be run again by itself: `bainward try PROFILE --machine brisk --fault ... --fault ...`.
"""

import logging
import sys
from pathlib import Path

import structlog

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.helpers.faulted import PROFILES, try_pairs

COUNT = 200
SEED = 1


def main() -> int:
    """Run them all; 1 when a rule was broken."""
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    words = [int(word) for word in sys.argv[1:]]
    count, seed = (*words, *(COUNT, SEED)[len(words) :])
    is_sound = True
    for name in PROFILES:
        tally = try_pairs(name, count, seed)
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
