"""A trial: one profile on one machine of the bench, in simulated time.

Responsible for what a trial is made of and for running it; not for what is measured (tally).
"""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import structlog

from controller.clock import VirtualClock
from controller.core.profile import Profile
from controller.core.records import replace as replaced
from controller.errors import UsageError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile
from controller.files.profile_file import load_profile
from controller.ports import Panel, Question, Request, Teller, Verb
from controller.trials.faults import FaultPlan, plans_for
from controller.trials.outcome import Outcome
from controller.trials.staging import really_in_bowl, staged
from controller.trials.tally import Tally
from controller.wiring import (
    Bench,
    Order,
    Starter,
    attach_bench,
    execute,
    guarded,
    identity,
    machine_meant,
)

# Simulated time has no date of its own, and the same trial gives the same bytes.
BEGAN_UTC = "2000-01-01T00:00:00+00:00"
FITTED = ("level", "shaft", "load", "second-switch", "mains-live", "current", "lid", "stop")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What is to be run. Only the profile must be named."""

    profile: Profile | Path | str  # a shipped name, or the path of a file
    machine: Path | str = "reference"  # a name, `drawn-SEED-NUMBER`, or the path of a file
    seed: int = 1  # of the bench's noise
    faults: tuple[str, ...] = ()  # like "relay-welded@hold+10min"
    answer_after_s: float | None = None  # how long the cook takes; None as the machine file says
    fitted: tuple[str, ...] | None = None  # of `FITTED`; None as the machine file says
    room_c: float | None = None  # the true room, whatever the machine file says; None: the bench's
    law: str | None = None  # "pools" or "nuclei", by which its chocolate crystallises
    give_up_after_s: float | None = None  # when somebody stops a run that takes too long


def run_trial(
    trial: Trial,
    *,
    journal: Path | None = None,
    tellers: tuple[Teller, ...] = (),
    began_utc: str | None = None,
) -> Outcome:
    """Run it to its end, through the same loop, control, interlocks and guard as a real run.

    Args:
        trial: what is to be run.
        journal: a file to write the run's record to, as `bainward journal` reads it.
        tellers: who else is told of each tick.
        began_utc: when the run is to have begun (ISO 8601), for a record that people keep; the
            file then names the run.

    Raises:
        BainwardError: profile, machine or fault can't be used, or the program failed.
    """
    stage = set_up(trial, journal=journal, began_utc=began_utc)
    tally = Tally(stage.order.profile, stage.bench.plant)
    order = replace(stage.order, tellers=(tally, *tellers))
    result = execute(staged(order, stage.bench, stage.plans))
    return tally.outcome(result.outcome, stage.bench.truth())


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """A trial that is ready to run: nobody is told of it yet, and no fault stands around it."""

    bench: Bench
    order: Order
    plans: tuple[FaultPlan, ...]


def set_up(trial: Trial, *, journal: Path | None = None, began_utc: str | None = None) -> Stage:
    """Put a trial together; `journal` and `began_utc` are as for `run_trial`.

    Raises:
        BainwardError: profile, machine or fault can't be used.
    """
    _check(trial)
    machine_file = _machine_file(trial)
    machine, plan = machine_file.machine, machine_file.attach
    if not isinstance(plan, BenchAttach):
        raise UsageError(
            f"A trial simulates, and machine {machine.name} is a real one; name a bench machine."
        )
    profile = trial.profile
    if not isinstance(profile, Profile):
        profile = load_profile(str(profile), machine)
    plans = plans_for(trial.faults, profile)
    in_bowl, filled = really_in_bowl(plans, profile)
    bench = attach_bench(plan, machine, in_bowl, room_c=trial.room_c, law=trial.law, filled=filled)
    run_id = journal.stem if journal and began_utc else f"trial-of-{profile.name}"
    order = Order(
        profile=profile,
        machine=machine,
        attached=guarded(bench, machine),
        clock=VirtualClock(),
        identity=identity(run_id, began_utc or BEGAN_UTC, profile, machine),
        journal_path=journal,
        link=None,
        panels=askers(trial.give_up_after_s),
        tellers=(),
        log=structlog.get_logger(),
    )
    return Stage(bench=bench, order=order, plans=plans)


class Quitter:
    """A panel that stops the run: somebody whose patience ends."""

    def __init__(self, after_s: float) -> None:
        """Wait for so long from the first tick on."""
        self._left_s = after_s
        self._began_s: float | None = None

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """A stop, once."""
        if self._began_s is None:
            self._began_s = now_s
        if now_s - self._began_s < self._left_s:
            return ()
        self._left_s = math.inf
        return (Request(verb=Verb.STOP),)


def askers(give_up_after_s: float | None = None) -> tuple[Panel, ...]:
    """Whoever starts a run, and whoever stops it when it takes too long."""
    return (Starter(),) if give_up_after_s is None else (Starter(), Quitter(give_up_after_s))


def _check(trial: Trial) -> None:
    """See what no type checker has looked at: in whose tests a slip must not become a riddle.

    Raises:
        UsageError: a text stands where several belong, or a time is none.
    """
    for name in ("faults", "fitted"):
        words = getattr(trial, name)
        if isinstance(words, str):
            raise UsageError(
                f"The {name} of a trial are several; write {name}=({words!r},), with its comma."
            )
    for name in ("answer_after_s", "give_up_after_s"):
        value_s = getattr(trial, name)
        if value_s is not None and not value_s >= 0.0:
            raise UsageError(f"A trial can't have {name}={value_s!r}; write seconds, 0 or more.")


def _machine_file(trial: Trial) -> MachineFile:
    """The machine meant, with what the trial says otherwise."""
    machine_file = machine_meant(trial.machine)
    plan = machine_file.attach
    if isinstance(plan, BenchAttach):
        plan = replace(plan, seed=trial.seed)
        if trial.answer_after_s is not None:
            plan = replace(plan, answer_after_s=trial.answer_after_s)
    machine_file = replace(machine_file, attach=plan)
    return machine_file if trial.fitted is None else fitted_with(machine_file, trial.fitted)


def fitted_with(machine_file: MachineFile, fitted: tuple[str, ...]) -> MachineFile:
    """A machine of the bench with just these of `FITTED`.

    Raises:
        UsageError: one of them can't be fitted.
    """
    unknown = sorted(set(fitted) - set(FITTED))
    if unknown:
        raise UsageError(
            f"No machine can be fitted with {unknown[0]!r}; name some of {', '.join(FITTED)}."
        )
    machine = replaced(
        machine_file.machine,
        has_level="level" in fitted,
        has_shaft="shaft" in fitted,
        has_load="load" in fitted,
        has_second="second-switch" in fitted,
        has_mains="mains-live" in fitted,
        has_current="current" in fitted,
        has_lid="lid" in fitted,
        has_stop="stop" in fitted,
    )
    plan = machine_file.attach
    if isinstance(plan, BenchAttach):
        plan = replace(plan, second_switch="second-switch" in fitted)
    return replace(machine_file, machine=machine, attach=plan)
