"""Whole runs for tests: a profile on a bench machine in virtual time, through the real wiring.

Responsible for putting a run together and reading its record back; not for any expectation.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import structlog

from controller.clock import VirtualClock
from controller.core.profile import Profile
from controller.core.state import State
from controller.daemon import Daemon
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile, bench_machine_path, load_machine_file
from controller.files.profile_file import load_profile, seed_share
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.link.settings import LinkSettings
from controller.ports import Moment, Panel, Teller
from controller.report.shapes import Summary
from controller.report.summary import summarise
from controller.wiring import (
    Attached,
    Order,
    Result,
    Starter,
    attach,
    execute,
    identity,
)
from hardware.bench.attach import Bench, BenchFault
from hardware.bench.attach import attach as attach_bench
from tests.helpers.records import replace

RUN_ID = "a-run"
BEGAN = "2026-01-01T06:00:00+00:00"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """A run and everything that came of it."""

    result: Result
    record: Run
    summary: Summary
    path: Path

    @property
    def causes(self) -> list[str]:
        """Causes of the trips, oldest first."""
        return [trip.cause for trip in self.result.state.trips]


def bench_machine(name: str = "reference", *, seed: int = 1) -> MachineFile:
    """A shipped bench machine with another seed of its noise."""
    machine_file = load_machine_file(bench_machine_path(name))
    assert isinstance(machine_file.attach, BenchAttach)
    return replace(machine_file, attach=replace(machine_file.attach, seed=seed))


def run_on_bench(
    profile_name: str,
    folder: Path,
    *,
    machine: str = "reference",
    seed: int = 1,
    panels: tuple[Panel, ...] = (),
    tellers: tuple[Teller, ...] = (),
    link: LinkSettings | None = None,
) -> Finished:
    """Run a shipped profile, or a file, to its end on an undisturbed bench."""
    machine_file = bench_machine(machine, seed=seed)
    profile = load_profile(profile_name, machine_file.machine)
    attached = attach(machine_file, profile, VirtualClock())
    return finish(
        machine_file, profile, attached, folder, panels=panels, tellers=tellers, link=link
    )


def finish(
    machine_file: MachineFile,
    profile: Profile,
    attached: Attached,
    folder: Path,
    *,
    panels: tuple[Panel, ...] = (),
    tellers: tuple[Teller, ...] = (),
    link: LinkSettings | None = None,
    watch: Callable[[Daemon], None] = lambda _: None,
) -> Finished:
    """Run to the end and read the record back."""
    path = folder / f"{profile.name}.jsonl"
    order = Order(
        profile=profile,
        machine=machine_file.machine,
        attached=attached,
        clock=VirtualClock(),
        identity=identity(RUN_ID, BEGAN, profile, machine_file.machine),
        journal_path=path,
        link=link,
        panels=(Starter(), *panels),
        tellers=tellers,
        log=structlog.get_logger(),
    )
    result = execute(order, watch=watch)
    record = read_run(path)
    return Finished(result=result, record=record, summary=summarise(record), path=path)


@dataclass(slots=True)
class FaultAt:
    """A teller that breaks the bench once a run has come to a moment of its own."""

    bench: Bench
    fault: BenchFault
    when: Callable[[State], bool]
    injected_s: float | None = None
    off_s: float | None = None  # last moment at which the heater was commanded on

    def tell(self, moment: Moment) -> None:
        """Break it, once."""
        if self.injected_s is None and self.when(moment.state):
            self.injected_s = moment.now_s
            self.bench.inject(self.fault)
        if moment.heater_on:
            self.off_s = moment.now_s


def bench_for(machine_file: MachineFile, profile: Profile) -> Bench:
    """The bench that the wiring would attach, with its faults within reach."""
    machine, at = machine_file.machine, machine_file.attach
    assert isinstance(at, BenchAttach)
    return attach_bench(
        machine=at.machine,
        seed=at.seed,
        kind=profile.kind,
        batch_kg=machine.batch_kg,
        seed_share=seed_share(profile),
        fitted=frozenset({"level", "shaft", "load"}),
        answer_after_s=at.answer_after_s,
    )
