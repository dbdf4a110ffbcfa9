"""What a trial measures, counted while it runs: no tick is kept.

Responsible for the same numbers as the summary of the run's record (report/summary), worked out at
the moments at which a record has its samples; not for what they mean (outcome).
"""

import math
from typing import Protocol

from controller.core.profile import Profile
from controller.core.start_proof import KIND_ID
from controller.core.state import ENDED, Event, EventName, Mode
from controller.errors import Exit
from controller.journal.writer import SAMPLE_EVERY_S, SLACK_S
from controller.ports import Moment, Truth
from controller.report.held import Held
from controller.report.summary import J_PER_KWH, REWARM
from controller.trials.outcome import NEVER, Outcome, PhaseTime, TripTime

RECORDED = 4  # decimals of a temperature in a record


class Inside(Protocol):
    """The true temperatures, which only a bench can show."""

    @property
    def bath_c(self) -> float:
        """The water, °C."""
        ...

    @property
    def content_c(self) -> float:
        """What is in the bowl, °C."""
        ...


class Overshoot:
    """How far the bowl went over a target once it had been at or under it, K."""

    def __init__(self) -> None:
        """Nothing seen yet."""
        self._most_k = NEVER

    def see(self, over_k: float) -> None:
        """Take in how far it is over it, which may be NaN."""
        if over_k > self._most_k or (over_k <= 0.0 and math.isnan(self._most_k)):
            self._most_k = max(0.0, over_k)

    @property
    def most_k(self) -> float:
        """The most; NaN when the bowl never was at or under the target."""
        return self._most_k


class Spread:
    """Least, most and root mean square of what is added."""

    def __init__(self) -> None:
        """Nothing added yet."""
        self.least = math.inf
        self.most = -math.inf
        self._squares = 0.0
        self._count = 0

    def add(self, value: float) -> None:
        """Take in one value; NaN is none."""
        if math.isnan(value):
            return
        self.least = min(self.least, value)
        self.most = max(self.most, value)
        self._squares += value * value
        self._count += 1

    def measured(self) -> tuple[float, float, float]:
        """Least, most and root mean square; three times NaN when nothing was added."""
        if not self._count:
            return NEVER, NEVER, NEVER
        return self.least, self.most, math.sqrt(self._squares / self._count)


class Tally:
    """A teller that counts."""

    def __init__(self, profile: Profile, inside: Inside) -> None:
        """Count a run of `profile`; `inside` is read at each tick."""
        phases = profile.phases
        self._names = tuple(phase.name for phase in phases)
        self._inside = inside
        self._last = len(phases) - 1
        self._working_from = self._names.index(REWARM) if REWARM in self._names else self._last
        self._melt_c, self._target_c = phases[0].bowl_target_c, phases[-1].bowl_target_c
        self._melt, self._working = Overshoot(), Overshoot()
        self._held, self._hold = Held(self._target_c), Spread()
        self._bath_max_c = self._bowl_max_c = -math.inf
        self._heater_on = False
        self._switches = 0
        self._due_s = 0.0
        self._phase = -1
        self._starts: list[tuple[str, float]] = []
        self._ready_s = self._live_s = self._end_s = NEVER
        self._withheld_s = 0.0
        self._withheld_from_s: float | None = None
        self._questions: list[str] = []
        self._trips: list[TripTime] = []

    def tell(self, moment: Moment) -> None:
        """Take in one tick: peaks and switching always, all else where a record has a sample."""
        inside = self._inside
        if (bath_c := inside.bath_c) > self._bath_max_c:
            self._bath_max_c = bath_c
        if (bowl_c := inside.content_c) > self._bowl_max_c:
            self._bowl_max_c = bowl_c
        if moment.heater_on is not self._heater_on:
            self._heater_on = moment.heater_on
            self._switches += 1
        run_s = moment.state.run_s
        if moment.events:
            self._note(moment)
            self._sample(moment)
        elif run_s >= self._due_s:
            self._sample(moment)
        if run_s >= self._due_s:
            self._due_s = run_s + SAMPLE_EVERY_S - SLACK_S

    def outcome(self, ended: Exit, truth: Truth) -> Outcome:
        """All that was measured, at the end of the run."""
        lasted_s = self._live_s if math.isnan(self._end_s) else self._end_s
        least_k, most_k, rms_k = self._hold.measured()
        return Outcome(
            exit=ended,
            plan=self._names,
            phases=self._phase_times(lasted_s),
            melt_overshoot_k=self._melt.most_k,
            working_overshoot_k=self._working.most_k,
            hold_min_k=least_k,
            hold_max_k=most_k,
            hold_rms_k=rms_k,
            ready_s=self._ready_s,
            lasted_s=0.0 if math.isnan(lasted_s) else lasted_s,
            questions=tuple(self._questions),
            trips=tuple(self._trips),
            withheld_s=self._withheld_s,
            switches=self._switches,
            energy_kwh=truth.energy_j / J_PER_KWH,
            truth=truth,
            bath_max_c=_seen(self._bath_max_c),
            bowl_max_c=_seen(self._bowl_max_c),
        )

    def _phase_times(self, lasted_s: float) -> tuple[PhaseTime, ...]:
        """Each phase lasts until the next begins; the last until the run ended."""
        ends = [start_s for _, start_s in self._starts[1:]] + [lasted_s]
        return tuple(
            PhaseTime(name=name, start_s=start_s, duration_s=end_s - start_s)
            for (name, start_s), end_s in zip(self._starts, ends, strict=False)
        )

    def _note(self, moment: Moment) -> None:
        """Take in the tick's events; before `phase_entered` they are of the phase before."""
        now = moment.state.progress.phase
        phase = now if self._phase < 0 else self._phase
        for event in moment.events:
            if event.name is EventName.PHASE_ENTERED:
                phase = now
            self._take(event, phase, moment.state.run_s)

    def _take(self, event: Event, phase: int, run_s: float) -> None:
        match event.name:
            case EventName.TARGET_REACHED:
                if phase == self._last and math.isnan(self._ready_s):
                    self._ready_s = run_s
            case EventName.QUESTION_ASKED if event.facts["id"] != KIND_ID:  # no profile's own
                self._questions.append(str(event.facts["id"]))
            case EventName.TRIP_LATCHED:
                self._trips.append(TripTime(cause=str(event.facts["cause"]), at_s=run_s))
            case _:
                pass

    def _sample(self, moment: Moment) -> None:
        """Take in what a record would keep of this moment."""
        state = moment.state
        run_s, phase = state.run_s, state.progress.phase
        is_live = state.mode is not Mode.IDLE and state.mode not in ENDED
        self._count_withheld(run_s, is_withheld=is_live and bool(state.withheld))
        if not is_live:
            if math.isnan(self._end_s) and not math.isnan(self._live_s):
                self._end_s = run_s
            self._phase = phase
            return
        if phase != self._phase or not self._starts:
            self._starts.append((self._names[phase], run_s))
        self._phase = phase
        self._live_s = run_s
        if phase == 0:
            self._melt.see(state.bowl_c - self._melt_c)
        if state.mode is Mode.RUNNING and run_s >= self._ready_s and phase == self._last:
            asked_c = round(state.regulation.bowl_setpoint_c, RECORDED)
            self._hold.add(self._held.see(run_s, asked_c, state.bowl_c))
        if phase >= self._working_from:
            self._working.see(state.bowl_c - self._target_c - self._held.over_k)

    def _count_withheld(self, run_s: float, *, is_withheld: bool) -> None:
        """Heat is withheld and permitted again by events, so no moment of it goes unseen."""
        if is_withheld and self._withheld_from_s is None:
            self._withheld_from_s = run_s
        elif not is_withheld and self._withheld_from_s is not None:
            self._withheld_s += run_s - self._withheld_from_s
            self._withheld_from_s = None


def _seen(most_c: float) -> float:
    """A peak; NaN where the run was cut off before its first tick."""
    return most_c if math.isfinite(most_c) else NEVER
