"""What the control benchmark measures on one machine: the columns of its row.

Responsible for the numbers; not for runs, nor for what all machines' numbers come to (table). A
number that could not be had, since the run tripped, stopped or never arrived, is NaN, and counts as
a miss wherever numbers are counted.
"""

import math
from collections.abc import Mapping, Sequence

from controller.report.table import Cell
from hardware.bench.parameters import DARK, WATER_J_PER_KG_K, Parameters
from tests.benchmarks import control_profiles as profiles
from tests.benchmarks.control_runs import (
    COOK_S,
    Leg,
    Run,
    Subject,
    run,
    subject,
    with_relay,
)
from tests.benchmarks.control_structures import STRUCTURES, structured
from tests.benchmarks.rivals.bound import Aim, heating_bound
from tests.benchmarks.rivals.controllers import Cascade, SinglePi, Thermostat
from tests.benchmarks.rivals.stage import Rival, Stage, Trace

BAND_K = 0.1
COOL_BAND_K = 0.3
HEATED = ("melt", "rewarm")
RIVALS = ("thermostat", "single_pi", "cascade")
# What a machine may be asked to do; `structures` has the last three.
RUNS = ("curve", "rivals", "relay", "cooling", *STRUCTURES)
ASKED = "runs"  # the column that says what it was asked to do
RELAY_S = 5.0
# Half of the ripple that a relay's shortest pulse makes, over the rise of all it heats, at 5 s: the
# project's study of control on random machines.
HALF_RIPPLE = 0.20
S_PER_H = 3600.0
LONG_S = 3600  # how much longer than the bound rivals are watched, and when their hold begins
IDLE_S = 600  # bath and element give their heat away in less
NEVER = math.nan

Columns = dict[str, Cell]


def overshoot_k(temps: Sequence[float], target_c: float) -> float:
    """How far it went over the target, K; NaN of nothing."""
    return max(0.0, max(temps) - target_c) if temps else NEVER


def entered_s(temps: Sequence[float], target_c: float, band_k: float) -> float:
    """When it came into the band for good, s, counting from the first second; NaN if it is not."""
    for number in range(len(temps) - 1, -1, -1):
        if abs(temps[number] - target_c) > band_k:
            return number + 2.0 if number + 1 < len(temps) else NEVER
    return 1.0 if temps else NEVER


def off_k(temps: Sequence[float], target_c: float) -> float:
    """How far off the target it ever was, K."""
    return max((abs(temp - target_c) for temp in temps), default=NEVER)


def rms_k(temps: Sequence[float], target_c: float) -> float:
    """Root mean square of how far off it was, K."""
    if not temps:
        return NEVER
    return math.sqrt(sum((temp - target_c) ** 2 for temp in temps) / len(temps))


def helpless_s(trace: Trace) -> float:
    """For how long the bowl was over the band though the heater had been off for `IDLE_S`, s.

    A batch that crystallises warms itself and loads its stirrer, and nothing can cool the bath.
    """
    since_s = helpless = 0
    for seen, heated in zip(trace.seen, trace.heated, strict=True):
        since_s = 0 if heated else since_s + 1
        helpless += seen > trace.target_c + BAND_K and since_s >= IDLE_S
    return float(helpless)


def runs_of(machine: str, plan: str) -> list[str]:
    """What a plan asks of a machine: `relay/4` is asked of each fourth, by its number."""
    asked = []
    for word in plan.split():
        name, _, every = word.partition("/")
        number = machine.rpartition("-")[2]
        if not every or int(number) % int(every) == 0:
            asked.append(name)
    return asked


def run_one(machine: str, plan: str, faults: tuple[str, ...]) -> Mapping[str, Cell]:  # noqa: ARG001 - as a sweep's worker calls it
    """All columns of one machine; a plan has words of `RUNS`, see `runs_of`."""
    runs = runs_of(machine, plan)
    return {ASKED: " ".join(runs), **measured(subject(machine), runs)}


def measured(one: Subject, runs: Sequence[str]) -> Columns:
    """The columns that these runs give."""
    columns: Columns = {}
    for name in STRUCTURES:
        if name in runs:
            other = structured(one, name)
            curve = run(other, profiles.curve(other.parameters))
            found = _curve(curve, other, with_rivals=False)
            columns |= {f"{name}_{column}": cell for column, cell in found.items()}
    if "curve" in runs or "rivals" in runs:
        curve = run(one, profiles.curve(one.parameters))
        columns |= _curve(curve, one, with_rivals="rivals" in runs)
    if "relay" in runs:
        columns |= _relay(one)
    if "cooling" in runs:
        columns |= _cooling(run(one, profiles.cooling(), answer_after_s=COOK_S))
    return columns


def _curve(curve: Run, one: Subject, *, with_rivals: bool) -> Columns:
    columns: Columns = {
        "curve_end": curve.end,
        "simulated_per_s": curve.simulated_s / max(curve.cpu_s, 1e-9),
    }
    aims = {phase.name: profiles.aim(phase) for phase in profiles.curve(one.parameters).phases}
    for name in HEATED:
        leg = curve.legs.get(name)
        bound_s = NEVER if leg is None else heating_bound(leg.start, aims[name]).time_s
        columns |= _heated(name, leg, bound_s)
        if with_rivals and leg is not None:
            columns |= _rivals(name, leg, aims[name], bound_s, one)
    return columns | _held(curve) | _stilled(curve)


def _heated(name: str, leg: Leg | None, bound_s: float) -> Columns:
    """Of melt or rewarm. A leg that broke off before its end is judged by what there was of it."""
    trace = Trace(target_c=0.0) if leg is None else leg.trace
    is_there = leg is not None and leg.reached_s is not None
    return {
        f"{name}_over_k": overshoot_k(trace.seen, trace.target_c),
        f"{name}_true_over_k": overshoot_k(trace.true, trace.target_c),
        f"{name}_time_s": entered_s(trace.seen, trace.target_c, BAND_K) if is_there else NEVER,
        f"{name}_bound_s": bound_s,
    }


def _whole(curve: Run, name: str, span_s: float) -> Trace:
    """A leg's first so many seconds; nothing, if there were not so many."""
    leg = curve.legs.get(name)
    span = int(span_s)
    if leg is None or len(leg.trace.seen) < span - 1:  # the first tick is the start
        return Trace(target_c=0.0)
    whole = leg.trace
    return Trace(
        target_c=whole.target_c,
        seen=whole.seen[:span],
        true=whole.true[:span],
        bath=whole.bath[:span],
        heated=whole.heated[:span],
        switches=whole.switches,
    )


def _held(curve: Run) -> Columns:
    hold = _whole(curve, "hold", profiles.HOLD_S)
    return {
        "hold_off_k": off_k(hold.seen, hold.target_c),
        "hold_true_off_k": off_k(hold.true, hold.target_c),
        "hold_rms_k": rms_k(hold.seen, hold.target_c),
        "hold_helpless_s": helpless_s(hold),
    }


def _stilled(curve: Run) -> Columns:
    """Of the stirrer's two minutes off, and of what comes after."""
    still = _whole(curve, "still", profiles.STILL_S)
    after = _whole(curve, "after", profiles.AFTER_S)
    temps = [*still.seen, *after.seen] if still.seen and after.seen else []
    return {
        "still_over_k": overshoot_k(temps, after.target_c),
        "still_under_k": overshoot_k([-temp for temp in temps], -after.target_c),
    }


def _rivals(name: str, leg: Leg, aim: Aim, bound_s: float, one: Subject) -> Columns:
    """Each rival from the very state in which production began the leg; after rewarm it holds."""
    columns: Columns = {}
    long_s = LONG_S + (0 if math.isnan(bound_s) else int(bound_s))
    hold_s = int(profiles.HOLD_S) if name == "rewarm" else 0
    for word, rival in rivals(one, aim).items():
        trace = Stage(leg.start, one.machine).play(rival, aim, long_s + hold_s)
        moved, held = trace.seen[:long_s], trace.seen[long_s:]
        columns[f"{word}_{name}_over_k"] = overshoot_k(moved, aim.target_c)
        columns[f"{word}_{name}_time_s"] = entered_s(moved, aim.target_c, BAND_K)
        if hold_s:
            columns[f"{word}_hold_off_k"] = off_k(held, aim.target_c)
            columns[f"{word}_hold_rms_k"] = rms_k(held, aim.target_c)
    return columns


def rivals(one: Subject, aim: Aim) -> dict[str, Rival]:
    """All rivals, fresh."""
    return {
        "thermostat": Thermostat(),
        "single_pi": SinglePi(one.machine, aim.target_c),
        "cascade": Cascade(one.machine, aim.target_c),
    }


def half_ripple_k(parameters: Parameters, shortest_s: float) -> float:
    """What a relay of so long a shortest pulse can't avoid, K."""
    chocolate_j_per_k = parameters.batch_kg * DARK.cool_j_per_kg_k * parameters.heat_ratio
    vessels_j_per_k = parameters.pot_j_per_k + parameters.bowl_j_per_k
    whole_j_per_k = parameters.water_kg * WATER_J_PER_KG_K + vessels_j_per_k + chocolate_j_per_k
    return HALF_RIPPLE * parameters.heater_w * shortest_s / whole_j_per_k


def _relay(one: Subject) -> Columns:
    held = run(with_relay(one, RELAY_S), profiles.relay(one.parameters))
    hold = _whole(held, "hold", profiles.RELAY_HOLD_S)
    hours = len(hold.seen) / S_PER_H
    return {
        "relay_end": held.end,
        "relay_ripple_k": half_ripple_k(one.parameters, RELAY_S),
        "relay_off_k": off_k(hold.seen, hold.target_c),
        "relay_switches_per_h": hold.switches / hours if hours else NEVER,
    }


def _cooling(cooled: Run) -> Columns:
    leg = cooled.legs.get("cool")
    trace = Trace(target_c=0.0) if leg is None else leg.trace
    is_there = leg is not None and leg.reached_s is not None
    under = overshoot_k([-temp for temp in trace.seen], -trace.target_c)
    return {
        "cooling_end": cooled.end,
        "cool_time_s": entered_s(trace.seen, trace.target_c, COOL_BAND_K) if is_there else NEVER,
        "cool_under_k": under,
    }
