"""Long job: real guards and controllers, real faults, each at a random moment, from outside.

Run as `python tests/proofs/guard_campaign.py [CASES]`, 315 by default (about 5 minutes). Prints a
table; ends with 1 when heat stayed on for more than 3 s or a wrong cause latched.
"""

import sys
import tempfile
from collections import defaultdict
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.helpers.guard_faults import FAULTS, MOST_S, Outcome, run_case
from tests.helpers.guard_stage import LIVELY, USUAL

CASES = 315  # 21 of each of 15 faults
SIDE_BY_SIDE = 4
EACH_USUAL = 10  # one case in so many runs with the guard's usual limits and a lease a second
SLOW = "thermometer"  # latches after 30 s by the usual limits: only ever run lively


def limits_of(name: str, seed: int) -> str:
    """Which limits a case runs with."""
    usual = seed % EACH_USUAL == 0 and SLOW not in name and name != "guard frozen, then thawed"
    return USUAL if usual else LIVELY


def say(line: str) -> None:
    """Print one line."""
    sys.stdout.write(f"{line}\n")


def line_of(name: str, outcomes: list[Outcome], failures: int) -> str:
    """One row of the table."""
    times = sorted(outcome.off_s for outcome in outcomes)
    causes = " ".join(sorted({outcome.cause.value for outcome in outcomes}))
    row = f"{name:36} {len(outcomes) + failures:5} {failures:6}"
    if not times:
        return row
    p50, p99 = (times[min(len(times) - 1, int(len(times) * share))] for share in (0.5, 0.99))
    return f"{row} {p50:6.3f} {p99:6.3f} {times[-1]:6.3f}  {causes}"


def campaign(cases: int) -> int:
    """Run them; the number of failures."""
    outcomes: dict[str, list[Outcome]] = defaultdict(list)
    failures: dict[str, list[str]] = defaultdict(list)
    with tempfile.TemporaryDirectory() as root, ThreadPoolExecutor(SIDE_BY_SIDE) as pool:
        names = tuple(FAULTS)
        waiting: dict[Future[Outcome], str] = {}
        for number in range(cases):
            name, seed = names[number % len(names)], number // len(names)
            folder = Path(root) / str(number)
            waiting[pool.submit(run_case, name, seed, folder, limits_of(name, seed))] = name
        for case in as_completed(waiting):
            error = case.exception()
            if error is None:
                outcomes[waiting[case]].append(case.result())
            else:
                failures[waiting[case]].append(repr(error))
    say(f"{'fault':36} {'cases':>5} {'failed':>6} {'p50 s':>6} {'p99 s':>6} {'max s':>6}  latched")
    for name in FAULTS:
        say(line_of(name, outcomes[name], len(failures[name])))
    everything = [outcome for some in outcomes.values() for outcome in some]
    failed = sum(map(len, failures.values()))
    say(line_of("all", everything, failed))
    for name, what in failures.items():
        for one in what:
            say(f"FAILED {name}: {one}")
    say(f"promised: heat off within {MOST_S:g} s; a killed guard's file line stays until the next")
    say("guard starts (here at once), which is for the service manager and the hardware")
    return failed


if __name__ == "__main__":
    sys.exit(1 if campaign(int(sys.argv[1]) if len(sys.argv) > 1 else CASES) else 0)
