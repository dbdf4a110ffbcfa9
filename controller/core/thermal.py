"""The controller's own picture of a machine: what its numbers are, and how they move.

Responsible for the order of the numbers, first beliefs and the equations; not for learning from
readings (estimator). It knows the machine file and the literature, never the bench.
"""

import math

from controller.core.chocolate import MELT_LAG_S, content_of, solid_share
from controller.core.estimate import Belief, Prior, Row
from controller.core.machine import WATER_J_PER_KG_K, Machine
from controller.core.profile import Action, Kind, Profile

# Order of the mean: share of full power that leaves the element, temperatures of bath and bowl and
# of their probes; logarithms of transfer/bath (1/s), heater/bath (K/s), bath/bowl, lag of the
# element and of the bowl's probe (s); losses over the prior's; heat into the bowl that is in no
# model (K/s); what the bath's probe sees of the element at full power (K); and by how much the
# bath's probe reads less than the bowl's would in the same place (K).
Q, BATH, BOWL, BATH_P, BOWL_P, LN_K, LN_P, LN_R, LN_H, LN_B, LOSS, DRIFT, NEAR, APART = range(14)
SIZE = 14
STEP_MAX_S = 2.0

# Own engineering values, not published, unless said otherwise. Ranges are of the control study.
VESSEL_WITH_BATH = 0.9  # share of pot and bowl whose heat goes with the water's
TRANSFER_W_PER_K = 12.0  # bath to bowl, stirred: 6 to 25
STILL_SHARE = 0.35  # of it without the stirrer
ELEMENT_LAG_S = 18.0  # 10 to 30
BOWL_LAG_S = 11.0  # 5 to 15 and more
BATH_LAG_S = 5.0
NEAR_K = 0.12
SURFACE_M2 = 0.02  # 0 to 0.05
VAPOUR_W_PER_M2_KPA = 89.0  # ASHRAE's form for still water (from memory, not checked)
VAPOUR_W_PER_KPA = SURFACE_M2 * VAPOUR_W_PER_M2_KPA
DRY_LOSS_SHARE = 0.75  # of the machine file's loss: the rest evaporates
ROOM_HUMIDITY = 0.5
MAGNUS_KPA, MAGNUS_SLOPE, MAGNUS_C = 0.61094, 17.625, 243.04  # Alduchov & Eskridge 1996
BOWL_LOSS_W_PER_K = 0.5
UNSEEN_SD_K = 3.0  # of a bath that has no thermometer and is guessed to be as warm as the bowl
LEVER_MIN_K = 3.0  # nearer to the room a loss says nothing of its size
WALL_SHARE = 0.45  # of the vessel's heat that is the bowl's
WALL_REACH = 5.3  # wall's conductances to both sides over the transfer, three quarters inside

# How uncertain each number is at first; that of DRIFT is in W.
DRIFT_W = 4.0
SD: Row = (0.02, 0.03, 0.03, 0.03, 0.03, 0.4, 0.09, 0.15, 0.3, 0.45, 0.5, DRIFT_W, 0.15, 0.3)
ALIKE_K = 0.8  # bath and bowl that begin so near to each other both have the room's temperature
ALIKE_SD_K = 0.15
ALIKE_AT_FIRST = 0.9
# Bounds of each number from LN_K on: so many first deviations about the first mean, or as said.
WITHIN_SD = 2.5
TRANSFER_SPAN = (-3.0, 1.2)  # still chocolate conducts little
LOSS_MIN = 0.05
DRIFT_MAX_W = 200.0
NEAR_MAX_K = 0.9
APART_MAX_K = 1.5
TEMP_MIN_C, TEMP_MAX_C = -5.0, 110.0


def filled_at(profile: Profile, phase: int, answered: frozenset[str]) -> float:
    """Share of the whole batch that is in the bowl: all but the seed that is still to come."""
    to_come = sum(
        question.share or 0.0
        for later, one in enumerate(profile.phases[phase:])
        for question in one.questions
        if question.action is Action.ADD_SEED and (later or question.id not in answered)
    )
    return max(0.05, 1.0 - to_come)


def prior_of(machine: Machine, kind: Kind, in_bowl: float) -> Prior:
    """First belief, from the machine file; `in_bowl` is the share of the batch in the bowl."""
    content = content_of(kind)
    vessel = machine.vessel_j_per_k
    bath_j_per_k = machine.water_kg * WATER_J_PER_KG_K + VESSEL_WITH_BATH * vessel
    bowl_j_per_k = machine.batch_kg * in_bowl * content.j_per_kg_k
    bowl_j_per_k += (1.0 - VESSEL_WITH_BATH) * vessel
    mean = (
        math.log(TRANSFER_W_PER_K / bath_j_per_k),
        math.log(machine.heater_w / bath_j_per_k),
        math.log(bath_j_per_k / bowl_j_per_k),
        math.log(ELEMENT_LAG_S),
        math.log(BOWL_LAG_S),
        1.0,
        0.0,
        NEAR_K,
        0.0,
    )
    return Prior(
        mean=mean,
        bath_j_per_k=bath_j_per_k,
        bowl_j_per_k=bowl_j_per_k,
        heater_w=machine.heater_w,
        room_c=machine.room_c,
        air_kpa=ROOM_HUMIDITY * saturated_kpa(machine.room_c),
        loss_w_per_k=machine.loss_w_per_k,
        batch_kg=machine.batch_kg,
        content=content,
        wall_share=WALL_SHARE * vessel / (WALL_REACH * bath_j_per_k),
    )


def begin(
    prior: Prior,
    bath_c: float,
    bowl_c: float,
    *,
    in_bowl: float = 1.0,
    has_melted: bool = False,
    unseen: tuple[int, ...] = (),
) -> Belief:
    """The belief at the first pair of good readings; what is `unseen` has only been guessed."""
    bath_c = min(max(bath_c, TEMP_MIN_C), TEMP_MAX_C)
    bowl_c = min(max(bowl_c, TEMP_MIN_C), TEMP_MAX_C)
    variance = [sd * sd for sd in SD]
    variance[DRIFT] = (DRIFT_W / prior.bowl_j_per_k) ** 2
    for body in unseen:
        variance[body] = UNSEEN_SD_K**2
    mean = [0.0, bath_c, bowl_c, bath_c, bowl_c, *prior.mean]
    mean[LN_K] += math.log(STILL_SHARE)
    if abs(bowl_c - bath_c) < ALIKE_K:
        share = variance[APART] / (variance[APART] + ALIKE_SD_K**2)
        mean[APART] = share * (bowl_c - bath_c)
        variance[APART] *= 1.0 - share
    rows = [[variance[at] if at == to else 0.0 for to in range(SIZE)] for at in range(SIZE)]
    for body, probe in ((BATH, BATH_P), (BOWL, BOWL_P)):  # what errs in the first reading is common
        rows[body][probe] = rows[probe][body] = ALIKE_AT_FIRST * variance[body]
    melts = prior.content.latent_k > 0.0 and not has_melted
    return Belief(
        prior=prior,
        mean=tuple(mean),
        spread=tuple(map(tuple, rows)),
        wall_c=bath_c,
        solid=solid_share(prior.content, bowl_c)[0] if melts else 0.0,
        in_bowl=in_bowl,
        other_transfer=(prior.mean[0], SD[LN_K] ** 2),
        stirred_drift=(0.0, variance[DRIFT]),
        has_melted=not melts,
    )


def saturated_kpa(temp_c: float) -> float:
    """Pressure of water vapour over water, kPa, by Magnus's form."""
    return MAGNUS_KPA * math.exp(MAGNUS_SLOPE * temp_c / (temp_c + MAGNUS_C))


def loss_k_per_s(prior: Prior, temp_c: float) -> float:
    """What a bath at this temperature loses before anything is learned of it, K/s.

    In proportion near the room's temperature, and below 0 under it: cold water warms there.
    """
    over_k = temp_c - prior.room_c
    lever_k = max(over_k, LEVER_MIN_K)
    loss_w = DRY_LOSS_SHARE * prior.loss_w_per_k * lever_k
    kpa = saturated_kpa(prior.room_c + lever_k) - prior.air_kpa
    loss_w += VAPOUR_W_PER_KPA * kpa
    return over_k / lever_k * loss_w / prior.bath_j_per_k


def bowl_loss_k_per_s(prior: Prior, temp_c: float) -> float:
    """What the bowl loses to the air, as far as is known beforehand, K/s."""
    return BOWL_LOSS_W_PER_K / prior.bowl_j_per_k * (temp_c - prior.room_c)


def advance(belief: Belief, *, on: float, dt_s: float) -> tuple[Row, float, float, float, float]:
    """The mean after a tick in which the element had `on` (0 to 1) of its power.

    Also the wall, what is still solid, and the two running integrals of the belief.
    """
    prior = belief.prior
    content, room_c = prior.content, prior.room_c
    q, bath, bowl, bath_p, bowl_p, ln_k, ln_p, ln_r, ln_h, ln_b, loss, drift, near, apart = (
        belief.mean
    )
    k, p = math.exp(ln_k), math.exp(ln_p)
    kr = k * math.exp(ln_r)
    bowl_loss = BOWL_LOSS_W_PER_K / prior.bowl_j_per_k
    wall, solid = belief.wall_c, belief.solid
    element_s, lead_k_s = belief.element_s, belief.lead_k_s
    parts = math.ceil(dt_s / STEP_MAX_S)
    step_s = dt_s / parts
    half_s = 0.5 * step_s
    lag_q = step_s / (math.exp(ln_h) + half_s)
    lag_wall = step_s / (prior.wall_share / k + step_s)
    lag_bath = step_s / (BATH_LAG_S + half_s)
    lag_bowl = step_s / (math.exp(ln_b) + half_s)
    for _ in range(parts):
        step = lag_q * (on - q)
        mid_q = q + 0.5 * step
        lead = bath + apart - bowl
        bath_k = step_s * (p * mid_q - k * lead - loss * loss_k_per_s(prior, bath))
        wall += lag_wall * (bath - wall)
        bowl_k = step_s * (kr * (wall + apart - bowl) + drift - bowl_loss * (bowl - room_c))
        if solid > 0.0:
            over = solid - solid_share(content, bowl)[0]
            if over > 0.0:
                gone = min(solid, over * step_s / MELT_LAG_S)
                solid -= gone
                bowl_k -= gone * content.latent_k
        # A wall that warms with the bowl takes that from the bath.
        bath_k -= prior.wall_share * bowl_k
        bath_p += lag_bath * (bath + 0.5 * bath_k + near * mid_q - bath_p)
        bowl_p += lag_bowl * (bowl + 0.5 * bowl_k - bowl_p)
        q, bath, bowl = q + step, bath + bath_k, bowl + bowl_k
        element_s += mid_q * step_s
        lead_k_s += lead * step_s
    mean = (q, bath, bowl, bath_p, bowl_p, *belief.mean[LN_K:])
    return mean, wall, solid, element_s, lead_k_s


def clamped(mean: list[float], prior: Prior) -> Row:
    """The mean within physical bounds."""
    mean[Q] = min(max(mean[Q], 0.0), 1.0)
    for index in (BATH, BOWL, BATH_P, BOWL_P):
        mean[index] = min(max(mean[index], TEMP_MIN_C), TEMP_MAX_C)
    for index in (LN_P, LN_R, LN_H, LN_B, LOSS):
        middle, reach = prior.mean[index - LN_K], WITHIN_SD * SD[index]
        mean[index] = min(max(mean[index], middle - reach), middle + reach)
    low, high = TRANSFER_SPAN
    mean[LN_K] = min(max(mean[LN_K], prior.mean[0] + low), prior.mean[0] + high)
    mean[LOSS] = max(mean[LOSS], LOSS_MIN)
    most = DRIFT_MAX_W / prior.bowl_j_per_k
    mean[DRIFT] = min(max(mean[DRIFT], -most), most)
    mean[NEAR] = min(max(mean[NEAR], 0.0), NEAR_MAX_K)
    mean[APART] = min(max(mean[APART], -APART_MAX_K), APART_MAX_K)
    return tuple(mean)
