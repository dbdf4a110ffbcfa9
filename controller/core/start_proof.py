"""The proof of a start: what must be shown before a run may heat, one step after the other.

Responsible for taking the steps; not for what a defect leads to (start_rows), nor for heat itself,
which the tick alone gives (tick). What can't be seen with what is fitted is left out, and
`blind_spots` says so.
"""

import math

from controller.core import thresholds as th
from controller.core.machine import Machine
from controller.core.profile import CHOCOLATES, Action, Choice, Kind, Profile, Question, When
from controller.core.proof import Proof, Step
from controller.core.records import replace
from controller.core.recovery import Beginning
from controller.core.signals import Quality, Readings
from controller.core.state import Event, EventName, State

KIND_ID = "kind"
_ALONE = {Step.FIRST: 1, Step.SECOND: 2}  # which of two switches closes alone
_AFTER = {Step.OFF: Step.FIRST, Step.FIRST: Step.SECOND, Step.SECOND: Step.HEAT}
_ROUNDING_S = 1e-6


def kind_question(profile: Profile) -> Question:
    """What is asked before anything is heated."""
    return Question(
        id=KIND_ID,
        text=f"This profile is for {profile.kind} chocolate. What is in the bowl, by its packet?",
        when=When.START,
        bowl_c=None,
        # Only what the profile is for leads to heat.
        choices=tuple(
            Choice(word=str(kind), adds_energy=kind is profile.kind) for kind in CHOCOLATES
        ),
        unanswered_s=None,
        unanswered=None,
        action=Action.NONE,
    )


def begun(state: State, beginning: Beginning, profile: Profile | None) -> State:
    """The same with the proof of its start to come; without a profile nothing is to be proven."""
    if profile is None:
        return state
    if profile.kind is Kind.WATER or beginning.is_kind_known:
        return replace(state, proof=Proof(step=Step.LOOK))
    progress = replace(state.progress, ask=kind_question(profile))
    return replace(state, proof=Proof(step=Step.KIND), progress=progress)


def alone_of(proof: Proof) -> int:
    """Which switch is to close alone, to be tested: 1, 2, or 0 for none."""
    return 0 if proof.stuck else _ALONE.get(proof.step, 0)


def asked(state: State) -> tuple[Event, ...]:
    """The question's event, as a run begins."""
    ask = state.progress.ask
    if ask is None or state.proof.step is not Step.KIND:
        return ()
    words = ", ".join(one.word for one in ask.choices)
    return (
        Event(
            name=EventName.QUESTION_ASKED, facts={"id": ask.id, "text": ask.text, "choices": words}
        ),
    )


def told_kind(proof: Proof, events: tuple[Event, ...], profile: Profile) -> Proof:
    """The proof once somebody has said what is in the bowl."""
    for event in events:
        if event.name is EventName.QUESTION_ANSWERED and event.facts["id"] == KIND_ID:
            word = str(event.facts["choice"])
            return Proof(step=Step.LOOK, mistaken="" if word == profile.kind else word)
    return proof


def proved(state: State, before: State, machine: Machine, readings: Readings, dt_s: float) -> State:
    """The run one tick further in its proof."""
    proof = state.proof
    if _is_over(proof) or proof.step is Step.KIND or proof.mistaken or proof.stuck:
        return state
    if proof.step is Step.LOOK:
        proof = _looked(proof, state, machine, readings)
    elif proof.step in _AFTER:
        proof = _switched(replace(proof, step_s=proof.step_s + dt_s), state, machine, readings)
    else:
        proof = _answered(proof, state, before, machine, dt_s)
    return state if proof is state.proof else replace(state, proof=proof)


def _is_over(proof: Proof) -> bool:
    """Whether the bath has answered the heat and the bowl the bath."""
    return proof.step is Step.DONE and math.isnan(proof.bowl_from_c)


def _looked(proof: Proof, state: State, machine: Machine, readings: Readings) -> Proof:
    """Whether all sensors give sound values, and those in the same water agree."""
    guard_c = math.nan if readings.permit is None else readings.permit.bath_c
    apart_k = guard_c - state.bath_c
    apart_k = apart_k if math.isfinite(apart_k) else 0.0
    is_cold = abs(state.bath_c - machine.room_c) <= th.COLD_BATH_K
    colder_k = state.bath_c - state.bowl_c if is_cold else 0.0
    colder_k = colder_k if math.isfinite(colder_k) else 0.0
    cold_apart_k = apart_k if is_cold and math.isfinite(guard_c) else math.nan
    proof = replace(proof, apart_k=apart_k, cold_apart_k=cold_apart_k, colder_k=colder_k)
    if state.withheld or abs(apart_k) > th.COLD_APART_K or colder_k > th.COLD_BOWL_K:
        return proof
    sees = machine.has_mains or machine.has_current
    return _begun(proof, Step.OFF if sees else Step.HEAT, state)


def _switched(proof: Proof, state: State, machine: Machine, readings: Readings) -> Proof:
    """Whether the heater is seen off, by whichever switch it is held."""
    sight = state.watch.memory.heater
    if sight.blind_s > 0.0 or state.withheld:
        return replace(proof, step_s=0.0) if state.withheld else proof
    if proof.step in _ALONE and _is_live(machine, readings, proof.step_s):
        return replace(proof, stuck=3 - _ALONE[proof.step])
    if sight.live_s > 0.0 or sight.flowing_s > 0.0 or proof.step_s < th.SWITCH_PROOF_S:
        return proof
    after = _AFTER[proof.step] if machine.has_second else Step.HEAT
    return _begun(proof, after, state)


def _is_live(machine: Machine, readings: Readings, told_s: float) -> bool:
    """Whether what is fitted sees voltage or current by now."""
    permit, current = readings.permit, readings.current
    if machine.has_mains and permit is not None and permit.live:
        return True
    return (
        machine.has_current
        and current is not None
        and current.quality is Quality.GOOD
        and current.age_s < told_s
        and current.value > th.CURRENT_FLOWS * machine.heater_a
    )


def _begun(proof: Proof, step: Step, state: State) -> Proof:
    if step is not Step.HEAT:
        return replace(proof, step=step, step_s=0.0)
    return replace(proof, step=step, step_s=0.0, bowl_from_c=state.bowl_c)


def _answered(proof: Proof, state: State, before: State, machine: Machine, dt_s: float) -> Proof:
    """Whether the bath has answered the first heat, and the bowl the bath."""
    heat, was = state.watch.memory.heat, before.watch.memory.heat
    if heat.settling_s > 0.0:  # somebody changed bath or bowl: what was counted proves nothing
        return replace(proof, bowl_from_c=state.bowl_c, bowl_due_k=0.0, bowl_rise_k=0.0)
    given_s = was.given_s + heat.lagged * dt_s
    is_answered = given_s >= th.VERIFY_AFTER_S - _ROUNDING_S and heat.given_s == 0.0
    # A count that an element gone cold has ended proves nothing.
    if proof.step is Step.HEAT and is_answered and heat.lagged >= th.VERIFY_FROM_SHARE:
        proof = replace(proof, step=Step.DONE)
    rise_k, lead_k = state.bowl_c - proof.bowl_from_c, state.bath_c - state.bowl_c
    if not (math.isfinite(rise_k) and math.isfinite(lead_k)):
        return proof
    if rise_k < 0.0:  # a warm bowl in a cold bath: it counts from its coldest
        return replace(proof, bowl_from_c=state.bowl_c, bowl_due_k=0.0, bowl_rise_k=0.0)
    slowest_j_per_k = machine.batch_kg * th.SLOWEST_BOWL_J_PER_KG_K
    # A bowl that was warm from the start is kept there by a lead, and need not rise.
    kept_w = th.BOWL_LOSS_MAX_W_PER_K * max(0.0, state.bowl_c - machine.room_c)
    due_k = proof.bowl_due_k
    due_k += (th.TRANSFER_MIN_W_PER_K * lead_k - kept_w) * dt_s / slowest_j_per_k
    if rise_k >= th.BOWL_FOLLOWED_K:
        return replace(proof, bowl_from_c=math.nan, bowl_due_k=0.0, bowl_rise_k=0.0)
    return replace(proof, bowl_due_k=max(0.0, due_k), bowl_rise_k=rise_k)
