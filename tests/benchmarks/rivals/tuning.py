"""Tunes the rivals that have numbers of their own, on machines that no one is judged on.

Usage: python tests/benchmarks/rivals/tuning.py [--machines 24] [--seed 1]

Responsible for the choice of the thermostat's hysteresis and of the single loop's gain and integral
time; the cascade takes its gains from a textbook's rule and has nothing to tune. Each setting is
tried on melt and rewarm of every machine, from the very states in which production meets them. The
price of a leg is the time-weighted integral of the absolute error, ITAE, which forgives the
unavoidable way up and punishes what comes late: overshoot and swinging. A setting's price is the
mean of the medians over machines of both legs, each over the best median that any setting has.
"""

import argparse
import sys
from collections.abc import Callable, Mapping
from itertools import product
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from controller.core.machine import Machine
from controller.core.records import replace
from tests.benchmarks.control_profiles import aim, curve
from tests.benchmarks.control_runs import run, subject
from tests.benchmarks.rivals.bound import Aim
from tests.benchmarks.rivals.controllers import SinglePi, Thermostat
from tests.benchmarks.rivals.eye import Start
from tests.benchmarks.rivals.stage import Rival, Stage

LEGS = ("melt", "rewarm")
SPAN_S = 5400
HYSTERESES_K = (0.02, 0.05, 0.1, 0.2, 0.4)
GAINS = (0.05, 0.1, 0.2, 0.3, 0.4, 0.6, 0.9)  # duty per K
TIMES_S = (1200.0, 2400.0, 3600.0, 5400.0, 10800.0)
SEED_MAX = 99

Case = tuple[Machine, Start, Aim]
Make = Callable[[Machine, float], Rival]


def cases(name: str) -> dict[str, Case]:
    """The two legs of a machine, as production begins them."""
    one = subject(name)
    profile = curve(one.parameters)
    short = replace(profile, phases=profile.phases[:3])
    legs = run(one, short).legs
    return {
        phase.name: (one.machine, legs[phase.name].start, aim(phase))
        for phase in short.phases
        if phase.name in LEGS and phase.name in legs
    }


def itae(case: Case, make: Make) -> float:
    """Time-weighted integral of the absolute error of one leg, K s²."""
    machine, start, wanted = case
    trace = Stage(start, machine).play(make(machine, wanted.target_c), wanted, SPAN_S)
    return sum(second * abs(seen - wanted.target_c) for second, seen in enumerate(trace.seen))


def prices(machines: list[dict[str, Case]], makes: Mapping[str, Make]) -> dict[str, float]:
    """Each setting's price; 1 is as good in both legs as the best is in each."""
    medians = {
        leg: {
            word: median(itae(legs[leg], make) for legs in machines if leg in legs)
            for word, make in makes.items()
        }
        for leg in LEGS
    }
    best = {leg: min(medians[leg].values()) for leg in LEGS}
    return {word: sum(medians[leg][word] / best[leg] for leg in LEGS) / 2 for word in makes}


def thermostats() -> dict[str, Make]:
    """The hystereses to try."""

    def make(width_k: float) -> Make:
        return lambda _machine, _target_c: Thermostat(width_k)

    return {f"hysteresis {width_k:g} K": make(width_k) for width_k in HYSTERESES_K}


def loops() -> dict[str, Make]:
    """The settings of the single loop to try."""

    def make(gain: float, ti_s: float) -> Make:
        return lambda machine, target_c: SinglePi(machine, target_c, gain, ti_s)

    return {
        f"gain {gain:g} per K, integral time {ti_s:g} s": make(gain, ti_s)
        for gain, ti_s in product(GAINS, TIMES_S)
    }


def main() -> None:
    """Print the prices, best first."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--machines", type=int, default=24)
    parser.add_argument("--seed", type=int, default=1, choices=range(1, SEED_MAX + 1), metavar="S")
    options = parser.parse_args()
    machines = [cases(f"drawn-{options.seed}-{n}") for n in range(1, options.machines + 1)]
    for title, makes in (("Thermostat", thermostats()), ("Single PI", loops())):
        print(f"{title}: price over the best of each leg, on {options.machines} machines")
        for word, price in sorted(prices(machines, makes).items(), key=lambda item: item[1])[:12]:
            print(f"  {price:6.3f}  {word}")


if __name__ == "__main__":
    main()
