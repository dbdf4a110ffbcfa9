"""What the interlocks judge by: probes checked for plausibility, heat against its effect.

Responsible for turning one tick's raw readings and a short memory into plain numbers; not for
deciding what is unsafe (interlocks).
"""

import math

from msgspec import Struct, field

from controller.core import thresholds as th
from controller.core.consistency import NOTHING_SEEN, Consistency
from controller.core.heater_sight import UNSEEN, HeaterSight
from controller.core.machine import Machine
from controller.core.off_test import Look, OffTest, begun, is_due, is_missed, went_on
from controller.core.profile import Phase
from controller.core.proof import PROVEN, Proof
from controller.core.records import replace
from controller.core.selfcheck import ClockMemory
from controller.core.signals import Fault, Permit, Reading
from controller.core.vitals import Vitals


class ProbeMemory(Struct, frozen=True, kw_only=True):
    """What is remembered of one thermometer."""

    value_c: float = math.nan  # last accepted, offset applied
    code_c: float = math.nan  # last raw value
    unchanged_s: float = 0.0  # since the raw value last changed
    step_k: float = 0.0  # the least change that was ever seen between two raw values
    rejected: int = 0  # readings in a row not believed
    jumps: tuple[float, ...] = ()  # times of rejected readings in the window
    stepped: bool = False  # this tick believed a jump


class ProbeEvidence(Struct, frozen=True, kw_only=True):
    """One thermometer in one tick. `value_c` is NaN unless the reading is good and believed."""

    value_c: float
    raw_c: float
    age_s: float
    fault: Fault
    is_plausible: bool  # a fresh number within the probe's range
    jumps: int
    unchanged_s: float
    step_k: float = 0.0  # of what it shows, as far as was seen


Low = tuple[float, float, float]  # the coldest bath since, and what was given and lost till then
NO_LOW: Low = (math.inf, 0.0, 0.0)


class HeatMemory(Struct, frozen=True, kw_only=True):
    """Heat asked of the element against what the bath did. `_k` are rises of the bath alone."""

    lagged: float = 0.0  # element output as a share of full power, after its lag
    share: float = 0.0  # the same, smoothed over minutes
    now_s: float = 0.0
    since_change_k: float = 0.0  # net rise that the model expects since the bath code changed
    since_change_s: float = 0.0  # full-power seconds since then
    bowl_change_s: float = 0.0  # full-power seconds since the bowl code changed
    bowl_change_k: float = 0.0  # what the bath must have moved the bowl by since then, at least
    anchor_c: float = math.nan  # bath at the last confirmation
    given_s: float = 0.0  # full-power seconds since then
    lost_k: float = 0.0  # what losses have taken meanwhile
    low: Low = NO_LOW
    trail: tuple[Look, ...] = ()
    expected_k: float = 0.0  # running: rise from heat asked and flux out of a warmer bowl
    asked_s: float = 0.0  # running: on-time asked
    stuck_hits: int = 0
    settling_s: float = 0.0  # left until bath and bowl have taken in what was done to them
    off_test: OffTest | None = None  # heat is held back, to see whether the bath misses it

    @property
    def held_back_s(self) -> float:
        """How long heat has been held back in an off test; negative where there is none."""
        return -1.0 if self.off_test is None else self.now_s - self.off_test.began_s


class Memory(Struct, frozen=True, kw_only=True):
    """Everything that the evidence remembers from one tick to the next."""

    bath: ProbeMemory = field(default_factory=ProbeMemory)
    bowl: ProbeMemory = field(default_factory=ProbeMemory)
    heat: HeatMemory = field(default_factory=HeatMemory)
    late_at: tuple[float, ...] = ()
    stirring_s: float = 0.0  # how long the stirrer has been told to turn
    clocks: ClockMemory = field(default_factory=ClockMemory)
    seen: Consistency = NOTHING_SEEN
    heater: HeaterSight = UNSEEN
    touched: bool = False  # an answer just said that bath or bowl was changed by hand


class Evidence(Struct, frozen=True, kw_only=True):
    """What one tick knows. Fields of what is not fitted are None."""

    bath: ProbeEvidence
    bowl: ProbeEvidence
    bath_cut_c: float
    bowl_limit_c: float
    bowl_most_c: float  # that its phase wants, once it has been under that; else infinite
    bowl_ahead_c: float  # where it will be in a while, falling as it does
    frozen_model_k: float
    heat_since_change_s: float
    bowl_heat_since_change_s: float
    bowl_model_k: float
    bowl_lead_k: float  # of the bath over the bowl, on average since the bowl code changed
    stuck_hits: int
    unverified_s: float
    held_back_s: float  # in an off test; negative where there is none
    permit: Permit | None
    level: Reading | None
    shaft: Reading | None
    wanted_rpm: float
    stirring_s: float
    clock_ahead_s: float
    limits_intact: bool
    late_s: float
    period_s: float
    late_ticks: int
    run_s: float
    phase_s: float
    phase: Phase
    phase_is_overdue: bool
    seen: Consistency
    vitals: Vitals | None
    heater: HeaterSight = UNSEEN
    proof: Proof = PROVEN
    turning_w: float = math.inf  # stirrer load as it first turns; infinite where none is due
    set_share: float = 0.0  # of the fat, form V by an estimate that is sure of too much; else 0


def probe_evidence(
    memory: ProbeMemory,
    reading: Reading,
    offset_k: float,
    now_s: float,
    dt_s: float,
    *,
    may_fall: bool = False,
    slept: bool = False,
) -> tuple[ProbeMemory, ProbeEvidence]:
    """Judge one thermometer: a jump is rejected until it has come three times in a row.

    One downwards is believed at once where it `may_fall`, since somebody said why; either way where
    the computer `slept` since the last look, which was longer ago than its clock says.
    """
    raw_c = reading.value
    jumps = _of_late(memory.jumps, now_s)
    if not _is_plausible(reading):
        memory = replace(memory, jumps=jumps, unchanged_s=memory.unchanged_s + dt_s, stepped=False)
        return memory, _probe(math.nan, reading, memory, is_plausible=False)
    value_c = raw_c + offset_k
    unchanged_s, step_k = _steps(memory, raw_c, dt_s)
    jumped = abs(value_c - memory.value_c) > th.JUMP_K
    if jumped and not (slept or (may_fall and value_c < memory.value_c)):
        rejected = memory.rejected + 1
        jumps = (*jumps, now_s)[-(th.JUMPS_MAX + 1) :]
        if rejected < th.JUMP_BELIEVED_AFTER:
            memory = ProbeMemory(
                value_c=memory.value_c,
                code_c=raw_c,
                unchanged_s=unchanged_s,
                step_k=step_k,
                rejected=rejected,
                jumps=jumps,
            )
            return memory, _probe(math.nan, reading, memory)
    memory = ProbeMemory(
        value_c=value_c,
        code_c=raw_c,
        unchanged_s=unchanged_s,
        step_k=step_k,
        jumps=jumps,
        stepped=jumped,
    )
    return memory, _probe(value_c, reading, memory)


_SOUND = Fault.NONE  # looking up a member of an enumeration takes longer than all the rest


def _is_plausible(reading: Reading) -> bool:
    return (
        reading.fault is _SOUND
        and 0.0 <= reading.age_s <= th.PROBE_STALE_S
        and th.PROBE_MIN_C <= reading.value <= th.PROBE_MAX_C
    )


def _probe(
    value_c: float, reading: Reading, memory: ProbeMemory, *, is_plausible: bool = True
) -> ProbeEvidence:
    return ProbeEvidence(
        value_c=value_c,
        raw_c=reading.value,
        age_s=reading.age_s,
        fault=reading.fault,
        is_plausible=is_plausible,
        jumps=len(memory.jumps),
        unchanged_s=memory.unchanged_s,
        step_k=memory.step_k,
    )


def _of_late(jumps: tuple[float, ...], now_s: float) -> tuple[float, ...]:
    """Those within the window."""
    begins_s = now_s - th.JUMP_WINDOW_S
    if not jumps or jumps[0] >= begins_s:
        return jumps
    return tuple(at_s for at_s in jumps if at_s >= begins_s)


def _steps(memory: ProbeMemory, raw_c: float, dt_s: float) -> tuple[float, float]:
    """Seconds without a step, and the least one seen, with the one that leads to this raw value."""
    if raw_c == memory.code_c:
        return memory.unchanged_s + dt_s, memory.step_k
    step_k = abs(raw_c - memory.code_c)
    is_less = 0.0 < step_k < (memory.step_k or math.inf)
    return 0.0, step_k if is_less else memory.step_k


def heat_evidence(
    memory: HeatMemory,
    *,
    bath: ProbeMemory,
    bowl: ProbeMemory,
    was_on: bool,
    disturbed: bool,
    machine: Machine,
    dt_s: float,
    loss_share: float = 1.0,
) -> HeatMemory:
    """Account for the tick just past: heat asked, rise expected, rise seen.

    `disturbed` says that somebody changed the bath or bowl (an answer, a believed jump): what was
    counted so far proves nothing any more and the count begins again, once it has all settled.
    `loss_share` is what has been learned of the losses, over the machine file's.
    """
    lagged = memory.lagged + (was_on - memory.lagged) * min(1.0, dt_s / th.ELEMENT_LAG_S)
    share = memory.share + (lagged - memory.share) * min(1.0, dt_s / th.GIVEN_SMOOTHED_S)
    if memory.off_test is not None:
        memory = replace(memory, off_test=went_on(memory.off_test, lagged, dt_s))
    if not (math.isfinite(bath.value_c) and math.isfinite(bowl.value_c)):
        asked_s = memory.asked_s + was_on * dt_s  # counts without a bath's thermometer, too
        now_s = memory.now_s + dt_s
        return replace(memory, lagged=lagged, share=share, now_s=now_s, asked_s=asked_s)
    settling_s = _settling(memory, bath.value_c, disturbed, dt_s)
    asked = (lagged, share, was_on * dt_s, settling_s, loss_share)
    heat = _weigh(memory, bath, bowl, asked, machine, dt_s)
    return _tested(heat, bath.value_c, machine.heater_w / machine.bath_j_per_k)


def _weigh(
    memory: HeatMemory,
    bath: ProbeMemory,
    bowl: ProbeMemory,
    asked: tuple[float, float, float, float, float],
    machine: Machine,
    dt_s: float,
) -> HeatMemory:
    """Weigh what was `asked` (element now and of late, on-time, settling, losses) with values."""
    lagged, share, on_s, settling_s, loss_share = asked
    now_s, bath_c = memory.now_s + dt_s, bath.value_c
    full_k_per_s = machine.heater_w / machine.bath_j_per_k
    heat_k = lagged * full_k_per_s * dt_s
    loss_k, flux_k = _taken(bath_c, bowl.value_c, machine, dt_s, loss_share)
    warmed_k = th.TRANSFER_MAX_W_PER_K * -flux_k if flux_k < 0.0 else 0.0  # by the bowl, at most
    anchor_c, given_s, lost_k, low = bath_c, 0.0, 0.0, NO_LOW
    if settling_s <= 0.0 and (lagged >= _COLD_ELEMENT or memory.off_test is not None):
        due = (lagged, lagged * dt_s, _least_lost_k(loss_k, flux_k))
        anchor_c, given_s, lost_k, low = _account(memory, bath_c, due, full_k_per_s)
    now = (now_s, bath_c, memory.expected_k + heat_k + warmed_k, memory.asked_s + on_s)
    trail, stuck_hits = _judge_stuck(memory, now, full_k_per_s, settling=settling_s > 0.0)
    net_k = heat_k - loss_k - th.TRANSFER_W_PER_K * flux_k
    of_bath = _since(bath, memory.since_change_s + on_s, memory.since_change_k + net_k)
    bowl_k = memory.bowl_change_k + _least_bowl_k(flux_k, machine)
    of_bowl = _since(bowl, memory.bowl_change_s + on_s, bowl_k)
    return HeatMemory(
        lagged=lagged,
        share=share,
        now_s=now_s,
        since_change_s=of_bath[0],
        since_change_k=of_bath[1],
        bowl_change_s=of_bowl[0],
        bowl_change_k=of_bowl[1],
        anchor_c=anchor_c,
        given_s=given_s,
        lost_k=lost_k,
        low=low,
        trail=trail,
        expected_k=now[2],
        asked_s=now[3],
        stuck_hits=stuck_hits,
        settling_s=settling_s,
        off_test=memory.off_test,
    )


def _tested(heat: HeatMemory, bath_c: float, full_k_per_s: float) -> HeatMemory:
    """The account with an off test begun, or ended by the bath's answer or by its missing heat."""
    if heat.off_test is None:
        if not is_due(heat.given_s, heat.share):
            return heat
        now = (heat.now_s, bath_c, heat.expected_k, heat.asked_s)
        return replace(heat, off_test=begun((*heat.trail, now)))
    if heat.given_s <= 0.0:
        return replace(heat, off_test=None)
    if is_missed(heat.off_test, bath_c, heat.now_s, full_k_per_s):
        return replace(heat, anchor_c=bath_c, given_s=0.0, lost_k=0.0, low=NO_LOW, off_test=None)
    return heat


def _account(
    memory: HeatMemory, bath_c: float, due: tuple[float, float, float], full_k_per_s: float
) -> tuple[float, float, float, Low]:
    """Anchor, full-power seconds, lost K and coldest after a tick; anew where heat was answered.

    `due` is the share of full power now, and this tick's full-power seconds and least lost K.
    """
    given_s, lost_k = memory.given_s + due[1], memory.lost_k
    if memory.off_test is None:  # without heat, what a bath must lose and doesn't is no answer
        lost_k += due[2]
    anchor_c = memory.anchor_c
    if due[0] < th.VERIFY_FROM_SHARE:  # a bath that cools while little heat is given proves nothing
        anchor_c = min(anchor_c, bath_c + lost_k)
    low = memory.low if memory.low[0] < bath_c else (bath_c, given_s, lost_k)
    if _is_answered(anchor_c, low, (bath_c, given_s, lost_k), full_k_per_s):
        return bath_c, 0.0, 0.0, NO_LOW
    return anchor_c, given_s, lost_k, low


def _is_answered(anchor_c: float, low: Low, now: Low, full_k_per_s: float) -> bool:
    """Whether the bath has answered the heat: since the anchor, or clearly since its coldest.

    Cold water that nobody told of, before a thermometer too slow to show it as a fall, leaves the
    anchor far above what heat can reach soon. A bath over a dead heater is ever at its coldest.
    """
    bath_c, given_s, lost_k = now
    if _is_proven(bath_c - anchor_c + lost_k, given_s, full_k_per_s):
        return True
    low_c, given_then_s, lost_then_k = low
    risen_k = bath_c - low_c + lost_k - lost_then_k - th.RISEN_K
    return _is_proven(risen_k, given_s - given_then_s, full_k_per_s)


def _since(probe: ProbeMemory, seconds: float, rise_k: float) -> tuple[float, float]:
    """What is counted since a probe's last change counts no more once it has changed."""
    return (0.0, 0.0) if probe.unchanged_s == 0.0 else (seconds, rise_k)


def _taken(
    bath_c: float, bowl_c: float, machine: Machine, dt_s: float, loss_share: float
) -> tuple[float, float]:
    """K that the room takes from the bath in this tick, and that the bowl takes per W/K."""
    bath_j_per_k = machine.bath_j_per_k
    loss_k = loss_share * (machine.loss_w_per_k * (bath_c - machine.room_c) * dt_s / bath_j_per_k)
    return loss_k, (bath_c - bowl_c) * dt_s / bath_j_per_k


def _least_lost_k(loss_k: float, flux_k: float) -> float:
    """What room and bowl took from the bath in this tick, at least."""
    lost_k = max(0.0, loss_k)
    return lost_k + (th.TRANSFER_MIN_W_PER_K * flux_k if flux_k > 0.0 else 0.0)


def _settling(memory: HeatMemory, bath_c: float, disturbed: bool, dt_s: float) -> float:
    """Seconds left until the probes show all that somebody did, told or seen by a sudden fall."""
    trail = memory.trail
    if disturbed or (trail and trail[-1][1] - bath_c > th.FALL_K):
        return th.SETTLING_S
    return memory.settling_s - dt_s if memory.settling_s > dt_s else 0.0


def _least_bowl_k(flux_k: float, machine: Machine) -> float:
    """K by which the slowest bowl follows a bath that leads it: `flux_k` as in `heat_evidence`."""
    bowl_j_per_k = machine.batch_kg * th.SLOWEST_BOWL_J_PER_KG_K
    return th.TRANSFER_MIN_W_PER_K * flux_k * machine.bath_j_per_k / bowl_j_per_k


def bowl_lead_k(memory: HeatMemory, unchanged_s: float, machine: Machine) -> float:
    """K by which the bath was warmer than the bowl, on average over the `unchanged_s`."""
    if unchanged_s <= 0.0:
        return 0.0
    bowl_j_per_k = machine.batch_kg * th.SLOWEST_BOWL_J_PER_KG_K
    return memory.bowl_change_k * bowl_j_per_k / (th.TRANSFER_MIN_W_PER_K * unchanged_s)


_COLD_ELEMENT = 0.02  # share of full power below which the element has nothing left to give


def _is_proven(seen_k: float, given_s: float, full_k_per_s: float) -> bool:
    """Whether the bath has answered the heat, or there is no anchor yet to compare it with."""
    if math.isnan(seen_k):
        return True
    due_k = th.VERIFIED_FRACTION * given_s * full_k_per_s
    return given_s >= th.VERIFY_AFTER_S and seen_k >= due_k


def _judge_stuck(
    memory: HeatMemory, now: Look, full_k_per_s: float, *, settling: bool
) -> tuple[tuple[Look, ...], int]:
    """Every few seconds compare the last minute's rise with the heat that was asked for."""
    trail, hits = ((), 0) if settling else (memory.trail, memory.stuck_hits)
    if trail and now[0] < trail[-1][0] + th.STUCK_STEP_S:
        return trail, hits
    trail = (*trail, now)
    if now[0] - trail[0][0] < th.STUCK_WINDOW_S:
        return trail, hits
    _, then_c, then_k, then_s = trail[0]
    rise_k = now[1] - then_c
    surplus_k = rise_k - (now[2] - then_k)
    hit = (
        now[3] - then_s <= th.STUCK_ASKED_S
        and rise_k > th.STUCK_MIN_RISE_K
        and surplus_k > th.STUCK_RISE_FRACTION * th.STUCK_WINDOW_S * full_k_per_s
    )
    return trail[1:], hits + 1 if hit else 0


def late_memory(late_at: tuple[float, ...], late: bool, now_s: float) -> tuple[float, ...]:
    """Times of late ticks within the window, this one included."""
    if not late and not late_at:
        return late_at
    kept = tuple(at_s for at_s in late_at if at_s > now_s - th.LATE_WINDOW_S)
    return (*kept, now_s) if late else kept
