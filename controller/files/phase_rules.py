"""Rules about one phase: its limits against each other, the chocolate and the machine.

Responsible for whether a phase can be run as written; not for questions (question_rules).
"""

import math
from collections.abc import Callable

from controller.core.chocolate import form_v_melts_c
from controller.core.machine import WATER_J_PER_KG_K, Machine
from controller.core.profile import Action, Kind, Phase
from controller.core.swap import MOST_SHARE
from controller.files.rule_cases import SLACK, PhaseCase, at_least, at_most
from controller.files.temperatures import duration_text

# The bath drags the chocolate along: what control may ask of it (own engineering value).
BATH_LIMITS_C = {Kind.DARK: 58.0, Kind.MILK: 52.0, Kind.WHITE: 52.0, Kind.COMPOUND: 52.0}
# The last phase lasts for hours, so its chocolate drifts up to the bath (own engineering value).
LAST_PHASE_BATH_K = 2.0
# The bath stays so much under form V's melting where crystals are to last: its thermometer may be
# out, and a bowl's that lies lets the bath climb to its ceiling (own engineering value from the
# ordeal: at 33.8 °C under dark, true baths came to 34.2 °C).
BATH_MARGIN_K = 0.4
# So far the cut stands above what control asks for, or control would trip itself (own
# engineering value from a study on 200 random machines: 1.5 to 2 K).
CUT_MARGIN_K = 1.5
# In steady state the bath stands above the bowl by this share of (bowl - room): chocolate to air
# 0.33 W/K over bath to chocolate 6.2 W/K on the slow machine (own engineering value).
BATH_LEAD_SHARE = 0.33 / 6.2
# A machine file may be wrong by 10 to 20 %, so only this share of the heater is sure.
SURE_HEAT = 0.8
# The trade warms what thickens by 0.3 to 1 K (common practice, no source).
WARM_MOST_K = 1.0
WARM_LEAST_K = 0.1  # less is no step; own engineering value
WARM_MARGIN_K = 0.8  # under form V's melting; own engineering value
# Chocolate is worked at 18 to 21 °C (common practice, no source). In a colder room the bath's
# ceiling keeps the bowl a little under `warm_to`, which harms nothing.
WORKED_AT_C = 20.0
# Melted dark chocolate: Beckett, Industrial Chocolate Manufacture and Use, 4th ed., p. 667.
CHOCOLATE_J_PER_KG_K = 1670.0
_S_PER_MIN = 60.0

PhaseRule = Callable[[PhaseCase], str | None]


def needed_bath_c(phase: Phase, machine: Machine) -> float:
    """Where the bath must stand for the bowl to stay at its target, °C."""
    above_room_k = phase.bowl_target_c - machine.room_c
    return phase.bowl_target_c + BATH_LEAD_SHARE * max(0.0, above_room_k)


def _kept_c(bath_c: float, room_c: float) -> float:
    """The warmest bowl that such a bath keeps in such a room, °C."""
    return min(bath_c, (bath_c + BATH_LEAD_SHARE * room_c) / (1.0 + BATH_LEAD_SHARE))


def _crystals_bear_c(case: PhaseCase) -> float:
    """The warmest bath that the batch's crystals bear, °C; infinite where there are none."""
    if not case.has_crystals:
        return math.inf
    return form_v_melts_c(case.profile.kind) - BATH_MARGIN_K


def _near_target_k(case: PhaseCase) -> float:
    """How far over its target the bath of a last phase may stand, K; infinite for any other."""
    is_bound = case.is_last and case.profile.kind is not Kind.WATER
    return LAST_PHASE_BATH_K if is_bound else math.inf


def _fixed_bath_limits(case: PhaseCase) -> tuple[tuple[float, str], ...]:
    """What the bath must stay under whatever the target, °C, and why."""
    kind = case.profile.kind
    return (
        (_crystals_bear_c(case), "good crystals may melt"),
        (BATH_LIMITS_C.get(kind, math.inf), f"{kind} chocolate gets too hot at its bowl"),
        (case.profile.bath_never_above_c - CUT_MARGIN_K, "its cut is over never_above · bath"),
    )


def _whole_j_per_k(machine: Machine) -> float:
    return machine.bath_j_per_k + machine.batch_kg * CHOCOLATE_J_PER_KG_K


def _target_below_never(case: PhaseCase) -> str | None:
    never_c = case.profile.bowl_never_above_c
    highest_c = case.phase.bowl_target_c + case.phase.tolerance_k
    if highest_c <= never_c + SLACK:
        return None
    limit = at_most(never_c - case.phase.tolerance_k)
    return f"target and tolerance reach over never_above · bowl; write at most {limit}"


def _target_is_in_heaters_reach(case: PhaseCase) -> str | None:
    machine = case.machine
    sure_w = SURE_HEAT * machine.heater_w
    loss_w = machine.loss_w_per_k * (needed_bath_c(case.phase, machine) - machine.room_c)
    if loss_w <= sure_w:
        return None
    reach_c = machine.room_c + sure_w / machine.loss_w_per_k / (1.0 + BATH_LEAD_SHARE)
    return (
        f"the heater can't hold this against the room (loses {loss_w:.0f} W, can count on "
        f"{sure_w:.0f} W); write at most {at_most(reach_c)}"
    )


def _a_bath_may_keep_target(case: PhaseCase) -> str | None:
    """No ceiling helps a target whose bath is too hot, so the advice is about the target."""
    target_c, room_c = case.phase.bowl_target_c, case.machine.room_c
    needed_c, near_k = needed_bath_c(case.phase, case.machine), _near_target_k(case)
    fixed = _fixed_bath_limits(case)
    limit_c, why = min((*fixed, (target_c + near_k, "chocolate held for long gets too warm")))
    if needed_c <= limit_c + SLACK:
        return None
    reach_c = min(_kept_c(min(fixed)[0], room_c), room_c + near_k / BATH_LEAD_SHARE)
    warmed_c = math.ceil(target_c - (limit_c - target_c) / BATH_LEAD_SHARE)
    warm = f"warm the room to {warmed_c} °C, or " if target_c < limit_c else ""
    return (
        f"to keep the bowl there in a room of {room_c:g} °C (the machine file's `room`), the bath "
        f"must stand at {math.ceil(needed_c * 10) / 10:.1f} °C, and above {limit_c:.1f} °C {why}; "
        f"{warm}write at most {at_most(reach_c)}"
    )


def _swapped_c(case: PhaseCase) -> float | None:
    """Where bath and bowl meet after the water swap, by heat balance; None without one."""
    swaps = (one for one in case.phase.questions if one.action is Action.SWAP_WATER)
    swap = next(swaps, None)
    if swap is None or swap.water_c is None:
        return None
    machine = case.machine
    at_c = machine.room_c if case.before is None else case.before.bowl_target_c
    # A computed one may be as big as can be, and comes a second time where it must.
    for share in (MOST_SHARE, MOST_SHARE) if swap.share is None else (swap.share,):
        swapped_j_per_k = share * machine.water_kg * WATER_J_PER_KG_K
        at_c -= swapped_j_per_k * (at_c - swap.water_c) / _whole_j_per_k(machine)
    return at_c


def _cooling_has_cold_water(case: PhaseCase) -> str | None:
    """Only a room below the target cools the bath; otherwise cold water must."""
    target_c = case.phase.bowl_target_c
    if target_c > case.machine.room_c:
        return None
    swapped_c = _swapped_c(case)
    if swapped_c is None:
        return (
            f"the room ({case.machine.room_c:g} °C) can't cool to this; add a question with "
            'action = "swap-water" to this phase'
        )
    if swapped_c <= target_c:
        return None
    return (
        f"the water swap ends at {swapped_c:.1f} °C, above the target, and the room can't cool on; "
        "write a bigger share or colder water"
    )


def _ceiling_spares_the_kind(case: PhaseCase) -> str | None:
    limit_c = BATH_LIMITS_C.get(case.profile.kind)
    if limit_c is None or case.phase.bath_ceiling_c <= limit_c + SLACK:
        return None
    kind = case.profile.kind.value
    return (
        f"too hot a bath for {kind} chocolate, which follows it; write at most {at_most(limit_c)}"
    )


def _ceiling_spares_crystals(case: PhaseCase) -> str | None:
    bear_c = _crystals_bear_c(case)
    limit_c = min(case.phase.bowl_target_c + _near_target_k(case), bear_c)
    if case.phase.bath_ceiling_c <= limit_c + SLACK:
        return None
    why = "chocolate held for long follows the bath"
    if limit_c == bear_c:
        why = f"chocolate follows the bath, and above {limit_c:.1f} °C good crystals may melt"
    return f"{why}; write at most {at_most(limit_c)}"


def _ceiling_leaves_room_for_its_cut(case: PhaseCase) -> str | None:
    limit_c = case.profile.bath_never_above_c - CUT_MARGIN_K
    if case.phase.bath_ceiling_c <= limit_c + SLACK:
        return None
    return (
        f"the cut must stand {CUT_MARGIN_K:g} K above this and may not be above "
        f"never_above · bath; write at most {at_most(limit_c)}"
    )


def _ceiling_reaches_target(case: PhaseCase) -> str | None:
    needed_c = needed_bath_c(case.phase, case.machine)
    # A target that no bath may keep is refused by itself: a higher ceiling would not help it.
    if case.phase.bath_ceiling_c >= needed_c - SLACK or _a_bath_may_keep_target(case):
        return None
    return (
        f"the bowl can't stay at {case.phase.bowl_target_c:.1f} °C under this; "
        f"write at least {at_least(needed_c)}"
    )


def _cut_above_ceiling(case: PhaseCase) -> str | None:
    lowest_c = case.phase.bath_ceiling_c + CUT_MARGIN_K
    # Where no cut would do, the ceiling is refused by itself; so in the phase after it.
    if case.phase.bath_cut_c >= lowest_c - SLACK or _ceiling_leaves_room_for_its_cut(case):
        return None
    return (
        f"the cut must stand {CUT_MARGIN_K:g} K above bath_ceiling; "
        f"write at least {at_least(lowest_c)}"
    )


def _cut_above_bath_before(case: PhaseCase) -> str | None:
    """A bath can't be cooled at once: it enters a phase as hot as the phase before left it."""
    if case.before is None:
        return None
    lowest_c = case.before.bath_ceiling_c + CUT_MARGIN_K
    is_hopeless = lowest_c > case.profile.bath_never_above_c + SLACK
    if case.phase.bath_cut_c >= lowest_c - SLACK or is_hopeless:
        return None
    return (
        f'the bath may still be as hot as phase "{case.before.name}" let it be, so this would '
        f"trip at once; write at least {at_least(lowest_c)}"
    )


def _cut_below_never(case: PhaseCase) -> str | None:
    never_c = case.profile.bath_never_above_c
    if case.phase.bath_cut_c <= never_c + SLACK:
        return None
    return f"the cut is above never_above · bath; write at most {at_most(never_c)}"


def _stirs_at_target(case: PhaseCase) -> str | None:
    phase = case.phase
    if phase.stirrer_rpm <= 0.0 or phase.stir_from_c <= phase.bowl_target_c + SLACK:
        return None
    return f"the stirrer would stand at the target; write at most {at_most(phase.bowl_target_c)}"


def _pause_is_kept_moving(case: PhaseCase) -> str | None:
    phase = case.phase
    low_c = phase.stir_from_c if phase.stirrer_rpm > 0.0 else 0.0
    if _a_bath_may_keep_target(case):  # a pause holds the target unless the file says otherwise
        return None
    high_c = min(phase.bath_ceiling_c, case.profile.bowl_never_above_c, _crystals_bear_c(case))
    # Where nothing lies between them, stirrer or ceiling are refused by themselves.
    if low_c - SLACK <= phase.pause_at_c <= high_c + SLACK or low_c > high_c:
        return None
    return (
        "a pause must keep the bowl stirred and under the bath's ceiling; "
        f"write {at_least(low_c)} to {at_most(high_c)}"
    )


def _warming_spares_crystals(case: PhaseCase) -> str | None:
    phase = case.phase
    if phase.warm_to_c is None or _a_bath_may_keep_target(case) or _ceiling_reaches_target(case):
        return None
    if not (case.is_last and case.profile.aims_at_temper):
        return "only the last phase of a batch that is tested for temper is warmed; leave it out"
    room_c = max(WORKED_AT_C, case.machine.room_c)
    kept_c = _kept_c(phase.bath_ceiling_c, room_c)
    spares_c = form_v_melts_c(case.profile.kind) - WARM_MARGIN_K
    most_c = min(phase.bowl_target_c + WARM_MOST_K, spares_c, kept_c)
    if phase.bowl_target_c < phase.warm_to_c <= most_c + SLACK:
        return None
    why = "by 1 K at most and never to where form V melts"
    if most_c == kept_c:
        why = f"and in a room of {room_c:g} °C a bath at its ceiling keeps it no warmer"
    # A file writes tenths of a kelvin.
    has_room = most_c + SLACK >= phase.bowl_target_c + WARM_LEAST_K
    some = f"more than {at_least(phase.bowl_target_c)} and at most {at_most(most_c)}, or "
    return (
        f"it is warmed by small steps from its target, {why}; "
        f"{f'write {some}' if has_room else ''}leave it out"
    )


def _late_comes_after_dwell(case: PhaseCase) -> str | None:
    phase = case.phase
    shortest_s = phase.settle_s + phase.dwell_s
    if phase.late_after_s > shortest_s:
        return None
    return (
        f"settle and dwell alone take {duration_text(shortest_s)}; "
        "write a longer time than settle and dwell together"
    )


def _rate_is_in_reach(case: PhaseCase) -> str | None:
    rate = case.phase.rate_limit_k_per_min
    fastest = case.machine.heater_w / _whole_j_per_k(case.machine) * _S_PER_MIN
    if rate is None or rate <= fastest:
        return None
    return (
        f"this machine heats at {fastest:.2f} K/min at most, so the limit does nothing; "
        f'write at most "{math.floor(fastest * 100) / 100:g} K/min" or leave it out'
    )


def _rate_is_fast_enough(case: PhaseCase) -> str | None:
    phase = case.phase
    if phase.rate_limit_k_per_min is None:
        return None
    begin_c = case.machine.room_c if case.before is None else case.before.bowl_target_c
    way_k = abs(phase.bowl_target_c - begin_c)
    ramp_s = way_k / phase.rate_limit_k_per_min * _S_PER_MIN
    if ramp_s + phase.settle_s + phase.dwell_s < phase.late_after_s:
        return None
    return (
        f"the way of {way_k:.1f} K takes {duration_text(ramp_s)} at this rate, so the phase is "
        "always late; write a faster rate or a later late_after"
    )


PHASE_RULES: tuple[tuple[str, PhaseRule], ...] = (
    ("bowl", _target_below_never),
    ("bowl", _target_is_in_heaters_reach),
    ("bowl", _a_bath_may_keep_target),
    ("bowl", _cooling_has_cold_water),
    ("bath_ceiling", _ceiling_spares_the_kind),
    ("bath_ceiling", _ceiling_spares_crystals),
    ("bath_ceiling", _ceiling_leaves_room_for_its_cut),
    ("bath_ceiling", _ceiling_reaches_target),
    ("bath_cut", _cut_above_ceiling),
    ("bath_cut", _cut_above_bath_before),
    ("bath_cut", _cut_below_never),
    ("stir_from", _stirs_at_target),
    ("pause_at", _pause_is_kept_moving),
    ("warm_to", _warming_spares_crystals),
    ("late_after", _late_comes_after_dwell),
    ("rate_limit", _rate_is_in_reach),
    ("rate_limit", _rate_is_fast_enough),
)
