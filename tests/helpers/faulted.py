"""Trials with faults for tests: cut short, watched, and judged by what is true of every one.

Responsible for running and watching; not for which cause a fault must end with.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from random import Random

from controller.core.profile import Profile, StopStirrer
from controller.core.records import replace
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.files.profile_file import load_profile, shipped_profiles
from controller.ports import Moment
from controller.trials import Outcome, Trial, run_trial
from controller.trials.faults import BEFORE_THE_RUN, parse_fault
from controller.wiring import BenchFault

PROFILES = tuple(shipped_profiles())
MACHINE = "brisk"
EVERYTHING = ("level", "shaft", "load")  # but what sees the heater: temperatures must do here
# With these the water is heated by what no controller can switch off.
HEATS_BY_ITSELF = {BenchFault.RELAY_WELDED, BenchFault.WATER_BOILING}
# So far over its cut-off may a bath come whose heat is cut at once, K (own engineering value: the
# element's own heat, 20 s of full power, into a bath of which little is left).
OVER_K = 6.0
DELAYS_S = (0, 600)
LASTS = ("", "/20s", "/5min", "/30min")


def phases_of(name: str) -> list[str]:
    """The phases of a shipped profile."""
    return [phase.name for phase in profile_named(name).phases]


def profile_named(name: str) -> Profile:
    """A shipped profile whose stirrer stops with the run, so that the run ends then, too."""
    machine = load_machine_file(bench_machine_path(MACHINE)).machine
    return replace(load_profile(name, machine), stop_stirrer=StopStirrer.OFF)


@dataclass(slots=True)
class Watch:
    """A teller that notes when heat was last asked for, and what was told when."""

    heat_s: float = -math.inf  # last moment at which the heater was commanded on
    is_on: bool = False
    told_s: dict[str, float] = field(default_factory=dict)  # by cause: the first alarm, no trip

    def tell(self, moment: Moment) -> None:
        """Note it."""
        self.is_on = moment.heater_on
        if moment.heater_on:
            self.heat_s = moment.state.run_s
        for notice in moment.state.notices:
            self.told_s.setdefault(notice.cause, notice.at_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """What came of a trial with faults."""

    outcome: Outcome
    watch: Watch

    @property
    def cause(self) -> str | None:
        """Of the first trip."""
        return self.outcome.trips[0].cause if self.outcome.trips else None

    def since(self, phase: str, after_s: float) -> float:
        """The moment of a fault in run time, s."""
        (begun,) = [each for each in self.outcome.phases if each.name == phase]
        return begun.start_s + after_s


def spec(fault: BenchFault, when: str) -> str:
    """A fault with its moment, unless it must be there before the run."""
    return str(fault) if BEFORE_THE_RUN & set(fault.acts) else f"{fault}{when}"


def run_faulted(
    name: str,
    faults: Sequence[str],
    *,
    give_up_after_s: float | None = None,
    seed: int = 1,
    fitted: tuple[str, ...] = EVERYTHING,
) -> Watched:
    """Run a shipped profile on a quick machine that is fitted with these."""
    watch = Watch()
    trial = Trial(
        profile=profile_named(name),
        machine=MACHINE,
        seed=seed,
        faults=tuple(faults),
        fitted=fitted,
        give_up_after_s=give_up_after_s,
    )
    return Watched(outcome=run_trial(trial, tellers=(watch,)), watch=watch)


def complaints(run: Watched, faults: Sequence[str]) -> list[str]:
    """What must not be said of any run, whatever was broken."""
    outcome, found = run.outcome, []
    if run.watch.is_on and not any(
        parse_fault(text).fault is BenchFault.POWER_CUT for text in faults
    ):
        found.append("heat was asked for at the end")
    if outcome.exit is Exit.CRASHED:
        found.append("the program failed")
    if outcome.trips and outcome.exit is not Exit.TRIPPED:
        found.append("a trip did not show in the exit code")
    if outcome.trips and run.watch.heat_s > outcome.trips[0].at_s:
        found.append("heat was asked for after a trip")
    cap_c = load_machine_file(bench_machine_path(MACHINE)).machine.bath_max_c
    broken = {parse_fault(text).fault for text in faults}
    if not broken & HEATS_BY_ITSELF and not outcome.bath_max_c <= cap_c + OVER_K:
        found.append(f"the bath came to {outcome.bath_max_c:.1f} °C")
    return found


def drawn_pairs(name: str, count: int, seed: int) -> Iterator[tuple[str, str]]:
    """So many pairs of faults at drawn moments of a profile; the same seed, the same pairs."""
    chance, phases = Random(f"{seed}/{name}"), phases_of(name)  # noqa: S311 - a draw, not a secret
    known = list(BenchFault)
    for _ in range(count):
        first, second = chance.sample(known, 2)
        yield _drawn(first, phases, chance), _drawn(second, phases, chance)


def _drawn(fault: BenchFault, phases: Sequence[str], chance: Random) -> str:
    when = f"@{chance.choice(phases)}+{chance.randint(*DELAYS_S)}s"
    return spec(fault, when if fault.once else when + chance.choice(LASTS))


@dataclass(slots=True)
class Tally:
    """What came of many pairs."""

    runs: int = 0
    exits: Counter[str] = field(default_factory=Counter)
    complaints: list[str] = field(default_factory=list)
    bath_max_c: float = -math.inf  # but for faults that heat by themselves


def try_pairs(name: str, count: int, seed: int, *, give_up_after_s: float | None = None) -> Tally:
    """Run drawn pairs on one profile."""
    tally = Tally()
    for number, pair in enumerate(drawn_pairs(name, count, seed), start=1):
        tally.runs += 1
        try:
            run = run_faulted(name, pair, give_up_after_s=give_up_after_s, seed=number)
        except Exception as error:  # noqa: BLE001 - whatever it is, it must not come
            tally.complaints.append(f"{name}: {' '.join(pair)}: {error!r}")
            continue
        tally.exits[run.outcome.exit.word] += 1
        tally.complaints += [f"{name}: {' '.join(pair)}: {what}" for what in complaints(run, pair)]
        if not {parse_fault(text).fault for text in pair} & HEATS_BY_ITSELF:
            tally.bath_max_c = max(tally.bath_max_c, run.outcome.bath_max_c)
    return tally
