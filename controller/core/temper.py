"""The estimate of temper: what the crystals are by the temperatures the batch had, and by evidence.

Responsible for following the possible batches through temperatures, seed and stirring, for moving
them by the stirrer's load and weighing them by the heat that crystals give, and for saying when
nothing can be known; not for one batch's course (crystallising) nor for what is called in temper
(tempering). Looked at every half minute of the run, or ten seconds where things move fast.
"""

import math

from controller.core.batches import EVEN, NO_SPREAD, QUIET_W, TRAITS, UNJUDGED, TemperState
from controller.core.crystallising import LUMP_SOLID, Crystals, grown, joined
from controller.core.estimate import Belief
from controller.core.keeping import keeps_s
from controller.core.load_evidence import filled
from controller.core.machine import Machine
from controller.core.profile import Action, Profile
from controller.core.records import replace
from controller.core.seeding import (
    DOUBTED_BELOW,
    FORGOTTEN,
    WAIT_S,
    any_came,
    awaited,
    likely,
    watched,
)
from controller.core.signals import Readings
from controller.core.state import State
from controller.core.temper_load import SEED_SHOWS, loaded
from controller.core.temper_tested import is_tested, overruled, tested
from controller.core.tempering import (
    LEAST_V,
    MELTING,
    UNSURE,
    UNTIL_MELTED,
    Temper,
    Unseen,
    chances_of,
    has_arrived,
    spread_of,
    unseen_text,
    warmed_text,
    why_text,
)
from controller.core.thermal import BATH, BOWL, DRIFT
from controller.core.warming import warmed

# Own engineering values, not published.
LOOK_S, LOOK_SOON_S = 30.0, 10.0
LONGEST_S = 30.0  # one step of a batch's course
STEPS_MOST = 20  # no run has a longer gap between two ticks
SOON_FROM_C = 33.0  # on dark chocolate's scale: form V may be melting
MELTED_C = 42.0  # warmer, and whatever was not known of it no longer matters
BLIND_MOST_S = 120.0
QUIET_SD_W = 1.5
LEADS_MOST_K = 3.0
HEAT_MEMORY_S = 900.0  # heat in no model stays wrong for so long, if it is wrong
EVEN_SHARE = 0.01  # of the weights goes back to even at each look
KEEPS_EVERY_S = 600.0  # how long it keeps is worked out anew so often


def judge_temper(
    state: State, profile: Profile, machine: Machine, readings: Readings
) -> TemperState:
    """What is known of temper after a tick: as before, or a new look where it is time for one."""
    before, belief = state.temper, state.belief
    if belief is None:
        return before
    if (
        state.run_s < before.due_s
        and belief.in_bowl == before.in_bowl
        and state.progress.ask is before.ask
        and state.progress.verdict is before.test
    ):
        return before
    if before is UNJUDGED or math.isnan(before.dark_c):
        return _begun(state, profile, machine, belief, before)
    return _looked(before, state, profile, belief, readings)


def _begun(
    state: State, profile: Profile, machine: Machine, belief: Belief, before: TemperState
) -> TemperState:
    """The first look. A run that begins beyond its first phase has a history that nobody saw."""
    unseen = before.unseen
    if not profile.aims_at_temper:
        return TemperState(due_s=math.inf, in_bowl=belief.in_bowl, test=state.progress.verdict)
    if not machine.has_bowl:
        unseen = Unseen.NO_PROBE
    elif not machine.has_stirrer:
        unseen = Unseen.NO_STIRRER
    elif before is UNJUDGED and state.progress.phase > 0:
        unseen = Unseen.CUT
    begun = replace(
        before,
        unseen=unseen,
        at_s=state.run_s,
        dark_c=_dark_c(belief),
        in_bowl=belief.in_bowl,
        solid=belief.solid,
    )
    return _said(begun, state, profile)


def _dark_c(belief: Belief) -> float:
    """The bowl on the scale of dark chocolate: where dark would be as near to melting."""
    return belief.mean[BOWL] + belief.prior.content.softer_k


def _looked(
    before: TemperState, state: State, profile: Profile, belief: Belief, readings: Readings
) -> TemperState:
    """A new look: course, what came in, the load, the heat, the set test, the verdict."""
    dark_c, span_s = _dark_c(belief), state.run_s - before.at_s
    is_stirred = state.stirrer_rpm > 0.0
    bank = _followed(before, 0.5 * (before.dark_c + dark_c), span_s, is_stirred=is_stirred)
    weights = _weighed(before, belief, bank, span_s)
    after = _seed_watched(replace(before, bank=bank, weights=weights), state, belief, span_s)
    after = _seed_weighed(_filled(after, state, belief), state)
    bank = after.bank
    if state.progress.phase == 0:  # what there was before the batch was melted no longer counts
        bank = tuple((*one[:4], 0.0) for one in bank)
        after = replace(after, came=1.0, doubts_seed=False)
    blind_s = before.blind_s + (span_s if belief.blind_s > 0.0 else 0.0)
    unseen = before.unseen
    if unseen is Unseen.NOTHING and blind_s > BLIND_MOST_S:
        unseen = Unseen.BLIND
    tested_s = after.tested_s
    if dark_c >= MELTED_C:
        tested_s = -math.inf
        if unseen in UNTIL_MELTED:
            unseen, blind_s = Unseen.NOTHING, 0.0
    after = replace(
        after,
        tested_s=tested_s,
        ask=state.progress.ask,
        bank=bank,
        unseen=unseen,
        at_s=state.run_s,
        dark_c=dark_c,
        in_bowl=belief.in_bowl,
        solid=belief.solid,
        blind_s=blind_s,
    )
    after = tested(loaded(after, state, belief, readings, span_s), state)
    return _said(after, state, profile)


def _filled(temper: TemperState, state: State, belief: Belief) -> TemperState:
    """After what came into the bowl since the last look."""
    part = 1.0 - temper.in_bowl / belief.in_bowl
    if not part > 0.0:
        return temper
    is_set, unseeded = belief.solid > temper.solid, temper.unseeded
    if is_set:
        unseeded = temper.bank, temper.melt
        temper = _seeded(temper, state, belief, part)
    bank = temper.bank
    if temper.seed is not None or not (is_set and temper.doubts_seed):
        bank = tuple(joined(one, part, is_set=is_set) for one in bank)
    return replace(temper, bank=bank, unseeded=unseeded, melt=filled(temper.melt, part))


def _seeded(temper: TemperState, state: State, belief: Belief, part: float) -> TemperState:
    """After somebody has said that seed is in: it is watched, or as likely as all seed is."""
    seed = temper.seed or awaited(
        belief, part * belief.in_bowl, state.bowl_c, is_in=True, excess=temper.excess
    )
    temper = replace(temper, seeded_s=state.run_s)
    if seed is not None:
        return replace(temper, seed=replace(seed, said_s=state.run_s))
    is_first = temper.came == 1.0 and not temper.doubts_seed
    return replace(temper, came=_came(temper, 1.0 - FORGOTTEN)) if is_first else temper


def _came(temper: TemperState, now: float) -> float:
    """How likely any seed is in, once the last portion is so likely; `temper` is before it."""
    had = math.fsum(
        w for one, w in zip(temper.bank, temper.weights, strict=True) if one[4] >= LEAST_V
    )
    return any_came(temper.came if temper.came < 1.0 else 0.0, now, had)


def _seed_watched(before: TemperState, state: State, belief: Belief, span_s: float) -> TemperState:
    """After a look at seed that was asked for, and may be in already."""
    if before.seed is not None:
        seed = watched(before.seed, belief, state.bowl_c, state.run_s, span_s)
        return replace(before, seed=seed)
    ask = state.progress.ask
    if ask is None or ask.action is not Action.ADD_SEED or ask is before.ask:
        return before
    asked = awaited(belief, ask.share or 0.0, belief.mean[BOWL], is_in=False, excess=before.excess)
    return replace(before, seed=asked)


def _seed_weighed(before: TemperState, state: State) -> TemperState:
    """After seed was watched for long enough: how likely it is in; else it is too soon to say."""
    check, ask = before.seed, state.progress.ask
    if check is None:
        return before
    if not check.is_said:
        is_asked = ask is not None and ask.action is Action.ADD_SEED
        return before if is_asked else replace(before, seed=None)
    if state.run_s < check.said_s + WAIT_S:
        return before
    chance = likely(check)
    bank, melt = before.unseeded or (before.bank, before.melt)
    came = _came(replace(before, bank=bank), chance)
    after = replace(before, seed=None, came=came, doubts_seed=chance < DOUBTED_BELOW, unseeded=None)
    return replace(after, bank=bank, melt=melt) if after.doubts_seed else after


def _followed(
    before: TemperState, dark_c: float, span_s: float, *, is_stirred: bool
) -> tuple[Crystals, ...]:
    """All batches after a span at a temperature."""
    if not span_s > 0.0:
        return before.bank
    steps = min(math.ceil(span_s / LONGEST_S), STEPS_MOST)
    bank = before.bank
    for _ in range(steps):
        bank = tuple(
            grown(one, trait, dark_c, span_s / steps, is_stirred=is_stirred)
            for one, trait in zip(bank, TRAITS, strict=True)
        )
    return bank


def _weighed(
    before: TemperState, belief: Belief, bank: tuple[Crystals, ...], span_s: float
) -> tuple[float, ...]:
    """Weights after the heat that is in no model: crystals that grow give some."""
    weights, lead_k = before.weights, belief.mean[BATH] - belief.mean[BOWL]
    hears = (
        belief.has_melted
        and belief.is_stirred
        and belief.solid == 0.0
        and belief.mixing_s == 0.0
        and belief.blind_s == 0.0
        and abs(lead_k) < LEADS_MOST_K
    )
    if not (hears and span_s > 0.0):
        return weights
    per_s = belief.prior.content.latent_k / LUMP_SOLID / span_s
    warming = [
        (new[0] + new[1] - old[0] - old[1]) * per_s
        for new, old in zip(bank, before.bank, strict=True)
    ]
    bowl_j = belief.prior.bowl_j_per_k
    seen = belief.mean[DRIFT] - QUIET_W / bowl_j
    variance = belief.spread[DRIFT][DRIFT] + (QUIET_SD_W / bowl_j) ** 2
    by = 0.5 * min(1.0, span_s / HEAT_MEMORY_S) / variance
    offs = [by * (seen - one) ** 2 for one in warming]
    least = min(offs)
    found = [
        weight * math.exp(least - off) + EVEN_SHARE * even
        for weight, off, even in zip(weights, offs, EVEN, strict=True)
    ]
    total = sum(found)
    return tuple(weight / total for weight in found)


def _said(temper: TemperState, state: State, profile: Profile) -> TemperState:
    """The verdict of this look, and when to look again."""
    may_melt = temper.dark_c >= SOON_FROM_C and state.progress.phase > 0
    is_soon = temper.seed is not None or any(
        one[3] > 0.0 or (may_melt and one[0] > SEED_SHOWS) for one in temper.bank
    )
    form_v, unstable = spread_of(temper.bank, temper.weights)
    verdict, confidence, why = _verdict(temper, state, profile, form_v, unstable)
    is_seen = temper.unseen is Unseen.NOTHING
    temper = _kept(temper, state, profile, is_good=is_seen and verdict is Temper.IN_TEMPER)
    temper = replace(
        temper,
        verdict=verdict,
        confidence=confidence,
        why=why,
        form_v=form_v if is_seen else NO_SPREAD,
        unstable=unstable if is_seen else math.nan,
        due_s=state.run_s + (LOOK_SOON_S if is_soon else LOOK_S),
    )
    if state.progress.phase < len(profile.phases) - 1:
        return temper
    temper = warmed(temper, profile.phases[-1], state.run_s)
    return replace(temper, why=warmed_text(why, temper.warmed_k)) if temper.warmed_k else temper


def _kept(temper: TemperState, state: State, profile: Profile, *, is_good: bool) -> TemperState:
    """How long it keeps where the last phase holds it; looked at seldom, for it is dear."""
    target_c = profile.phases[-1].bowl_target_c
    is_held = state.progress.phase == len(profile.phases) - 1
    if not (is_good and is_held and state.belief is not None):
        is_none = math.isinf(temper.keeps_at_s)
        return temper if is_none else replace(temper, keeps_s=NO_SPREAD, keeps_at_s=-math.inf)
    if state.run_s - temper.keeps_at_s < KEEPS_EVERY_S:
        return temper
    dark_c = target_c + state.belief.prior.content.softer_k
    found = keeps_s(temper.bank, temper.weights, dark_c)
    return replace(temper, keeps_s=found, keeps_at_s=state.run_s)


def _verdict(
    temper: TemperState,
    state: State,
    profile: Profile,
    form_v: tuple[float, float, float],
    unstable: float,
) -> tuple[Temper, float, str]:
    """Verdict, confidence and why."""
    progress = state.progress
    if temper.unseen is not Unseen.NOTHING:
        return Temper.UNKNOWN, 0.0, unseen_text(temper.unseen)
    if progress.phase == 0:
        return Temper.NOT_YET, 1.0 - UNSURE, MELTING
    is_there = progress.reached or progress.settled_s > 0.0
    arrived = has_arrived(profile, progress.phase, is_there=is_there)
    chances = chances_of(
        temper.bank,
        temper.weights,
        arrived=arrived,
        by_load=temper.by_load,
        is_tested=is_tested(temper, state),
        came=temper.came,
    )
    verdict, confidence = overruled(temper, state, chances, form_v[1])
    return (
        verdict,
        confidence,
        why_text(verdict, form_v, unstable, by_load=temper.by_load, doubts_seed=temper.doubts_seed),
    )
