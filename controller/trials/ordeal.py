"""An ordeal: one drawn machine, and many faults tried on it, each from the same run.

Responsible for copying a run at the moment of a fault, so that hours before it are simulated once;
not for which faults (ordeal_draws) or what came of them (ordeal_watch).
"""

import json
import math
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace

from controller.core.interlock_rows import Cause
from controller.core.state import EventName
from controller.errors import CrashError
from controller.ports import Moment
from controller.report.table import OUTCOME, Cell
from controller.trials.faults import FaultPlan
from controller.trials.ordeal_draws import (
    FITTINGS,
    Injection,
    drawn_fittings,
    drawn_injections,
    drawn_pairs,
)
from controller.trials.ordeal_watch import Found, Watch
from controller.trials.staging import OF_THE_CLOCK, staged
from controller.trials.trial import Stage, Trial, set_up
from controller.wiring import BY_WORD, Bench, Part, execute

FOUND = "found"  # the column that holds what came of each fault, as JSON
DRAWN = "drawn"  # how many there were to be: of some the phase is over before their moment
WHOLE = "whole"  # what the run tripped for without any fault, which is worth none of them
NEVER_S = math.inf


class _EnoughError(BaseException):
    """Nothing more is to be learned from this run."""


def try_machine(
    machine: str, profile: str, words: tuple[str, ...], *, count: int, in_pairs: bool = False
) -> Mapping[str, Cell]:
    """Try so many faults on one drawn machine; `words` are the faults to draw from, or none.

    With `in_pairs` two at a time, so many times, of the worst where no words are given.

    Raises:
        BainwardError: profile or machine can't be used, or a run failed before its fault.
    """
    seed, number = (int(part) for part in machine.rsplit("-", 2)[1:])
    fittings = drawn_fittings(seed, number)
    trial = Trial(profile=profile, machine=machine, fitted=fittings)
    only = tuple(BY_WORD[word] for word in words)
    stage = set_up(trial)
    draw = drawn_pairs if in_pairs else drawn_injections
    wanted = draw(seed, number, stage.order.profile, count, only)
    found = [_from_the_start(trial, one) for one in wanted if one.is_before]
    copied, whole = _copied(stage, [one for one in wanted if not one.is_before])
    return {
        OUTCOME: "done",
        FITTINGS: " ".join(fittings),
        FOUND: json.dumps([asdict(one) for one in (*found, *copied)]),
        DRAWN: len(wanted),
        WHOLE: whole,
    }


def found_of(row: Mapping[str, Cell]) -> list[Found]:
    """What a row holds."""
    return [Found(**one) for one in json.loads(str(row.get(FOUND) or "[]"))]


def _from_the_start(trial: Trial, injection: Injection) -> Found:
    """A run with a fault that is there before it."""
    spec = str(injection.fault)
    stage = set_up(replace(trial, faults=(spec,)))
    watch = Watch(stage.bench, stage.order.profile, stage.order.clock.now_s)
    watch.begin(injection.fault)
    order = replace(stage.order, tellers=(watch, _Ender(watch)))
    crash = _followed(replace(stage, order=staged(order, stage.bench, stage.plans)))
    return watch.found(injection, crash)


def _copied(stage: Stage, injections: Sequence[Injection]) -> tuple[list[Found], str]:
    """One run, and a copy of it for each fault; and what the run itself tripped for, if it did."""
    if not injections:
        return [], ""
    watch = Watch(stage.bench, stage.order.profile, stage.order.clock.now_s)
    brancher = _Brancher(injections, stage.bench, watch)
    order = replace(stage.order, tellers=(watch, brancher))
    around = _never(stage.order.profile.phases[0].name, injections)
    try:
        crash = _followed(replace(stage, order=staged(order, stage.bench, around)))
        brancher.hand_over(crash)
    finally:
        if brancher.is_copy:  # whatever came, it must not unwind into the other run
            os._exit(1)
    if crash:
        raise CrashError(f"A run without any fault failed: {crash}")
    return brancher.found, brancher.whole


def _never(phase: str, injections: Iterable[Injection]) -> tuple[FaultPlan, ...]:
    """Plans that never come due, so that what they would bend stands around the run."""
    bent = OF_THE_CLOCK | {Part.MEMORY}
    faults = [one.fault for one in injections]
    faults += [one.second.fault for one in injections if one.second is not None]
    return tuple(
        FaultPlan(fault=fault, phase=phase, after_s=NEVER_S)
        for fault in faults
        if bent & set(fault.acts)
    )


def _followed(stage: Stage) -> str:
    """Follow a run until there is enough; what broke it, if anything did."""
    try:
        execute(stage.order)
    except _EnoughError:
        return ""
    except CrashError as error:
        return str(error)
    return ""


class _Ender:
    """A teller that ends a run once the watch has seen enough."""

    def __init__(self, watch: Watch) -> None:
        self._watch = watch

    def tell(self, _: Moment) -> None:
        """End it."""
        if self._watch.is_over:
            raise _EnoughError


class _Brancher:
    """A teller that copies the process at the moment of each fault, and breaks the copy."""

    def __init__(self, injections: Sequence[Injection], bench: Bench, watch: Watch) -> None:
        self.found: list[Found] = []
        self.whole = ""  # what the run tripped for before anything broke it
        self._to_come = list(injections)
        self._bench, self._watch = bench, watch
        self._phase, self._since_s = "", math.nan
        self._mine: tuple[Injection, ...] = ()  # in a copy: what broke it
        self._out = -1

    @property
    def is_copy(self) -> bool:
        """Whether this process is a copy."""
        return bool(self._mine)

    def tell(self, moment: Moment) -> None:
        """Copy what is due; in a copy, break it again if it is to be, and end when it is enough."""
        for event in moment.events:
            if event.name is EventName.PHASE_ENTERED:
                self._leave()
                self._phase, self._since_s = str(event.facts["phase"]), moment.state.run_s
        if self.is_copy:
            self._break_again(moment.state.run_s)
            if self._watch.is_over:
                raise _EnoughError
            return
        while (due := self._due(moment.state.run_s)) is not None:
            self._to_come.remove(due)
            if self._copy(due, moment):
                return
        # A kitchen that is too warm to cool in ends a run after a day, which is no false trip.
        if moment.state.trips and moment.state.trips[0].cause != Cause.RUN_TOO_LONG:
            self.whole = str(moment.state.trips[0].cause)
        if not self._to_come or moment.state.trips:
            raise _EnoughError

    def hand_over(self, crash: str) -> None:
        """In a copy: give what was found to the run that it was copied from, and end."""
        if not self.is_copy:
            return
        text = json.dumps([asdict(self._watch.found(one, crash)) for one in self._mine])
        with os.fdopen(self._out, "w", encoding="utf-8") as out:
            out.write(text)
        os._exit(0)

    def _break_again(self, run_s: float) -> None:
        """In a copy: the second of two faults, once its time has come."""
        for second in (one.second for one in self._mine):
            if second is not None and self._watch.is_due(second):
                self._bench.inject(second.fault, second.size)
                self._watch.begin_second(second, self._phase, run_s - self._since_s)

    def _leave(self) -> None:
        """A phase has ended: what was to come in it comes no more."""
        self._to_come = [one for one in self._to_come if one.phase != self._phase]

    def _due(self, run_s: float) -> Injection | None:
        for one in self._to_come:
            if one.phase == self._phase and run_s >= self._since_s + one.after_s:
                return one
        return None

    def _copy(self, injection: Injection, moment: Moment) -> bool:
        """Copy the process; the copy goes on broken, this one waits for it and goes on whole.

        Whether this is the copy.
        """
        inward, outward = os.pipe()
        copy = os.fork()
        if copy == 0:
            os.close(inward)
            self._mine, self._out = (injection,), outward
            self._bench.inject(injection.fault, injection.size)
            self._watch.begin(injection.fault, moment.state.withheld)
            return True
        os.close(outward)
        with os.fdopen(inward, encoding="utf-8") as told:
            text = told.read()
        os.waitpid(copy, 0)
        if not text:
            raise CrashError(
                f"A copy of the run, broken by {injection.fault}, ended without a word."
            )
        self.found += [Found(**one) for one in json.loads(text)]
        return False
