"""Questions whose amount is worked out as they are put: swaps of the bath's water.

Responsible for the amount in a question's text and for asking a second time; not for the sum itself
(swap) or for when a phase asks what (sequencer).
"""

import math

from msgspec import Struct

from controller.core.chocolate import solid_share
from controller.core.descent import Lumps, arrival_s, lumps_of
from controller.core.estimate import Belief
from controller.core.estimator import CORRECT_EVERY_S
from controller.core.hands import SWAP_SIZE_SD
from controller.core.machine import WATER_J_PER_KG_K, Machine
from controller.core.profile import Action, Phase, Question
from controller.core.records import replace
from controller.core.state import Progress
from controller.core.swap import LEAST_KG, Water, best_way, pays, soonest_s
from controller.core.thermal import BATH, BOWL, LN_K, LN_P, LN_R, Q
from controller.core.words import mass_text

# Own engineering values, not published.
LOOK_S = 15.0  # how often a second step is thought about, and an open question's amount
MIXES_S = 40.0  # after a swap, until the bath's thermometer and the estimate have come after
SURE_BATH_K = 0.2  # not before the bath is known so well again
RENEWED_FROM = 0.1  # an open question's amount is said anew where it is off by such a share
HIGH_SHARE = 0.7  # of the tolerance: over the target, the bowl has arrived
LEAST_K = 0.15  # under the target that the bowl may be predicted to get
AGAIN = "-again"


class Cooling(Struct, frozen=True):
    """What is known where a swap may be asked for."""

    belief: Belief | None
    machine: Machine
    phase: Phase

    def put(self, question: Question, progress: Progress) -> Question | None:
        """The question as it is put, its amount worked out; None where nothing is to be done."""
        if not question.is_computed:
            return question
        if self.belief is None:
            return None
        lumps = self._lumps(self.belief, progress)
        if self.machine.cooler is not None and arrival_s(lumps, *self._band()) < math.inf:
            return None  # what is fitted for it does it
        way = best_way(lumps, self._water(self.belief, question), *self._band())
        return self._filled(question, way.share)

    def again(self, question: Question, progress: Progress) -> Question | None:
        """A second step, where it pays."""
        belief = self.belief
        is_done = question.id + AGAIN in progress.answered
        if is_done or belief is None or not self._is_time(progress.phase_s):
            return None
        if progress.unasked_s < MIXES_S or belief.spread[BATH][BATH] > SURE_BATH_K**2:
            return None
        lumps = self._lumps(belief, progress)
        if not pays(lumps, self._water(belief, question), *self._band()):
            return None
        second = self.put(question, progress)
        return None if second is None else replace(second, id=question.id + AGAIN)

    def renewed(self, ask: Question, progress: Progress) -> Question | None:
        """An open question with another amount, where things have changed that much."""
        source = next((one for one in self.phase.questions if one.is_computed), None)
        if ask.mass_kg is None or source is None or not self._is_time(progress.asked_s):
            return None
        fresh = self.put(source, progress)
        if fresh is None or fresh.mass_kg is None:
            return None
        if abs(fresh.mass_kg - ask.mass_kg) <= RENEWED_FROM * ask.mass_kg:
            return None
        return replace(fresh, id=ask.id)

    def takes_s(self, progress: Progress, bath_c: float, bowl_c: float) -> float:
        """How long a bowl will take to come down, stirred, with the swaps that are still to come.

        Infinite where they don't bring it there, or where there are none.
        """
        question = next((one for one in self.phase.questions if one.is_computed), None)
        if question is None or self.belief is None:
            return math.inf
        belief = replace(self.belief, solid=0.0)
        mean = list(belief.mean)
        mean[Q], mean[BATH], mean[BOWL] = 0.0, bath_c, bowl_c
        if not belief.is_stirred:
            mean[LN_K] = belief.other_transfer[0]
        lumps = self._lumps(replace(belief, mean=tuple(mean)), progress)
        ids = (question.id, question.id + AGAIN)
        steps = sum(one not in progress.answered for one in ids)
        return soonest_s(lumps, self._water(belief, question), *self._band(), steps)

    def _is_time(self, since_s: float) -> bool:
        """Once in every `LOOK_S`, as the estimate is fresh."""
        return (
            self.belief is not None
            and self.belief.since_s == 0.0
            and since_s % LOOK_S < CORRECT_EVERY_S
        )

    def _band(self) -> tuple[float, float]:
        target_c = self.phase.bowl_target_c
        return target_c + HIGH_SHARE * self.phase.tolerance_k, target_c - LEAST_K

    def _lumps(self, belief: Belief, progress: Progress) -> Lumps:
        """Bath and bowl, as if the seed that this phase still asks for were in the bowl."""
        target_c, prior = self.phase.bowl_target_c, belief.prior
        lumps = lumps_of(belief, belief.mean, target_c)
        for question in self.phase.questions:
            if question.action is Action.ADD_SEED and question.id not in progress.answered:
                share = (question.share or 0.0) / belief.in_bowl
                melts = 1.0 - solid_share(prior.content, target_c)[0]
                cold_c = prior.room_c - melts * prior.content.latent_k
                lumps = lumps._replace(bowl_c=lumps.bowl_c + share * (cold_c - lumps.bowl_c))
        cooler = self.machine.cooler
        if cooler is None:
            return lumps
        carried = cooler.carries_w_per_k / prior.bath_j_per_k
        both = lumps.loss_per_s + carried
        warm_c = (lumps.loss_per_s * lumps.room_c + carried * cooler.sink_c) / both
        return lumps._replace(loss_per_s=both, room_c=warm_c)

    def _water(self, belief: Belief, question: Question) -> Water:
        spread = belief.spread
        return Water(
            heat_share=self.machine.water_kg * WATER_J_PER_KG_K / self.machine.bath_j_per_k,
            water_c=self.machine.cold_water_c if question.water_c is None else question.water_c,
            p_share_sd=math.sqrt(spread[LN_P][LN_P] + SWAP_SIZE_SD**2),
            k_share_sd=math.sqrt(spread[LN_K][LN_K]),
            r_share_sd=math.sqrt(spread[LN_R][LN_R] + SWAP_SIZE_SD**2),
        )

    def _filled(self, question: Question, share: float) -> Question | None:
        """With so large a share of the water, as a kitchen scale shows it; never more than all."""
        water_kg = self.machine.water_kg
        mass_kg = min(round(share * water_kg, 1), math.floor(10.0 * water_kg) / 10.0)
        if mass_kg < LEAST_KG:
            return None
        return replace(
            question,
            text=question.text.replace("{mass}", mass_text(mass_kg)),
            share=mass_kg / water_kg,
            mass_kg=mass_kg,
        )
