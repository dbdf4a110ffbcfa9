"""The rows of the control benchmark that are about one machine, or about speed.

Responsible for cold chocolate added on `brisk`, for the whole way from solid to ready on two
machines, and for what the program costs; not for the rows over drawn machines (table).
"""

import math
import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

from controller.core.profile import Phase
from controller.files.profile_file import load_profile
from controller.report.table import Row
from tests.benchmarks import control_profiles as profiles
from tests.benchmarks.control_measures import BAND_K, entered_s, overshoot_k
from tests.benchmarks.control_numbers import percentile, values
from tests.benchmarks.control_runs import COOK_S, Leg, Stopwatch, run, subject
from tests.benchmarks.control_table import Line
from tests.benchmarks.rivals.bound import Swap, cooling_bound, heating_bound
from tests.benchmarks.rivals.eye import Start

BACK_S = 180.0
READY_RATIO = 1.15
COOL_BEYOND_K = 0.3
SHARES = tuple(tenth / 10 for tenth in range(2, 11))  # of the bath, tried for the best swap
S_PER_MIN = 60.0
TICK_P99_MS, CORE_SHARE, RESIDENT_MIB, SIMULATED_PER_S = 2.0, 0.002, 50.0, 20_000.0
STARTED_S = 8.0  # by then a daemon has started and what it costs is what it goes on to cost


def addition() -> Line:
    """200 g of cold chocolate, announced."""
    one = subject("brisk")
    leg = run(one, profiles.addition(one.parameters)).legs.get("added")
    seen = [] if leg is None else leg.trace.seen
    back_s = entered_s(seen, profiles.WORK_C, BAND_K)
    dip_k = overshoot_k([-temp for temp in seen], -profiles.WORK_C)
    bound_s = math.nan
    if leg is not None:
        cold = leg.start.again()
        cold.add_seed(profiles.ADDED_SHARE * one.machine.batch_kg)
        aim = profiles.aim(profiles.addition(one.parameters).phases[-1])
        bound_s = heating_bound(Start(plant=cold, now_s=leg.start.now_s), aim).time_s
    back = "never" if math.isnan(back_s) else f"{back_s:.0f} s"
    return Line(
        title="200 g of tempered pieces at 20 °C added to `brisk`, announced by a question",
        goals=("back in ±0.1 K in ≤ 180 s",),
        reached=f"{back} after a dip of {dip_k:.2f} K (the bound: {bound_s:.0f} s)",
        met=(back_s <= BACK_S,),
    )


def ready(name: str) -> Line:
    """The shipped profile `dark` from solid to ready, part by part against physics."""
    one = subject(name)
    dark = load_profile("dark", one.machine)
    went = run(one, dark, answer_after_s=COOK_S)
    parts: list[str] = []
    took_s = best_s = 0.0
    for phase in dark.phases[:3]:
        leg = went.legs.get(phase.name)
        if leg is None:
            return _not_ready(name, went.end)
        asked_s = phase.settle_s + phase.dwell_s
        own_s, bound_s = len(leg.trace.seen) + 1 - asked_s, _bound_s(phase, leg)
        took_s, best_s = took_s + own_s + asked_s, best_s + bound_s + asked_s
        parts.append(
            f"{phase.name} {own_s / S_PER_MIN:.1f} of {bound_s / S_PER_MIN:.1f}"
            f" and {asked_s / S_PER_MIN:g} asked for"
        )
    hold = went.legs.get("hold")
    if hold is None or hold.reached_s is None:
        return _not_ready(name, went.end)
    took_s, best_s = took_s + hold.reached_s, best_s + dark.phases[3].settle_s
    share = took_s / best_s
    return Line(
        title=f"solid to ready, profile `dark` on `{name}`, min of the bound",
        goals=(f"≤ {READY_RATIO} times the bounds and what the profile asks for",),
        reached=f"{share:.2f} times: {took_s / S_PER_MIN:.0f} of {best_s / S_PER_MIN:.0f}"
        f" ({'; '.join(parts)})",
        met=(share <= READY_RATIO,),
    )


def _not_ready(name: str, end: str) -> Line:
    return Line(
        title=f"solid to ready, profile `dark` on `{name}`",
        goals=(f"≤ {READY_RATIO} times the bound",),
        reached=f"never ({end})",
        met=(False,),
    )


def _bound_s(phase: Phase, leg: Leg) -> float:
    """Into the phase's own tolerance; a swap is done when the cook does it."""
    swaps = [one for one in phase.questions if one.water_c is not None]
    if swaps:
        aim = profiles.aim(phase, phase.tolerance_k, COOL_BEYOND_K)
        water_c = swaps[0].water_c or 0.0
        swap = Swap(water_c=water_c, after_s=COOK_S, shares=SHARES)
        return cooling_bound(leg.start, aim, swap).time_s
    return heating_bound(leg.start, profiles.aim(phase, phase.tolerance_k)).time_s


def speed(rows: Sequence[Row], daemon: Mapping[str, float]) -> Line:
    """What the program costs."""
    one = subject("reference")
    watch = Stopwatch()
    whole = run(one, load_profile("dark", one.machine), panels=(watch,), feed=watch.feed)
    p99_ms = percentile([float(tick) for tick in watch.ticks_ns], 0.99) / 1e6
    many = values(rows, "simulated_per_s")
    per_s = percentile(many, 0.5) if many else whole.simulated_s / whole.cpu_s
    met = [per_s >= SIMULATED_PER_S, p99_ms <= TICK_P99_MS]
    reached = f"{per_s:.0f} simulated s per s of processor; {p99_ms:.2f} ms in simulated time"
    if daemon:
        reached += (
            f"; at 1 Hz {daemon['core_share']:.2%} of a core, {daemon['resident_mib']:.0f} MiB"
        )
        met.append(daemon["core_share"] <= CORE_SHARE)
        met.append(daemon["resident_mib"] <= RESIDENT_MIB)
    return Line(
        title="speed: whole loop; p99 of a tick's work; daemon",
        goals=("≥ 20 000", "≤ 2 ms", "≤ 0.2 %", "≤ 50 MiB"),
        reached=reached,
        met=tuple(met),
    )


def daemon_cost(span_s: float) -> dict[str, float]:
    """What `bainward try` costs at 1 Hz over so many real seconds, once it has started."""
    if span_s <= 0.0:
        return {}
    command = Path(sys.executable).parent / "bainward"
    process = subprocess.Popen(
        [command, "try", "dark", "--speed", "1", "--no-broker"],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        _wait(STARTED_S)
        before_s, began_s = _cpu_s(process.pid), time.perf_counter()
        _wait(span_s)
        spent_s, lasted_s = _cpu_s(process.pid) - before_s, time.perf_counter() - began_s
        resident_mib = _resident_mib(process.pid)
    finally:
        process.kill()
        process.wait()
    return {"core_share": spent_s / lasted_s, "resident_mib": resident_mib}


def _wait(span_s: float) -> None:
    """Let real seconds pass: this measures a real daemon."""
    subprocess.run(["sleep", str(span_s)], check=True)


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    user, system = int(fields[11]), int(fields[12])  # proc(5): utime and stime
    return (user + system) / os.sysconf("SC_CLK_TCK")


def _resident_mib(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
    line = next(line for line in status.splitlines() if line.startswith("VmRSS:"))
    return int(line.split()[1]) / 1024
