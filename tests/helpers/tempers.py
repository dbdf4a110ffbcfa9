"""A batch whose temperatures and stirrer load a test says, as the temper estimate sees them.

Responsible for plausible states (own invention) without a run around them; not for any expectation.
"""

import math
from dataclasses import dataclass, field

from controller.core.batches import UNJUDGED, TemperState
from controller.core.estimate import Belief
from controller.core.estimator import MELTED_FROM_C
from controller.core.hands import chocolate_added
from controller.core.machine import Machine
from controller.core.profile import Action, Kind, Profile, Question, Verdict
from controller.core.signals import Reading, Readings
from controller.core.state import Progress, State
from controller.core.temper import judge_temper
from controller.core.thermal import BATH, BOWL, DRIFT, begin, prior_of
from tests.helpers.records import replace
from tests.helpers.scene import machine as any_machine
from tests.helpers.scene import phase, profile, question

TEMPERED = profile(
    phases=(
        phase("melt", bowl_target_c=50.0, questions=()),
        phase("cool", bowl_target_c=28.0, questions=()),
        phase("rewarm", bowl_target_c=31.8, questions=()),
        phase("hold", bowl_target_c=31.8, questions=(question(action=Action.SET_TEST),)),
    )
)
DRIFT_SD_W = 1.0
MELT, COOL, REWARM, HOLD = range(4)


def load_w(
    bowl_c: float, solid: float, *, kj_per_mol: float = 30.0, thicken: float = 30.0
) -> float:
    """The load of a batch that takes 0.3 W melted at 40 °C, by a law of its own."""
    cold = 1000.0 * kj_per_mol / 8.314 * (1.0 / (bowl_c + 273.15) - 1.0 / 313.15)
    return 0.3 * math.exp(cold + thicken * solid)


@dataclass
class Batch:
    """What the estimate was shown so far."""

    profile: Profile = TEMPERED
    machine: Machine = field(default_factory=lambda: any_machine(has_load=True))
    temper: TemperState = UNJUDGED
    run_s: float = 0.0
    phase: int = MELT
    bowl_c: float = 20.0
    solid: float = 0.0
    has_load: bool = True
    is_stirred: bool = True
    test: Verdict = Verdict.NONE
    ask: Question | None = None
    turns: float = 1.0  # so much more than was said is in the bowl
    blind_s: float = 0.0
    drift_k_per_s: float = 0.0
    belief: Belief | None = None
    looks: int = 0

    def go(self, bowl_c: float, minutes: float, *, phase: int | None = None) -> TemperState:
        """Hold the bowl at a temperature for a while, a tick each second; its latest estimate."""
        self.bowl_c = bowl_c
        self.phase = self.phase if phase is None else phase
        for _ in range(round(60 * minutes)):
            self.run_s += 1.0
            self.tick()
        return self.temper

    def melted(self) -> "Batch":
        """The batch after a melt, and cooled to 38 °C: what is learned of a melt is learned."""
        for bowl_c in (45.0, 50.0, 50.0):
            self.go(bowl_c, 5.0, phase=MELT)
        for bowl_c in (48.0, 45.0, 42.0, 40.0, 38.0):
            self.go(bowl_c, 1.0, phase=COOL)
        return self

    def seed(self, share: float, *, is_set: bool = True) -> None:
        """Say that so large a share of the batch came in, set or melted."""
        assert self.belief is not None
        at_c = 20.0 if is_set else 40.0
        self.belief = chocolate_added(self.belief, share, at_c, is_set=is_set)
        self.tick()

    def tick(self) -> None:
        """One look, if it is time for one."""
        self._believe()
        state = State(
            run_s=self.run_s,
            bath_c=self.bowl_c,
            bowl_c=self.bowl_c,
            belief=self.belief,
            temper=self.temper,
            stirrer_rpm=30.0 if self.is_stirred else 0.0,
            progress=Progress(phase=self.phase, reached=True, verdict=self.test, ask=self.ask),
        )
        assert self.belief is not None
        turned_w = self.turns * self.belief.in_bowl * load_w(self.bowl_c, self.solid)
        load = Reading(turned_w) if self.has_load else None
        readings = Readings(bath=Reading(self.bowl_c), bowl=Reading(self.bowl_c), load=load)
        after = judge_temper(state, self.profile, self.machine, readings)
        self.looks += after is not self.temper
        self.temper = after

    def _believe(self) -> None:
        """The belief with this bowl, nothing moving."""
        if self.belief is None:
            in_bowl = 1.0
            prior = prior_of(self.machine, Kind.DARK, in_bowl)
            self.belief = begin(
                prior, self.bowl_c, self.bowl_c, in_bowl=in_bowl, has_melted=self.phase > MELT
            )
            self.belief = replace(self.belief, solid=0.0)
        mean = list(self.belief.mean)
        mean[BATH] = mean[BOWL] = self.bowl_c
        mean[DRIFT] = self.drift_k_per_s
        spread = [list(row) for row in self.belief.spread]
        spread[DRIFT][DRIFT] = (DRIFT_SD_W / self.belief.prior.bowl_j_per_k) ** 2
        has_melted = self.belief.has_melted or self.bowl_c > MELTED_FROM_C
        self.belief = replace(
            self.belief,
            mean=tuple(mean),
            wall_c=self.bowl_c,
            spread=tuple(map(tuple, spread)),
            is_stirred=self.is_stirred,
            has_melted=has_melted,
            blind_s=self.blind_s,
        )
