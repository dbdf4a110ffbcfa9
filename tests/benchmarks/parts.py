"""Whether what `bainward parts` reckons comes true on the bench: switching, melt and hold.

Usage: python tests/benchmarks/parts.py [--machines 8] [--seed 1001]

Each drawn machine runs the profile `dark` three times, with shortest relay times of 2, 5 and 8 s;
reckoned is from the machine's file, as before anything is bought. Responsible for figures only.
"""

import argparse
import statistics
import sys
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import structlog

from controller.clock import VirtualClock
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.records import replace as replaced
from controller.core.state import Mode
from controller.files.attach_shape import BenchAttach
from controller.files.profile_file import load_profile
from controller.planning.heater import heater
from controller.planning.relay_life import S_PER_H, batch_cycles, switches_per_h
from controller.ports import Moment
from controller.trials.trial import BEGAN_UTC, Quitter
from controller.wiring import (
    Order,
    Starter,
    attach_bench,
    execute,
    guarded,
    identity,
    machine_meant,
)

SHORTEST_S = (2.0, 5.0, 8.0)
BOILS_C = 99.97
PATIENCE_S = 8 * S_PER_H
HOLD = "hold"


class Counter:
    """A teller that counts closings and openings, in all and while held at the target."""

    def __init__(self, profile: Profile) -> None:
        """Nothing seen yet."""
        self._profile = profile
        self._on = False
        self.switches = self.held_switches = 0
        self.held_s = self.melted_s = 0.0
        self._began_s: float | None = None

    def tell(self, moment: Moment) -> None:
        """Look."""
        if moment.state.mode is not Mode.RUNNING:
            return
        self._began_s = moment.now_s if self._began_s is None else self._began_s
        progress = moment.state.progress
        phase = self._profile.phases[progress.phase]
        is_held = phase.name == HOLD and progress.reached
        self.held_s += is_held
        if not progress.phase and not progress.reached:
            self.melted_s = moment.now_s - self._began_s
        if moment.heater_on is not self._on:
            self._on = moment.heater_on
            self.switches += 1
            self.held_switches += is_held


class Found(NamedTuple):
    """One run."""

    shortest_s: float
    cycles: float
    reckoned_cycles: float
    per_h: float
    reckoned_per_h: float
    melt_min: float
    reckoned_min: float
    late_min: float  # than nine times in ten


def tried(name: str, shortest_s: float) -> Found | None:
    """Reckon it and run it; None where it never holds."""
    machine_file = machine_meant(name)
    machine = replaced(machine_file.machine, min_on_s=shortest_s, min_off_s=shortest_s)
    profile = load_profile("dark", machine)
    plan = machine_file.attach
    if not isinstance(plan, BenchAttach):
        raise TypeError(name)
    counter = run(machine, profile, plan)
    if not counter.held_s:
        return None
    one = heater(machine.heater_w, machine, profile, BOILS_C)
    melt_s = counter.melted_s
    return Found(
        shortest_s,
        counter.switches / 2.0,
        batch_cycles(one, profile, shortest_s, counter.held_s),
        counter.held_switches / counter.held_s * S_PER_H,
        switches_per_h(one.hold_duty, shortest_s),
        melt_s / 60.0,
        one.melts_s / 60.0,
        (melt_s - one.melts_p90_s) / 60.0,
    )


def run(machine: Machine, profile: Profile, plan: BenchAttach) -> Counter:
    """The whole profile in simulated time."""
    bench = attach_bench(replace(plan, answer_after_s=60.0), machine, profile)
    counter = Counter(profile)
    execute(
        Order(
            profile=profile,
            machine=machine,
            attached=guarded(bench, machine),
            clock=VirtualClock(),
            identity=identity("parts", BEGAN_UTC, profile, machine),
            journal_path=None,
            link=None,
            panels=(Starter(), Quitter(PATIENCE_S)),
            tellers=(counter,),
            log=structlog.get_logger(),
        )
    )
    return counter


def middle(values: list[float]) -> str:
    """Least, median and most."""
    return f"{min(values):.2f} / {statistics.median(values):.2f} / {max(values):.2f}"


def main() -> None:
    """Print what came of what was reckoned."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--machines", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1001)
    asked = parser.parse_args()
    names = [f"drawn-{asked.seed}-{number}" for number in range(1, asked.machines + 1)]
    found = [
        one
        for name in names
        for shortest_s in SHORTEST_S
        if (one := tried(name, shortest_s)) is not None
    ]
    print(f"dark, seed {asked.seed}, {asked.machines} machines; least / median / most")
    for shortest_s in SHORTEST_S:
        rows = [one for one in found if one.shortest_s == shortest_s]
        rate = middle([one.per_h for one in rows])
        share = middle([one.per_h / one.reckoned_per_h for one in rows])
        whole = middle([one.cycles / one.reckoned_cycles for one in rows])
        print(f"{shortest_s:g} s: held {rate} switches an hour, {share} of reckoned;")
        print(f"     a batch's cycles {whole} of reckoned")
    print(f"melt over reckoned: {middle([one.melt_min / one.reckoned_min for one in found])}")
    held = 100.0 * sum(one.late_min <= 0.0 for one in found) / len(found)
    print(f"melted within what holds nine times in ten: {held:.0f} %")


if __name__ == "__main__":
    main()
