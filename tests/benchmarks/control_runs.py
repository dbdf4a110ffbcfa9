"""Production runs of the control benchmark: real tick, real loop, the bench's own devices.

Responsible for running a profile on a machine and watching it; not for what is asked (profiles) or
what it amounts to (measures).
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import structlog

from controller.clock import VirtualClock
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.records import replace as replaced
from controller.core.state import Mode
from controller.files.attach_shape import BenchAttach
from controller.ports import Moment, Panel, Question, Request
from controller.wiring import (
    Order,
    Starter,
    attach_bench,
    execute,
    guarded,
    identity,
    machine_meant,
)
from hardware.bench.machines import machine_named
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant
from tests.benchmarks.rivals.eye import Eye, Start
from tests.benchmarks.rivals.stage import Trace

BEGAN_UTC = "2000-01-01T00:00:00+00:00"  # simulated time has no date of its own
PROMPT_S = 1.0  # how long the cook takes who only prepares
COOK_S = 20.0  # and one at work, as in the machine files of the bench


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """A machine of the bench: what it is, and what its owner believes of it."""

    name: str
    parameters: Parameters
    machine: Machine
    plan: BenchAttach
    law: str | None = None  # by which its chocolate crystallises; None: the bench's first


def subject(name: str) -> Subject:
    """The machine of that name, like `drawn-1001-17` or `brisk`.

    Raises:
        BainwardError: there is none.
    """
    found = machine_meant(name)
    if not isinstance(found.attach, BenchAttach):
        raise TypeError(f"{name} is no machine of the bench.")
    return Subject(
        name=name,
        parameters=machine_named(found.attach.machine),
        machine=found.machine,
        plan=found.attach,
    )


def with_relay(one: Subject, shortest_s: float) -> Subject:
    """The machine with a relay that must stay as it is for so long."""
    machine = replaced(one.machine, min_on_s=shortest_s, min_off_s=shortest_s)
    return replace(one, machine=machine)


@dataclass(slots=True, kw_only=True)
class Leg:
    """One phase as it went."""

    trace: Trace
    start: Start
    reached_s: float | None = None  # since its start, as the controller saw it


@dataclass(slots=True, kw_only=True)
class Run:
    """A run as it went."""

    legs: dict[str, Leg] = field(default_factory=dict)
    end: str = ""  # the run's outcome in one word, with the cause of a trip
    simulated_s: float = 0.0
    cpu_s: float = 0.0


class Watcher:
    """A teller that looks at the plant itself."""

    def __init__(self, profile: Profile, plant: Plant) -> None:
        """Nothing seen yet."""
        self.legs: dict[str, Leg] = {}
        self._phases = profile.phases
        self._plant, self._eye = plant, Eye(plant)
        self._phase = -1
        self._trace = Trace(target_c=0.0)
        self._on = False

    def tell(self, moment: Moment) -> None:
        """Look."""
        state = moment.state
        if state.mode is not Mode.RUNNING:
            return
        progress = state.progress
        if progress.phase != self._phase:
            self._phase = progress.phase
            phase = self._phases[progress.phase]
            self._trace = Trace(target_c=phase.bowl_target_c)
            self.legs[phase.name] = Leg(
                trace=self._trace, start=Start.of(self._plant, moment.now_s)
            )
            return
        trace, eye = self._trace, self._eye
        trace.seen.append(eye.seen_c())
        trace.true.append(eye.true_c())
        trace.bath.append(self._plant.bath_c)
        trace.heated.append(moment.heater_on)
        if moment.heater_on is not self._on:
            self._on = moment.heater_on
            trace.switches += 1
        if progress.reached:
            leg = self.legs[self._phases[progress.phase].name]
            if leg.reached_s is None:
                leg.reached_s = progress.phase_s


class Stopwatch:
    """Measures the processor's time of each tick: it is asked first, and fed last."""

    def __init__(self) -> None:
        """Nothing measured yet."""
        self.ticks_ns: list[int] = []
        self._began_ns = 0

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """A tick begins."""
        self._began_ns = time.thread_time_ns()
        return ()

    def feed(self) -> None:
        """A tick is done."""
        self.ticks_ns.append(time.thread_time_ns() - self._began_ns)


def run(
    subject_: Subject,
    profile: Profile,
    *,
    answer_after_s: float = PROMPT_S,
    panels: tuple[Panel, ...] = (),
    feed: Callable[[], object] = lambda: None,
) -> Run:
    """Run it to its end.

    Raises:
        BainwardError: the program failed.
    """
    machine = subject_.machine
    plan = replace(subject_.plan, answer_after_s=answer_after_s)
    bench = attach_bench(plan, machine, profile, law=subject_.law)
    if subject_.parameters != bench.plant.parameters:
        bench.plant.parameters = subject_.parameters
    attached = guarded(bench, machine)
    watcher = Watcher(profile, bench.plant)
    order = Order(
        profile=profile,
        machine=machine,
        attached=replace(attached, panels=(*panels, *attached.panels)),
        clock=VirtualClock(),
        identity=identity(f"benchmark-{profile.name}", BEGAN_UTC, profile, machine),
        journal_path=None,
        link=None,
        panels=(Starter(),),
        tellers=(watcher,),
        feed=feed,
        log=structlog.get_logger(),
    )
    began_s = time.process_time()
    result = execute(order)
    cpu_s = time.process_time() - began_s
    trips = result.state.trips
    return Run(
        legs=watcher.legs,
        end=f"{result.outcome.word} {trips[0].cause}" if trips else result.outcome.word,
        simulated_s=result.state.run_s,
        cpu_s=cpu_s,
    )
