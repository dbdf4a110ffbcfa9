"""How fast the whole loop, its core and a sweep are, beside their goals; and how true the plant is.

Usage: python tests/benchmarks/speed.py [--machines N] [--profile]

Machines are noisy: figures are compared within one run with the barest loop there could be, a plant
of bath and bowl with their two probes and two calls of simple-pid. N (16) drawn machines go through
a whole `dark` on two processes, their start included; 0 leaves that out.
Responsible for figures only; no test depends on them, and a goal that is missed is no failure.
"""

import argparse
import cProfile
import math
import pstats
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import structlog
from simple_pid import PID

from controller.clock import VirtualClock
from controller.core.signals import Reading, Readings, Request, Verb
from controller.core.tick import initial_state, tick
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from controller.trials import Trial, run_trial
from controller.trials.sweep_work import Work, build_text, run_drawn
from controller.trials.sweep_workers import on_cores
from controller.wiring import Order, Starter, attach, execute, identity
from tests.helpers.plant_pair import CLASSIC, Pair
from tests.helpers.records import replace

CORE_TICKS = 20_000
BARE_S = 10_000
# The project's own goals.
GOAL_S_PER_S = 30_000.0
GOAL_TIMES = 1.6  # of the bare loop's cost
GOAL_OFF_K = 0.001
GOAL_SWEEP_S = 240.0
SWEPT, SEED, PROCESSES, MANY = 16, 1001, 2, 1000
TIMES = 3  # the best of so many counts: whatever else the machine does only takes time away


def whole_run(folder: Path) -> tuple[float, float]:
    """Simulated seconds and real seconds of a whole `dark` run, journal included."""
    machine_file = load_machine_file(None)
    profile = load_profile("dark", machine_file.machine)
    order = Order(
        profile=profile,
        machine=machine_file.machine,
        attached=attach(machine_file, profile, VirtualClock()),
        clock=VirtualClock(),
        identity=identity("bench", "2026-01-01T00:00:00+00:00", profile, machine_file.machine),
        journal_path=folder / f"{time.monotonic_ns()}.jsonl",
        link=None,
        panels=(Starter(),),
        tellers=(),
        log=structlog.get_logger(),
    )
    began = time.perf_counter()
    result = execute(order)
    return result.state.run_s, time.perf_counter() - began


def without_record() -> tuple[float, float]:
    """The same as a sweep runs it: no journal, the figures counted on the way."""
    began = time.perf_counter()
    outcome = run_trial(Trial(profile="dark"))
    return outcome.lasted_s, time.perf_counter() - began


def bare_loop() -> tuple[float, float]:
    """`BARE_S` simulated seconds of two nodes by Heun's method under a plain cascade."""
    outer = PID(1.5, 0.002, 0.0, setpoint=45.0, sample_time=None, output_limits=(0.0, 60.0))
    inner = PID(0.29, 0.0008, 0.0, setpoint=50.0, sample_time=None, output_limits=(0.0, 1.0))
    element_w, bath_c, bowl_c, bath_probe_c, bowl_probe_c = 0.0, 20.0, 20.0, 20.0, 20.0

    def rates(
        element_w: float, bath_c: float, bowl_c: float, bath_probe_c: float, bowl_probe_c: float
    ) -> tuple[float, float, float, float, float]:
        through_w = 6.2 * (bath_c - bowl_c)
        steam_w = 1.3 * (0.61094 * math.exp(17.625 * bath_c / (bath_c + 243.04)) - 1.17)
        return (
            (power_w - element_w) / 20.0,
            (element_w - through_w - 2.0 * (bath_c - 20.0) - steam_w) / 12_940.0,
            (through_w - 0.33 * (bowl_c - 20.0)) / 2_685.0,
            (bath_c - bath_probe_c) / 5.0,
            (bowl_c - bowl_probe_c) / 15.0,
        )

    began = time.perf_counter()
    for _ in range(BARE_S):
        inner.setpoint = outer(bowl_probe_c, dt=1.0) or 0.0
        power_w = 500.0 * (inner(bath_probe_c, dt=1.0) or 0.0)
        state = (element_w, bath_c, bowl_c, bath_probe_c, bowl_probe_c)
        now = rates(*state)
        then = rates(*(value + rate for value, rate in zip(state, now, strict=True)))
        element_w, bath_c, bowl_c, bath_probe_c, bowl_probe_c = (
            value + 0.5 * (one + two) for value, one, two in zip(state, now, then, strict=True)
        )
    return BARE_S, time.perf_counter() - began


def pace(run: Callable[[], tuple[float, float]]) -> float:
    """Simulated seconds a second, the best of a few runs."""
    return max(simulated_s / real_s for simulated_s, real_s in (run() for _ in range(TIMES)))


def core_tick() -> float:
    """Seconds a tick of the core alone takes, with steady readings in melt."""
    machine_file = load_machine_file(None)
    machine = replace(machine_file.machine, has_level=False, has_shaft=False)
    profile = load_profile("dark", machine)
    state = initial_state()
    start = Readings(bath=Reading(45.0), bowl=Reading(40.0), requests=(Request(verb=Verb.START),))
    state, _, _ = tick(state, profile, machine, start, 1.0)
    both = (
        Readings(bath=Reading(45.0), bowl=Reading(40.0)),
        Readings(bath=Reading(45.0625), bowl=Reading(40.0625)),
    )
    began = time.perf_counter()
    for number in range(CORE_TICKS):
        state, _, _ = tick(state, profile, machine, both[number % 2], 1.0)
    return (time.perf_counter() - began) / CORE_TICKS


def off_k() -> float:
    """How far the plant is off a tight solution at most, over a whole run of the classic dip, K."""
    pair = Pair("pools")
    return max(apart_k for leg in CLASSIC for apart_k in pair.run(leg))


def sweep_s(machines: int) -> float:
    """Real seconds that so many drawn machines take through `dark` on two processes."""
    work = Work(
        profile="dark",
        profile_text=None,
        seed=SEED,
        faults=(),
        build=build_text(),
        run_one=run_drawn,
    )
    began = time.perf_counter()
    rows = sum(map(len, on_cores(PROCESSES)(work, range(1, machines + 1))))
    if rows != machines:
        raise RuntimeError(f"Only {rows} of {machines} machines came to their end.")
    return time.perf_counter() - began


def told(name: str, figure: str, *, goal: str = "", met: bool = True) -> None:
    """Print one line; a goal and whether it is met, where there is one."""
    verdict = f"  (goal {goal}: {'met' if met else 'MISSED'})" if goal else ""
    print(f"{name:24} {figure}{verdict}", flush=True)


def tell_truth_and_sweep(machines: int) -> None:
    """Print how true the plant is, and how long a sweep takes."""
    off = off_k()
    told("plant, whole run", f"{off:.5f} K off", goal=f"{GOAL_OFF_K:g} K", met=off <= GOAL_OFF_K)
    if machines:
        took_s = sweep_s(machines)
        many_s = took_s / machines * MANY
        told(
            "dark, two processes",
            f"{machines} machines in {took_s:.1f} s, so {MANY} in {many_s:.0f} s",
            goal=f"{GOAL_SWEEP_S:g} s",
            met=many_s <= GOAL_SWEEP_S,
        )


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("--machines", type=int, default=SWEPT)
    parser.add_argument("--profile", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        recorded = pace(lambda: whole_run(Path(folder)))
    plain = pace(without_record)
    bare = pace(bare_loop)
    tick_s = min(core_tick() for _ in range(TIMES))
    per_s = "simulated seconds a second"
    told("whole loop, recorded", f"{recorded:.0f} {per_s}")
    goal = f"{GOAL_S_PER_S:g}"
    told("whole loop, as in sweeps", f"{plain:.0f} {per_s}", goal=goal, met=plain >= GOAL_S_PER_S)
    told("bare loop", f"{bare:.0f} {per_s}")
    times = bare / plain
    told(
        "whole loop's cost",
        f"{times:.1f} bare ones",
        goal=f"{GOAL_TIMES:g}",
        met=times <= GOAL_TIMES,
    )
    told("core", f"{tick_s * 1e6:.1f} microseconds a tick")
    tell_truth_and_sweep(options.machines)
    if options.profile:
        with cProfile.Profile() as profiler:
            without_record()
        pstats.Stats(profiler).sort_stats("tottime").print_stats(25)


if __name__ == "__main__":
    main()
