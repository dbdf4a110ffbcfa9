"""Runs of the ready-at benchmark: drawn machines, answers as late as people give them.

Responsible for one run and what was foretold at its moments; not for what is counted (ready_at).
"""

import math
from dataclasses import dataclass, field
from dataclasses import replace as replaced
from itertools import pairwise
from random import Random
from typing import NamedTuple

from controller.clock import PowerCut, VirtualClock
from controller.core.outlook import Outlook
from controller.core.state import Mode
from controller.core.waits import WAIT_S, WAIT_SPREAD
from controller.ports import KIND_ID, Moment, Panel, Question, Request
from controller.report.table import Cell, Row
from controller.trials.trial import Stage, Trial, set_up
from controller.wiring import execute

PROFILES = ("dark", "dark-seeded", "milk", "milk-seeded", "white", "white-seeded")
GIVE_UP_S = 8 * 3600.0
HALF = 0.5
AT_START, END_OF_MELT = "start", "end of melt"
MIDDLES = {name: f"middle of {name}" for name in ("melt", "cool", "seed", "rewarm")}
MOMENTS = (AT_START, MIDDLES["melt"], END_OF_MELT, *list(MIDDLES.values())[1:])


class LateCook:
    """The bench's cook, who comes to each question as late as the forecast takes people to come.

    Half of all answers come within `WAIT_S`; the logarithm of the delay is normal.
    """

    def __init__(self, cook: Panel, random: Random) -> None:
        """Stand before the cook, who answers at once."""
        self._cook, self._random = cook, random
        self._ask_id: str | None = None
        self._due_s = 0.0

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:
        """The cook's answer, once it is due."""
        ask_id = None if ask is None else ask.id
        if ask_id != self._ask_id:
            self._ask_id = ask_id
            self._due_s = now_s + self._late_s()
        is_due = ask_id == KIND_ID or now_s >= self._due_s
        return self._cook.take(now_s, ask if is_due else None)

    def _late_s(self) -> float:
        return WAIT_S * math.exp(WAIT_SPREAD * self._random.gauss(0.0, 1.0))


class Told(NamedTuple):
    """What was foretold in force at one run time."""

    run_s: float
    phase: str
    outlook: Outlook


@dataclass(slots=True)
class Listener:
    """Keeps each new forecast, and ends the run as soon as the chocolate is ready."""

    phases: tuple[str, ...]
    told: list[Told] = field(default_factory=list)
    begun_s: dict[str, float] = field(default_factory=dict)
    ready_s: float = math.nan
    run_s: float = 0.0

    def tell(self, moment: Moment) -> None:
        """Take note."""
        state = moment.state
        self.run_s, outlook = state.run_s, state.outlook
        phase = self.phases[state.progress.phase]
        if state.mode is Mode.RUNNING:
            self.begun_s.setdefault(phase, state.run_s)
        if outlook.is_ready:
            self.ready_s = outlook.likely_s
        elif not self.told or self.told[-1].outlook is not outlook:
            self.told.append(Told(state.run_s, phase, outlook))

    def in_force(self, at_s: float) -> Told | None:
        """What was told at that run time, if it named a time."""
        found = [one for one in self.told if one.run_s <= at_s]
        return found[-1] if found and math.isfinite(found[-1].outlook.likely_s) else None

    def moments(self) -> dict[str, Told]:
        """The forecasts that are judged: at the start, halfway through phases, at melt's end."""
        begun = [*self.begun_s.items(), ("", self.ready_s)]
        found = dict[str, Told | None]()
        found[AT_START] = next(
            (one for one in self.told if math.isfinite(one.outlook.likely_s)), None
        )
        for (name, start_s), (_, end_s) in pairwise(begun):
            if name in MIDDLES:
                found[MIDDLES[name]] = self.in_force(start_s + HALF * (end_s - start_s))
            if name == "melt":
                found[END_OF_MELT] = self.in_force(end_s - 1.0)
        return {name: one for name, one in found.items() if one is not None}


class EndingClock(VirtualClock):
    """A clock whose power goes as soon as the listener has heard that the chocolate is ready."""

    def __init__(self, listener: Listener) -> None:
        """Watch it."""
        super().__init__()
        self._listener = listener

    def wait_until(self, when_s: float) -> None:
        """Move on, unless all is known."""
        if math.isfinite(self._listener.ready_s) or self._listener.run_s > GIVE_UP_S:
            raise PowerCut
        super().wait_until(when_s)


def profile_of(number: int) -> str:
    """The shipped profile that a machine runs: each in turn."""
    return PROFILES[number % len(PROFILES)]


def followed(name: str) -> Listener:
    """One machine, run until it is ready or nobody would wait longer."""
    number = int(name.rpartition("-")[2])
    stage: Stage = set_up(Trial(profile=profile_of(number), machine=name, answer_after_s=0.0))
    order = stage.order
    listener = Listener(tuple(phase.name for phase in order.profile.phases))
    random = Random(name)  # noqa: S311 - chance, not secrets
    cooks = tuple(LateCook(panel, random) for panel in order.attached.panels)
    execute(
        replaced(
            order,
            attached=replaced(order.attached, panels=cooks),
            clock=EndingClock(listener),
            tellers=(listener,),
        )
    )
    return listener


class Judged(NamedTuple):
    """One moment of one run: what was foretold, and when it was truly ready; run time, s."""

    moment: str
    at_s: float
    early_s: float
    likely_s: float
    late_s: float
    ready_s: float


ENDS = ("at", "early", "likely", "late")


def run_one(name: str, plan: str, faults: tuple[str, ...]) -> dict[str, Cell]:  # noqa: ARG001 - as a worker calls it
    """The columns of one machine: three ends at each moment, and when it was truly ready."""
    listener = followed(name)
    columns: dict[str, Cell] = {
        "profile": profile_of(int(name.rpartition("-")[2])),
        "ready_s": listener.ready_s,
    }
    told = listener.moments() if math.isfinite(listener.ready_s) else {}
    for moment in MOMENTS:
        one = told.get(moment)
        found = (math.nan,) * len(ENDS)
        if one is not None:
            outlook = one.outlook
            found = (one.run_s, outlook.early_s, outlook.likely_s, outlook.late_s)
        columns |= {f"{moment}, {end}_s": at_s for end, at_s in zip(ENDS, found, strict=True)}
    return columns


def judged_of(row: Row) -> list[Judged]:
    """The moments of a row at which a time was foretold; none of a machine that never got ready."""
    ready_s = _number(row.get("ready_s"))
    found = []
    for moment in MOMENTS:
        at_s, early_s, likely_s, late_s = (_number(row.get(f"{moment}, {end}_s")) for end in ENDS)
        if math.isfinite(ready_s + at_s + early_s + likely_s + late_s):
            found.append(Judged(moment, at_s, early_s, likely_s, late_s, ready_s))
    return found


def _number(cell: object) -> float:
    return float(cell) if isinstance(cell, int | float) else math.nan
