"""How fast the whole loop and its core are: run it, and read the ratios.

Usage: python tests/benchmarks/speed.py

Machines are noisy: figures are compared within one run, against a bare bench stepped by itself.
Responsible for figures only; no test depends on them.
"""

import cProfile
import pstats
import sys
import tempfile
import time
from pathlib import Path

from tests.helpers.records import replace

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import structlog

from controller.clock import VirtualClock
from controller.core.signals import Reading, Readings, Request, Verb
from controller.core.tick import initial_state, tick
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from controller.wiring import Order, Starter, attach, execute, identity

CORE_TICKS = 20_000
BARE_S = 10_000


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
        journal_path=folder / "bench.jsonl",
        link=None,
        panels=(Starter(),),
        tellers=(),
        log=structlog.get_logger(),
    )
    began = time.perf_counter()
    result = execute(order)
    return result.state.run_s, time.perf_counter() - began


def bare_bench() -> float:
    """Real seconds for `BARE_S` simulated seconds of the bench alone, all parts used."""
    machine_file = load_machine_file(None)
    profile = load_profile("dark", machine_file.machine)
    devices = attach(machine_file, profile, VirtualClock()).devices
    began = time.perf_counter()
    for second in range(BARE_S):
        devices.bath.read(float(second))
        devices.bowl.read(float(second))
        devices.heater.drive(on=second % 4 == 0, now_s=float(second))
    return time.perf_counter() - began


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


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        simulated_s, real_s = whole_run(Path(folder))
    bare_s = bare_bench()
    tick_s = core_tick()
    whole = real_s / simulated_s
    bare = bare_s / BARE_S
    print(f"whole loop     {simulated_s / real_s:10.0f} simulated seconds a second")
    print(f"bench alone    {1 / bare:10.0f} simulated seconds a second")
    print(f"core           {tick_s * 1e6:10.1f} microseconds a tick")
    print(f"relative cost  whole loop {whole / bare:.1f}, core {tick_s / bare:.1f}, bench alone 1")
    if "--profile" in sys.argv:
        with tempfile.TemporaryDirectory() as folder, cProfile.Profile() as profiler:
            whole_run(Path(folder))
        pstats.Stats(profiler).sort_stats("tottime").print_stats(25)


if __name__ == "__main__":
    main()
