"""May I leave it for a while? Answered by fast-forwarding: the next question, and the crystals.

Responsible for the answer and its words; not for who asks (hatch, link, keyboard). It grants
nothing: whatever it says, a question waits for a person, and interlocks watch.
"""

import math
import re
from enum import StrEnum
from typing import NamedTuple

from controller.core.ahead import STEP_S, followed, kitchen_of
from controller.core.course import lags_s, leg_s, pot_of, rates_of
from controller.core.estimate import Belief
from controller.core.machine import Machine
from controller.core.mishaps import Bank
from controller.core.profile import Action, Phase, Profile, Question, When
from controller.core.rescuing import likelihood, top_up_share, topped_most_c
from controller.core.state import ENDED, Mode, State
from controller.core.tempering import MOST_V, Temper, spread_of
from controller.core.warming import EVERY_S, STEP_K, THICK_FROM
from controller.core.words import mass_text, shown_temperature

# Own engineering values, not published.
MOST_S = 4 * 3600.0
SURE = 0.6  # of limits so blurred: in the midst of the window it is 0.8 at most
MELT_C = 40.0
THIN_V = 0.01  # form V of the fat that a top-up is to bring it to
MOST_SHARE = 0.3
STEPS_MOST = 60  # however far ahead: it must not hold up a tick
PAUSES = frozenset({Mode.PAUSING, Mode.PAUSED, Mode.RESUMING})
_S_PER_MIN = 60.0
_PERCENT = 100.0
HOW = "leave 20 min"
STAY = "Somebody stays in the house: a heated machine is never left alone."
_FORM = re.compile(r"leave (?:for )?(\d{1,4}(?:[.,]\d{1,2})?) ?(s|min|h)", re.ASCII)
_UNITS_S = {"s": 1.0, "min": 60.0, "h": 3600.0}


class May(StrEnum):
    """The answer in a word."""

    YES = "yes"
    BUT = "yes-but"
    NO = "no"


class Answer(NamedTuple):
    """The answer: a word, and the sentences for a person."""

    may: May
    text: str


def leave_of(text: str) -> float | None:
    """How long somebody wants to be away, s, by words like `leave 20 min`; None for other words.

    More than four hours or nothing is no break, and None, too.
    """
    form = _FORM.fullmatch(" ".join(text.casefold().split()))
    if form is None:
        return None
    span_s = float(form[1].replace(",", ".")) * _UNITS_S[form[2]]
    return span_s if 0.0 < span_s <= MOST_S else None


def may_leave(state: State, profile: Profile, machine: Machine, span_s: float) -> Answer:
    """Whether a run may be left for `span_s`, and what to expect on return."""
    answer = _answer(state, profile, machine, span_s)
    lead = {May.YES: "Yes.", May.BUT: "Yes, but:", May.NO: "No."}[answer.may]
    stay = f" {STAY}" if state.mode not in ENDED and answer.may is not May.NO else ""
    return Answer(answer.may, f"{lead} {answer.text}{stay}")


def _answer(state: State, profile: Profile, machine: Machine, span_s: float) -> Answer:
    if state.mode is not Mode.RUNNING:
        return _at_rest(state, profile)
    progress, belief = state.progress, state.belief
    if progress.ask is not None:
        return Answer(May.NO, f"It waits for you: {progress.ask.text} Answer, then ask again.")
    if belief is None or state.withheld:
        return Answer(May.NO, "Heat is held back for now; see to that first.")
    if progress.phase == len(profile.phases) - 1 and progress.reached:
        return _held(state, belief, profile, machine, span_s)
    return _under_way(state, belief, profile, machine, span_s)


def _at_rest(state: State, profile: Profile) -> Answer:
    """Ended, not begun, or in a pause."""
    if state.trips:
        return Answer(May.NO, f"It has tripped: {state.trips[0].what} {state.trips[0].action}")
    if state.mode not in PAUSES:
        return Answer(May.YES, "Nothing is running and heat is off; what is in the bowl will set.")
    at = shown_temperature(profile.phases[state.progress.phase].pause_at_c)
    return Answer(May.YES, f"It pauses, and keeps the bowl at {at}, stirring.")


def _under_way(
    state: State, belief: Belief, profile: Profile, machine: Machine, span_s: float
) -> Answer:
    """On the way to the last phase: the next question decides."""
    asks_s, question = _next_question(state, belief, profile, machine)
    if question is None or asks_s > span_s:
        until = f" It asks nothing for about {_minutes(asks_s)}." if math.isfinite(asks_s) else ""
        return Answer(May.YES, f"It goes on alone meanwhile.{until}")
    after = _minutes(asks_s)
    if question.action is Action.ADD_SEED:
        return Answer(May.NO, f"In about {after} it asks for seed, which does not bear waiting.")
    what = question.text.replace(" {mass}", "").replace(" at {water}", "")
    return Answer(
        May.BUT,
        f"in about {after} it asks: {what} It waits for you and nothing spoils, but it will be "
        f"ready about {_minutes(span_s - asks_s)} later.",
    )


def _next_question(
    state: State, belief: Belief, profile: Profile, machine: Machine
) -> tuple[float, Question | None]:
    """Which is asked next, and in how many seconds; infinite where it can't come there alone."""
    progress = state.progress
    at_s, pot = 0.0, pot_of(belief)
    for index in range(progress.phase, len(profile.phases)):
        phase, is_here = profile.phases[index], index == progress.phase
        to_come = [one for one in phase.questions if not (is_here and one.id in progress.answered)]
        if to_come and to_come[0].when is When.START:
            return at_s, to_come[0]
        share = 0.0 if belief.has_melted or index else 1.0
        rates = rates_of(belief, machine, phase.bowl_target_c, share)
        if not (is_here and progress.reached):
            at_s += leg_s(pot, phase, rates, progress.settled_s if is_here else 0.0)
            at_s += lags_s(belief)
        if to_come and to_come[0].when in {When.REACHED, When.BOWL_AT_MOST}:
            return at_s, to_come[0]
        at_s += phase.dwell_s - (progress.dwelled_s if is_here else 0.0)
        if to_come:
            return at_s, to_come[0]
        pot = pot._replace(bath_c=phase.bowl_target_c, bowl_c=phase.bowl_target_c)
    return math.inf, None


def _held(
    state: State, belief: Belief, profile: Profile, machine: Machine, span_s: float
) -> Answer:
    """In the last phase: what the crystals do decides."""
    phase, temper = profile.phases[-1], state.temper
    if not profile.aims_at_temper:
        return Answer(May.YES, f"It keeps the bowl at {shown_temperature(phase.bowl_target_c)}.")
    if temper.verdict is not Temper.IN_TEMPER:
        return Answer(May.NO, f"{temper.why or 'What the crystals are is not known.'} See to that.")
    softer_k = belief.prior.content.softer_k
    bank = gone_on(temper.bank, temper.weights, phase, softer_k + temper.warmed_k, span_s)
    form_v, _ = spread_of(bank, temper.weights)
    expect = (
        f"On return form V is about {_PERCENT * form_v[1]:.1f} % of the fat "
        f"({_PERCENT * form_v[0]:.1f} to {_PERCENT * form_v[2]:.1f}; up to {_PERCENT * MOST_V:g} "
        f"is in temper), the bowl at {shown_temperature(phase.bowl_target_c)} or a little more."
    )
    if _stays(bank, temper.weights):
        return Answer(May.YES, f"It stays in temper. {expect}")
    return _thickening(state, belief, profile, machine, span_s, expect)


def _thickening(
    state: State, belief: Belief, profile: Profile, machine: Machine, span_s: float, expect: str
) -> Answer:
    """It would grow too thick, or leave temper: whether a top-up before helps."""
    phase, temper = profile.phases[-1], state.temper
    kitchen = kitchen_of(belief, machine, phase.bowl_target_c)
    bears = top_up_share(kitchen, state.bowl_c, MELT_C, topped_most_c(phase))
    share = min(temper.form_v[1] / THIN_V - 1.0, bears, MOST_SHARE)
    if share > 0.0:
        part = 1.0 / (1.0 + share)
        thinned = tuple((one[0] * part, one[1] * part, *one[2:]) for one in temper.bank)
        warm_k = belief.prior.content.softer_k + temper.warmed_k
        later = gone_on(thinned, temper.weights, phase, warm_k, span_s)
        if _stays(later, temper.weights):
            mass = mass_text(share * kitchen.batch_kg)
            return Answer(
                May.BUT,
                f"first stir in {mass} of melted, untempered chocolate of {MELT_C:.0f} °C, and "
                f"announce topped-up {mass} at {MELT_C:.0f} C; else it grows too thick.",
            )
    least_s = temper.keeps_s[0] - (state.run_s - temper.keeps_at_s)
    is_known = _S_PER_MIN < least_s < math.inf  # infinite where it grows thinner, not thicker
    sooner = f" Be back within {_minutes(least_s)}." if is_known else ""
    return Answer(May.NO, f"It may not stay in temper.{sooner} {expect}")


def _stays(bank: Bank, weights: tuple[float, ...]) -> bool:
    """Whether possible batches are in temper, nine in ten of them not too thick."""
    return likelihood(bank, weights) >= SURE and spread_of(bank, weights)[0][2] <= MOST_V


def gone_on(
    bank: Bank, weights: tuple[float, ...], phase: Phase, warm_k: float, span_s: float
) -> Bank:
    """The possible batches after a span of hold, small warm steps included where they are allowed.

    `warm_k` is by how much the bowl, on dark chocolate's scale, is over the phase's target now.
    """
    room_k = 0.0 if phase.warm_to_c is None else phase.warm_to_c - phase.bowl_target_c
    steps = min(STEPS_MOST, max(1, math.ceil(span_s / STEP_S)))
    since_s, stepped_k = EVERY_S, 0.0
    for _ in range(steps):
        since_s += span_s / steps
        if since_s >= EVERY_S and spread_of(bank, weights)[0][1] > THICK_FROM:
            stepped_k, since_s = min(room_k, stepped_k + STEP_K), 0.0
        dark_c = phase.bowl_target_c + warm_k + stepped_k
        bank = followed(bank, dark_c, span_s / steps, is_stirred=True)
    return bank


def _minutes(span_s: float) -> str:
    return f"{max(1, round(span_s / _S_PER_MIN))} min"
