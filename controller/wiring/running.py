"""A run put together and followed to its end: daemon, journal and link around the devices.

Responsible for the order of starting and ending; not for what a command prints.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from structlog.typing import FilteringBoundLogger

from controller.clock import Clock, PowerCut, process_s
from controller.core.machine import Machine
from controller.core.profile import Profile, Verdict
from controller.core.records import replace
from controller.core.recovery import FRESH, Beginning
from controller.core.signals import Request, Verb
from controller.core.state import Mode, State
from controller.core.vitals import Vitals
from controller.daemon import Crew, Daemon
from controller.errors import Exit
from controller.journal.records import Identity, Stamp, header_of
from controller.journal.writer import Journal
from controller.link.link import Link
from controller.link.settings import LinkSettings
from controller.ports import Panel, Question, Teller, Truth
from controller.wiring.attaching import Attached
from controller.wiring.self_watch import SelfWatch, Sources

SIMULATED_PATIENCE_S = 60.0
OUTCOMES = {Mode.ABORTED: Exit.TRIPPED, Mode.STOPPED: Exit.STOPPED}


class Starter:
    """A panel that starts the run at its first tick: whoever gave the order."""

    def __init__(self) -> None:
        """Not yet started."""
        self._due = True

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """A start, once."""
        if not self._due:
            return ()
        self._due = False
        return (Request(verb=Verb.START),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """Everything that one run is made of, handed in."""

    profile: Profile
    machine: Machine
    attached: Attached
    clock: Clock
    identity: Identity
    journal_path: Path | None  # None: nothing is written down
    link: LinkSettings | None
    panels: tuple[Panel, ...]
    tellers: tuple[Teller, ...]
    beginning: Beginning = FRESH
    feed: Callable[[], object] = lambda: None  # the service manager's watchdog
    stamp: Callable[[], Stamp] | None = None  # the computer's other clocks, for the record
    looks_at: Sources | None = None  # the computer; None where nobody looks, as on a bench
    keeper: Callable[..., Journal] = Journal  # makes the record; a trial's disk may fail
    ended_by: Callable[[], str] = lambda: ""  # the signal that has come, for the record
    log: FilteringBoundLogger


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """How a run ended."""

    state: State
    truth: Truth | None
    outcome: Exit
    journal_failure: OSError | None  # why the record breaks off before the run's end


def identity(
    run_id: str, began_utc: str, profile: Profile, machine: Machine, *, boot: str = ""
) -> Identity:
    """Who the run is; the hashes are of what is in force, not of how its file was laid out.

    Nor of where it lies: after a cut it may be named from another folder.
    """
    return Identity(
        run_id=run_id,
        began_utc=began_utc,
        version=version("bainward"),
        profile_made_of=_hash(profile),
        machine_made_of=_hash(replace(machine, file="")),
        boot_id=boot,
    )


def _hash(thing: object) -> str:
    return hashlib.sha256(repr(thing).encode()).hexdigest()


def execute(
    order: Order,
    *,
    watch: Callable[[Daemon], None] = lambda _: None,
    linked: Callable[[Link], None] = lambda _: None,
) -> Result:
    """Run to the end: journal open before heat, link told last.

    `watch` is given the daemon before it starts, so that a signal can halt it; `linked` the link,
    where there is one.

    Raises:
        BainwardError: the journal can't be made, or the program failed; heat is off.
    """
    link = _link(order)
    journal = _journal(order)
    panels = (*order.attached.panels, *order.panels)
    tellers = order.tellers if journal is None else (journal, *order.tellers)
    if link is not None:
        linked(link)
        link.start()
        panels = (*panels, link)
        tellers = (*tellers, link)
    self_watch = _self_watch(order, journal)
    crew = Crew(panels=panels, tellers=tellers, feed=order.feed, vitals=self_watch.read)
    # A crash, or a simulated power cut, leaves both as they are: the record unfinished, and the
    # broker to say `lost`.
    try:
        state, is_cut = _run(order, crew, watch)
    finally:
        self_watch.stop()
    truth = order.attached.truth() if order.attached.truth else None
    if is_cut:
        failure = None if journal is None else _break_off(journal)
        return Result(state=state, truth=truth, outcome=Exit.STOPPED, journal_failure=failure)
    outcome = outcome_of(state, truth if order.profile.aims_at_temper else None)
    failure = None if journal is None else _finish(journal, truth, outcome, order)
    if link is not None:
        link.close()
    return Result(state=state, truth=truth, outcome=outcome, journal_failure=failure)


class _Nobody:
    """Looks at nothing."""

    def read(self) -> Vitals | None:
        """Nothing."""
        return None

    def stop(self) -> None:
        """Nothing began."""


def _self_watch(order: Order, journal: Journal | None) -> SelfWatch | _Nobody:
    """Who looks at the computer, once journal and link have their threads."""
    if order.looks_at is None:
        return _Nobody()

    def fault() -> str:
        failure = None if journal is None else journal.failure
        return "" if failure is None else str(failure.strerror or failure)

    self_watch = SelfWatch(order.looks_at, fault)
    self_watch.start()
    return self_watch


def _journal(order: Order) -> Journal | None:
    if order.journal_path is None:
        return None
    return order.keeper(
        order.journal_path,
        header=header_of(order.profile, order.machine, order.identity),
        clock_s=process_s,
        stamp=order.stamp,
        # In simulated time a disk may take its time: nothing waits for the next second.
        patience_s=SIMULATED_PATIENCE_S if order.stamp is None else 0.0,
    )


def _finish(journal: Journal, truth: Truth | None, outcome: Exit, order: Order) -> OSError | None:
    """Close the record; why it breaks off, if it does."""
    journal.finish(truth, outcome.word, order.ended_by())
    if journal.failure is not None:
        order.log.error("journal_failed", reason=str(journal.failure))
    return journal.failure


def _break_off(journal: Journal) -> OSError | None:
    """Leave the record as a power cut leaves it."""
    journal.break_off()
    return journal.failure


def _run(order: Order, crew: Crew, watch: Callable[[Daemon], None]) -> tuple[State, bool]:
    """Run, say farewell to the guard, and let go of the devices whatever happened.

    The guard has each trip since its own tick, and keeps it until somebody re-arms; the farewell
    says the first once more, which changes nothing. The last state, and whether a power
    cut on a bench ended the run.
    """
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
        tripped = state.trips[0].cause if state.trips else ""
        order.attached.farewell(order.clock.now_s(), tripped)
    except PowerCut:
        return daemon.state, True
    finally:
        order.attached.close()
    return state, False


def _link(order: Order) -> Link | None:
    if order.link is None:
        return None
    who = order.identity
    return Link(
        order.link,
        order.profile,
        run_id=who.run_id,
        began_utc=who.began_utc,
        period_s=order.machine.period_s,
        log=order.log,
    )


def outcome_of(state: State, truth: Truth | None) -> Exit:
    """The exit code of a run: a bench's truth counts before the set test's verdict."""
    if state.trips:  # also one that came after the run had ended
        return Exit.TRIPPED
    verdict = truth.verdict if truth else state.progress.verdict
    if state.mode is Mode.COMPLETE:
        return Exit.NOT_IN_TEMPER if verdict is Verdict.NOT_IN_TEMPER else Exit.DONE
    return OUTCOMES.get(state.mode, Exit.CRASHED)
