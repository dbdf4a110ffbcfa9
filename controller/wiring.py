"""Putting a run together: machine file to devices, daemon, journal and link.

Responsible for choosing parts and their order of starting and ending; not for what a command
prints. The only module that imports hardware.
"""

import hashlib
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path

from structlog.typing import FilteringBoundLogger

from controller.clock import Clock, process_s
from controller.core.machine import Machine
from controller.core.profile import Profile, Verdict
from controller.core.recovery import FRESH, Beginning
from controller.core.state import Mode, State
from controller.daemon import Crew, Daemon
from controller.errors import Exit, HardwareError, MachineFileError
from controller.files.attach_shape import BenchAttach, LinuxAttach
from controller.files.machine_file import MachineFile
from controller.files.profile_file import seed_share
from controller.guard.beside import GuardBeside
from controller.guard.client import GuardedHeater
from controller.journal.records import Identity, Stamp, header_of
from controller.journal.writer import Journal
from controller.link.link import Link
from controller.link.settings import LinkSettings
from controller.ports import Devices, Panel, Teller, Truth
from hardware.bench.attach import Bench
from hardware.bench.attach import attach as attach_bench
from hardware.linux.attach import (
    AttachError,
    LinuxMachine,
    LinuxPlan,
    ThermometerPlan,
    persisting_outputs,
)

__all__ = [
    "Attached",
    "Order",
    "Result",
    "attach",
    "execute",
    "guarded",
    "identity",
    "outcome_of",
    "persisting_outputs",
]

SIMULATED_PATIENCE_S = 60.0
OUTCOMES = {Mode.ABORTED: Exit.TRIPPED, Mode.STOPPED: Exit.STOPPED}


@dataclass(frozen=True, slots=True, kw_only=True)
class Attached:
    """A machine whose devices answer."""

    devices: Devices
    panels: tuple[Panel, ...]
    truth: Callable[[], Truth] | None  # a bench knows; a machine can't
    farewell: Callable[[float], None]  # tells the guard that the run has ended in order
    close: Callable[[], None] = lambda: None  # lets go of the devices; heat is off by then


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """Everything that one run is made of, handed in."""

    profile: Profile
    machine: Machine
    attached: Attached
    clock: Clock
    identity: Identity
    journal_path: Path
    link: LinkSettings | None
    panels: tuple[Panel, ...]
    tellers: tuple[Teller, ...]
    beginning: Beginning = FRESH
    feed: Callable[[], object] = lambda: None  # the service manager's watchdog
    stamp: Callable[[], Stamp] | None = None  # the computer's other clocks, for the record
    log: FilteringBoundLogger


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """How a run ended."""

    state: State
    truth: Truth | None
    outcome: Exit
    journal_failure: OSError | None  # why the record breaks off before the run's end


def attach(machine_file: MachineFile, profile: Profile, clock: Clock) -> Attached:
    """The devices that the machine file names. Nothing is energised.

    Raises:
        MachineFileError: the bench it asks for can't be, or a real machine has no guard.
        HardwareError: no guard answers, or a device can't be had.
        BusyError: the guard serves another controller.
    """
    if isinstance(machine_file.attach, BenchAttach):
        return _attach_bench(machine_file.attach, machine_file.machine, profile)
    return _attach_linux(machine_file.attach, machine_file, clock)


def _attach_linux(plan: LinuxAttach, machine_file: MachineFile, clock: Clock) -> Attached:
    name = machine_file.machine.name
    if machine_file.guard is None:
        raise MachineFileError(
            f"Machine {name} has no table [guard], and no real heater is driven without one; "
            "hardware/README.md shows how to write it."
        )
    heater = GuardedHeater(machine_file.guard.sockets)
    try:
        machine = LinuxMachine(
            LinuxPlan(
                bath=ThermometerPlan(kind=plan.bath.kind, place=plan.bath.place),
                bowl=ThermometerPlan(kind=plan.bowl.kind, place=plan.bowl.place),
                stirrer_line=plan.stirrer_line,
            ),
            heater=heater,
            permit=heater,
            clock_s=clock.now_s,
        )
    except AttachError as error:
        heater.close()
        raise HardwareError(f"Machine {name}: {error}") from error
    stack = ExitStack()
    stack.callback(heater.close)
    stack.enter_context(machine)
    return Attached(
        devices=machine.devices,
        panels=(),
        truth=None,
        farewell=heater.farewell,
        close=stack.close,
    )


def _attach_bench(plan: BenchAttach, machine: Machine, profile: Profile) -> Attached:
    fitted = {"level": machine.has_level, "shaft": machine.has_shaft, "load": machine.has_load}
    try:
        bench = attach_bench(
            machine=plan.machine,
            seed=plan.seed,
            kind=profile.kind,
            batch_kg=machine.batch_kg,
            seed_share=seed_share(profile),
            fitted=frozenset(name for name, is_fitted in fitted.items() if is_fitted),
            answer_after_s=plan.answer_after_s,
        )
    except ValueError as error:
        raise MachineFileError(f"Machine {machine.name}, table attach: {error}") from error
    return guarded(bench, machine)


def guarded(bench: Bench, machine: Machine) -> Attached:
    """A bench whose heater stands behind the guard's own decision, in this process."""
    guard = GuardBeside(bench.devices.heater, bench.guard_probe, cap_c=machine.bath_max_c)
    return Attached(
        devices=replace(bench.devices, heater=guard, permit=guard),
        panels=(bench.operator,),
        truth=bench.truth,
        farewell=guard.farewell,
    )


def identity(
    run_id: str, began_utc: str, profile: Profile, machine: Machine, *, boot: str = ""
) -> Identity:
    """Who the run is; the hashes are of what is in force, not of how its file was laid out."""
    return Identity(
        run_id=run_id,
        began_utc=began_utc,
        version=version("bainward"),
        profile_made_of=_hash(profile),
        machine_made_of=_hash(machine),
        boot_id=boot,
    )


def _hash(thing: object) -> str:
    return hashlib.sha256(repr(thing).encode()).hexdigest()


def execute(order: Order, *, watch: Callable[[Daemon], None] = lambda _: None) -> Result:
    """Run to the end: journal open before heat, link told last.

    `watch` is given the daemon before it starts, so that a signal can halt it.

    Raises:
        BainwardError: the journal can't be made, or the program failed; heat is off.
    """
    link = _link(order)
    journal = Journal(
        order.journal_path,
        header=header_of(order.profile, order.machine, order.identity),
        clock_s=process_s,
        stamp=order.stamp,
        # In simulated time a disk may take its time: nothing waits for the next second.
        patience_s=SIMULATED_PATIENCE_S if order.stamp is None else 0.0,
    )
    panels = (*order.attached.panels, *order.panels)
    tellers: tuple[Teller, ...] = (journal, *order.tellers)
    if link is not None:
        link.start()
        panels = (*panels, link)
        tellers = (*tellers, link)
    # A crash leaves both as they are: the record unfinished, and the broker to say `lost`.
    state = _run(order, Crew(panels=panels, tellers=tellers, feed=order.feed), watch)
    truth = order.attached.truth() if order.attached.truth else None
    outcome = outcome_of(state, truth)
    journal.finish(truth, outcome.name.lower().replace("_", "-"))
    if journal.failure is not None:
        order.log.error("journal_failed", reason=str(journal.failure))
    if link is not None:
        link.close()
    return Result(state=state, truth=truth, outcome=outcome, journal_failure=journal.failure)


def _run(order: Order, crew: Crew, watch: Callable[[Daemon], None]) -> State:
    """Run, say farewell to the guard, and let go of the devices whatever happened."""
    daemon = Daemon(
        profile=order.profile,
        machine=order.machine,
        devices=order.attached.devices,
        crew=crew,
        clock=order.clock,
        log=order.log,
        beginning=order.beginning,
    )
    watch(daemon)
    try:
        state = daemon.run()
        if not state.trips:  # a trip is kept by the guard too, on disk, until somebody re-arms
            order.attached.farewell(order.clock.now_s())
    finally:
        order.attached.close()
    return state


def _link(order: Order) -> Link | None:
    if order.link is None:
        return None
    return Link(order.link, order.profile, run_id=order.identity.run_id, log=order.log)


def outcome_of(state: State, truth: Truth | None) -> Exit:
    """The exit code of a run: a bench's truth counts before the set test's verdict."""
    if state.trips:  # also one that came after the run had ended
        return Exit.TRIPPED
    verdict = truth.verdict if truth else state.progress.verdict
    if state.mode is Mode.COMPLETE:
        return Exit.NOT_IN_TEMPER if verdict is Verdict.NOT_IN_TEMPER else Exit.DONE
    return OUTCOMES.get(state.mode, Exit.CRASHED)
