"""Advice while a batch is held: a rescue where temper is lost, a top-up where warmth is spent.

Responsible for when something is advised, and for thinking it through an action a tick, so that no
tick is late; not for actions (rescuing), their words (rescue_words) or small warm steps (warming).
Advice changes nothing by itself: what follows of it is announced, or answered, by a person.
"""

import math

from controller.core.actions import Act
from controller.core.advice import SILENT, Advice, Matter
from controller.core.ahead import Batch, Kitchen, batch_of, kitchen_of
from controller.core.batches import TemperState
from controller.core.estimate import Belief
from controller.core.going_back import asked_back, back_question
from controller.core.machine import Machine
from controller.core.mishaps import window_of
from controller.core.profile import Phase, Profile, Verdict
from controller.core.records import replace
from controller.core.rescue_words import LATER, steps_text, title, why_text
from controller.core.rescuing import (
    MELT_AT_C,
    ahead_of,
    cheapest,
    melting,
    possible,
    top_up_share,
    topped_most_c,
)
from controller.core.state import Event, EventName, Mode, State
from controller.core.tempering import Temper, Unseen
from controller.core.warming import SOON_S, SURE, THICK_FROM
from controller.core.words import mass_text

# Own engineering values, not published.
EVERY_S = 1200.0  # it is thought about anew, and said again
AIM_V = 0.015  # of the fat, where a top-up is to bring form V
LEAST_SHARE, MOST_SHARE = 0.05, 0.5  # of a top-up, over what is in the bowl
_PERCENT = 100.0
_UNSEEN = {Unseen.LOAD: Matter.WATER, Unseen.TEST: Matter.RESCUE}
WATER_TEXT = (
    "The stirrer's load jumped as crystals can't make it. Look into the bowl: if it is stiff and "
    "grainy, water got in, and only ganache is left of it; else stop the run and unplug before you "
    "see what is in the stirrer's way."
)


def advised(state: State, profile: Profile, machine: Machine, events: list[Event]) -> State:
    """The run after a tick's thinking; what is said first is told as an event."""
    advice = state.advice
    if advice.seen is state.temper and not advice.left:
        return state
    belief = state.belief
    matter = Matter.NONE if belief is None else matter_of(state, profile)
    if belief is None or matter is Matter.NONE:
        silent = replace(
            SILENT,
            seen=state.temper,
            leave=advice.leave,
            told=advice.told,
            told_s=advice.told_s,
        )
        return replace(state, advice=silent)
    before = advice
    advice = replace(advice, seen=state.temper)
    is_new = matter is not advice.matter
    if is_new or (not advice.left and state.run_s - advice.began_s >= EVERY_S):
        advice = _begun(advice, matter, state, profile, machine)
    elif advice.left:
        advice = _thought(advice, state, belief, profile, machine)
        state = _asked(state, advice, belief, profile, events)
    if advice.text and not advice.left and advice.text != before.text:
        advice = _offered(advice, state.run_s, events)
    return replace(state, advice=advice)


def _offered(advice: Advice, run_s: float, events: list[Event]) -> Advice:
    """Told as an event: what is new, or what has lasted for a while.

    An estimate at the edge of being sure says the same again and again; the text stands meanwhile.
    """
    about = (advice.matter, advice.act if advice.matter is Matter.RESCUE else None)
    if about == advice.told and run_s - advice.told_s < EVERY_S:
        return advice
    facts: dict[str, str | float | bool] = {"matter": advice.matter, "advice": advice.text}
    events.append(Event(name=EventName.ADVICE_OFFERED, facts=facts))
    return replace(advice, told=about, told_s=run_s)


def matter_of(state: State, profile: Profile) -> Matter:
    """What is the matter with a batch that is held at its working temperature."""
    progress = state.progress
    is_held = progress.phase == len(profile.phases) - 1 and progress.reached
    if not (state.mode is Mode.RUNNING and is_held and profile.aims_at_temper and progress.phase):
        return Matter.NONE
    matter = _of_temper(state.temper, profile.phases[-1])
    has_failed = progress.verdict is Verdict.NOT_IN_TEMPER and not _is_sure(state.temper)
    return Matter.RESCUE if has_failed and matter is Matter.NONE else matter


def _is_sure(temper: TemperState) -> bool:
    """Whether the estimate says anything that a set test has not overruled."""
    return temper.unseen is Unseen.NOTHING and temper.confidence >= SURE


def _of_temper(temper: TemperState, phase: Phase) -> Matter:
    if temper.unseen is not Unseen.NOTHING:
        return _UNSEEN.get(temper.unseen, Matter.NONE)
    if temper.confidence < SURE:
        return Matter.NONE
    if temper.verdict in {Temper.UNDER, Temper.MELTED_OUT}:
        return Matter.RESCUE
    if not is_warmed_out(temper, phase):
        return Matter.NONE  # small warm steps come first
    if temper.verdict is Temper.OVER:
        return Matter.RESCUE
    thickens = temper.form_v[1] > THICK_FROM or temper.keeps_s[1] < SOON_S
    return Matter.TOP_UP if temper.verdict is Temper.IN_TEMPER and thickens else Matter.NONE


def is_warmed_out(temper: TemperState, phase: Phase) -> bool:
    """Whether the profile lets it be held no warmer."""
    room_k = 0.0 if phase.warm_to_c is None else phase.warm_to_c - phase.bowl_target_c
    return temper.warmed_k >= room_k


def _begun(
    advice: Advice, matter: Matter, state: State, profile: Profile, machine: Machine
) -> Advice:
    """Advice that is said at once, or begins to be thought through."""
    is_same = matter is advice.matter  # and stands until it has been thought through anew
    advice = replace(advice, matter=matter, began_s=state.run_s, left=(), found=())
    belief = state.belief
    if matter is Matter.WATER or belief is None:
        return replace(advice, text=WATER_TEXT, at_s=state.run_s)
    batch, kitchen = _here(state, belief, profile, machine)
    if matter is Matter.TOP_UP:
        text = top_up_text(batch, kitchen, state.temper.form_v[1], profile.phases[-1])
        return replace(advice, text=text, at_s=state.run_s)
    window = window_of(profile, belief.prior.content.softer_k)
    actions = possible(batch, window, kitchen)
    if not _is_sure(state.temper):  # what it is like is not known
        actions = tuple(one for one in actions if one.act in {Act.MELT, Act.MELT_SEED})
    return replace(advice, left=actions, text=advice.text if is_same else "")


def _thought(
    advice: Advice, state: State, belief: Belief, profile: Profile, machine: Machine
) -> Advice:
    """After one more action; with the last of them it is said."""
    batch, kitchen = _here(state, belief, profile, machine)
    one, *left = advice.left
    found = (*advice.found, ahead_of(batch, one, kitchen, state.temper.weights))
    advice = replace(advice, left=tuple(left), found=found)
    if left:
        return advice
    window = window_of(profile, belief.prior.content.softer_k)
    best = cheapest(found) or melting(found)
    text = ""
    if best is not None:
        steps = " ".join(steps_text(best, window, water_c=kitchen.water_c))
        announce = " Announce what you put in." if best.added_kg > 0.0 else ""
        text = f"{title(best)}. {steps}{announce} {LATER} {why_text(best, found)}"
        if back_question(best.action.act, window, profile) is not None:
            text += " Or let this run go through its own phases again: it asks."
    act = None if best is None else best.action.act
    return replace(advice, text=text, at_s=state.run_s, found=(), act=act)


def _asked(
    state: State, advice: Advice, belief: Belief, profile: Profile, events: list[Event]
) -> State:
    """The run with its question, where what is advised are its own phases over again."""
    if advice.left or advice.act is None:
        return state
    window = window_of(profile, belief.prior.content.softer_k)
    question = back_question(advice.act, window, profile)
    return state if question is None else asked_back(state, question, events)


def _here(
    state: State, belief: Belief, profile: Profile, machine: Machine
) -> tuple[Batch, Kitchen]:
    """The batch and the machine as they are believed to be now."""
    kitchen = kitchen_of(belief, machine, profile.phases[-1].bowl_target_c)
    return batch_of(belief, state.temper.bank), kitchen


def top_up_text(batch: Batch, kitchen: Kitchen, form_v: float, phase: Phase) -> str:
    """How much untempered melt thins a batch, and how much its bowl bears.

    The limit is the heat balance up to where the phase lets the bowl be, crystals are diluted.
    """
    most_c = topped_most_c(phase)
    bears = top_up_share(kitchen, batch.bowl_c, MELT_AT_C, most_c)
    wanted = min(max(form_v / AIM_V - 1.0, LEAST_SHARE), MOST_SHARE)
    share = min(wanted, bears)
    if share < LEAST_SHARE:
        return (
            f"It thickens, and the bowl is too warm for a top-up of {MELT_AT_C:.0f} °C: work "
            f"faster, or top up with melt that is no warmer than {most_c:.1f} °C."
        )
    mass = mass_text(share * kitchen.batch_kg)
    thinned = _PERCENT * form_v / (1.0 + share)
    most = mass_text(bears * kitchen.batch_kg) if math.isfinite(bears) else "any amount"
    return (
        f"It thickens, and may be held no warmer: stir in {mass} of melted, untempered chocolate "
        f"of {MELT_AT_C:.0f} °C, and say so: announce topped-up {mass} at {MELT_AT_C:.0f} C. That "
        f"thins the good crystals, form V, from {_PERCENT * form_v:.1f} to {thinned:.1f} % of the "
        f"fat. Not more than {most} at once, or the bowl passes {most_c:.1f} °C."
    )
