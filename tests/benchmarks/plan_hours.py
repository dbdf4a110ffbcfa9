"""Whether a plan's hours come true: drawn machines, planned from their files, run on the bench.

Usage: python tests/benchmarks/plan_hours.py [--machines 40] [--seed 1001] [--profile dark]

The plan sees what a machine's owner wrote down, the bench what the machine is. The bench's cook
answers after a minute, as the forecast assumes. Responsible for figures only.
"""

import argparse
import math
import statistics
import sys
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.errors import ProfileError
from controller.files.profile_file import load_profile
from controller.planning.times import course_of
from controller.trials import Trial, run_trial
from controller.wiring import machine_meant

HUMIDITY = 0.5
ANSWER_S = 60.0
LIMIT_S = 8 * 3600.0
PARTS = 20  # p5 is the first of so many cuts
J_PER_KWH = 3.6e6


class Found(NamedTuple):
    """One machine, foretold and run; minutes and a ratio."""

    late_min: float  # than the likely hour
    late_p90_min: float  # than the sure one
    heat_ratio: float  # foretold over used


def tried(name: str, profile_name: str) -> Found | None:
    """Plan it and run it; None where the profile is refused or it never gets ready."""
    machine = machine_meant(name).machine
    try:
        profile = load_profile(profile_name, machine)
    except ProfileError:
        return None
    told = course_of(profile, machine, HUMIDITY)
    outcome = run_trial(
        Trial(profile=profile, machine=name, answer_after_s=ANSWER_S, give_up_after_s=LIMIT_S)
    )
    if not math.isfinite(outcome.ready_s - told.ready_s):
        return None
    heat_j = told.heat_j + told.hold_w * (outcome.lasted_s - outcome.ready_s)
    return Found(
        (outcome.ready_s - told.ready_s) / 60.0,
        (outcome.ready_s - told.ready_p90_s) / 60.0,
        heat_j / J_PER_KWH / outcome.energy_kwh,
    )


def spread(values: list[float], digits: int) -> str:
    """Percentiles in words."""
    cuts = statistics.quantiles(values, n=PARTS)
    p5, median, p95 = (f"{cuts[at]:.{digits}f}" for at in (0, PARTS // 2 - 1, PARTS - 2))
    return f"p5 {p5}, median {median}, p95 {p95}"


def main() -> None:
    """Print how often the two hours held, and how far off they were."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--machines", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1001)
    parser.add_argument("--profile", default="dark")
    asked = parser.parse_args()
    names = [f"drawn-{asked.seed}-{number}" for number in range(1, asked.machines + 1)]
    found = [one for name in names if (one := tried(name, asked.profile)) is not None]
    print(f"{asked.profile}, seed {asked.seed}: {len(found)} of {len(names)} machines got ready")
    for hour, late in (
        ("likely", [one.late_min for one in found]),
        ("sure", [one.late_p90_min for one in found]),
    ):
        held = 100.0 * sum(minutes <= 0.0 for minutes in late) / len(late)
        print(f"{hour} hour: held for {held:.0f} %; later by, min: {spread(late, 0)}")
    print(f"heat, foretold over used: {spread([one.heat_ratio for one in found], 2)}")


if __name__ == "__main__":
    main()
