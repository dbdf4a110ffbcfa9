"""Millions of random steps of the guard, every invariant looked at after each.

Usage: python tests/proofs/fuzz_guard.py [--steps 5000000] [--seed 1] [--processes 2]

Histories come from small pools, so that one step and its checks take about ten microseconds.
Responsible for speed and variety; what must hold stands in tests/helpers/guard_invariants.py.
"""

import argparse
import os
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.guard.decision import Cause, Guard, Sight, begin, step
from tests.helpers.guard_histories import SMALL, STARTS, history
from tests.helpers.guard_invariants import broken

LENGTH = 400  # steps of one history, long enough for several runs one after the other
POOL = 64  # histories drawn anew, then replayed from other states
REPLAYS = 12


def pools(rng: Random) -> list[list[Sight]]:
    """Histories to play."""
    drawn = []
    for _ in range(POOL):
        sights = history(rng)
        drawn.append([next(sights) for _ in range(LENGTH)])
    return drawn


def fuzz(seed: int, steps: int) -> Counter[str]:
    """How often heat was on and each cause was latched; AssertionError at the first breach."""
    rng = Random(seed)  # noqa: S311 - reproducible, not secret
    seen: Counter[str] = Counter()
    done = 0
    while done < steps:
        drawn = pools(rng)
        for _ in range(REPLAYS):
            for sights in drawn:
                # Another start of the clock and of the history makes other ages of everything.
                first = rng.randrange(LENGTH // 2)
                guard = begin(sights[first].now_ms - rng.randrange(3), rng.choice(STARTS))
                done += play(guard, sights[first:], seen)
            if done >= steps:
                break
    seen["steps"] = done
    return seen


def play(guard: Guard, sights: list[Sight], seen: Counter[str]) -> int:
    """Step through a history; how many steps that were."""
    heated = 0
    for sight in sights:
        after = step(guard, sight, SMALL)
        name = broken(guard, sight, after, SMALL)
        assert not name, (name, guard, sight, after)
        if after.latched is not guard.latched:
            seen[after.latched] += 1
        heated += after.heat
        guard = after
    seen["heat"] += heated
    return len(sights)


def main() -> None:
    """Fuzz, and print what was met."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--steps", type=int, default=5_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    began = time.perf_counter()
    share = -(-options.steps // options.processes)
    seeds = range(options.seed, options.seed + options.processes)
    total: Counter[str] = Counter()
    with ProcessPoolExecutor(options.processes) as pool:
        for seen in pool.map(fuzz, seeds, [share] * options.processes):
            total.update(seen)
    took_s = time.perf_counter() - began
    steps = total["steps"]
    missed = [cause for cause in Cause if cause not in NEVER_HERE and not total[cause]]
    assert not missed, f"never latched: {missed}"
    print(f"{steps} steps, no invariant broken, {steps / took_s:.0f} steps/s")
    print(f"heat was on in {total['heat']} of them; latched: ", end="")
    print(", ".join(f"{cause} {total[cause]}" for cause in Cause if total[cause]))


# Only a start can bring these: the latch file's own causes.
NEVER_HERE = {Cause.NONE, Cause.GUARD_RESTARTED, Cause.LATCH_UNREADABLE}

if __name__ == "__main__":
    main()
