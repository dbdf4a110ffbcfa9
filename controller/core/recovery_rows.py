"""The table of what may be offered after a cut: the evidence, and the rows that look at it.

Responsible for the rows and their numbers; not for deciding by them (recovery).
"""

from collections.abc import Callable
from enum import StrEnum

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.chocolate import form_v_melts_c
from controller.core.kept_machine import KeptMachine
from controller.core.kept_temper import KeptTemper
from controller.core.machine import BATH_CEILING_C, BOWL_CEILING_C, Machine
from controller.core.profile import Kind, Phase, PowerBack, Profile

# Own engineering values, from the physics of cooling bowls on simulated machines; not published.
BOOTS_MAX = 3  # so many in BOOTS_WITHIN_S is mains that comes and goes
BOOTS_WITHIN_S = 600.0
DWELL_BELOW_K = 1.0
DWELL_GAP_S = 600.0
SEEDED_BELOW_K = 1.0
SEEDED_GAP_S = 300.0
# Seed lives up to here; milk and white melt lower, as on the bench (own engineering values).
SEED_LIVES_TO_C = {Kind.DARK: 33.0, Kind.MILK: 31.5, Kind.WHITE: 30.5}
WORK_BELOW_K = 1.5
WORK_ABOVE_K = 0.5
WORK_NEVER_ABOVE_K = 2.0
WORK_GAP_S = 600.0
SET_BELOW_C = 27.0
SET_BELOW_UNKNOWN_C = 29.0  # where nobody knows for how long it has stood
SOFT_FROM_C = 32.0  # a stirrer may turn in chocolate that had set, or is melting, from here on


class Offer(StrEnum):
    """What a person may choose to do with a cut run."""

    RESUME = "resume"
    MELT_AGAIN = "melt-again"
    STOP_ONLY = "stop-only"


class Role(StrEnum):
    """What a phase does to the chocolate, whatever a profile calls it."""

    MELT = "melt"
    COOL = "cool"
    WORK = "work"  # rewarm and hold


class Cut(Struct, frozen=True, kw_only=True):
    """The cut run, as its record tells."""

    phase: int
    bath_c: float  # last recorded, NaN when there was no value
    bowl_c: float
    hottest_c: float  # the bowl's highest in the phase that was cut
    is_seeded: bool = False  # seed was put in; the run may still want more
    dwelled_s: float = 0.0
    answered: frozenset[str] = frozenset()  # questions of that phase, but for the set test
    temper: KeptTemper | None = None  # as it was last noted in that run
    machine: KeptMachine | None = None  # the same of the machine as it was learned
    tripped: str = ""  # cause of its first trip
    is_same: bool = True  # profile, machine file and program are those that it ran with


class Now(Struct, frozen=True, kw_only=True):
    """What is known at the next start."""

    bath_c: float  # offsets applied; NaN when there is no good value
    bowl_c: float
    gap_s: float | None  # since the cut, by clocks that can be trusted; None when none can
    boots: int  # of the computer in the last `BOOTS_WITHIN_S`, this one included


class Case(Struct, frozen=True, kw_only=True):
    """All that a row of the table looks at."""

    cut: Cut
    now: Now
    profile: Profile
    machine: Machine
    phase: Phase
    role: Role
    gap_s: float | None  # believed: clocks and cooling agree


class Row(Struct, frozen=True, kw_only=True):
    """One row: the first that applies decides. `why` may name what `_words` gives."""

    name: str
    found: str  # for the documents
    applies: Callable[[Case], bool]
    offer: Offer
    why: str
    may_set_aside: bool = True


def role_of(profile: Profile, index: int) -> Role:
    """What the phase does: the first melts, one with a lower target than the last cools."""
    if index == 0:
        return Role.MELT
    target_c, before_c = (profile.phases[i].bowl_target_c for i in (index, index - 1))
    return Role.COOL if target_c < before_c else Role.WORK


def _probe_is_bad(case: Case) -> bool:
    machine, now = case.machine, case.now
    probes = ((machine.has_bath, now.bath_c), (machine.has_bowl, now.bowl_c))
    return not all(
        th.PROBE_MIN_C <= value_c <= th.PROBE_MAX_C for is_fitted, value_c in probes if is_fitted
    )


def limits_c(case: Case) -> tuple[float, float]:
    """The most that bath and bowl may be at in the phase, °C."""
    profile, machine = case.profile, case.machine
    bath_c = min(
        case.phase.bath_cut_c, profile.bath_never_above_c, machine.bath_max_c, BATH_CEILING_C
    )
    return bath_c, min(profile.bowl_never_above_c, machine.bowl_max_c, BOWL_CEILING_C)


def _is_over(case: Case) -> bool:
    """Over a limit of the phase that was cut."""
    bath_c, bowl_c = limits_c(case)
    machine, now = case.machine, case.now
    probes = ((machine.has_bath, now.bath_c, bath_c), (machine.has_bowl, now.bowl_c, bowl_c))
    return not all(value_c <= limit_c for is_fitted, value_c, limit_c in probes if is_fitted)


def _is_changed(case: Case) -> bool:
    return not case.cut.is_same or case.cut.phase >= len(case.profile.phases)


def is_short(case: Case, most_s: float) -> bool:
    """Whether the gap is known and at most `most_s`."""
    return case.gap_s is not None and case.gap_s <= most_s


def _cools_unseeded(case: Case) -> bool:
    return case.role is Role.COOL and not case.cut.is_seeded


def _seed_lives(case: Case) -> bool:
    return (
        case.role is Role.COOL
        and case.cut.is_seeded
        and case.phase.bowl_target_c - SEEDED_BELOW_K
        <= case.now.bowl_c
        <= SEED_LIVES_TO_C[case.profile.kind]
        and is_short(case, SEEDED_GAP_S)
    )


def _work_never_above_c(case: Case) -> float:
    """Beyond it a batch at work is lost, °C. What is kept melted has no crystals to lose."""
    target_c, melts_c = case.phase.bowl_target_c, form_v_melts_c(case.profile.kind)
    above_c = target_c + WORK_NEVER_ABOVE_K
    return min(above_c, melts_c) if target_c < melts_c else above_c


def _works_on(case: Case) -> bool:
    off_k = case.now.bowl_c - case.phase.bowl_target_c
    return (
        case.role is Role.WORK
        and -WORK_BELOW_K <= off_k <= WORK_ABOVE_K
        and case.cut.hottest_c <= _work_never_above_c(case)
        and is_short(case, WORK_GAP_S)
    )


def _has_set(case: Case) -> bool:
    below_c = SET_BELOW_UNKNOWN_C if case.gap_s is None else SET_BELOW_C
    return case.role is Role.WORK and case.now.bowl_c < below_c


ROWS = (
    Row(
        name="probe-bad",
        found="a thermometer that gives no sound value",
        applies=_probe_is_bad,
        offer=Offer.STOP_ONLY,
        why="The bath is at {bath} and the bowl at {bowl}, which no sound thermometer says: "
        "mend it, then start again.",
        may_set_aside=False,
    ),
    Row(
        name="boots",
        found=f"{BOOTS_MAX} starts of the computer or more within {BOOTS_WITHIN_S / 60:g} min",
        applies=lambda case: case.now.boots >= BOOTS_MAX,
        offer=Offer.STOP_ONLY,
        why="The computer has started {boots} times within ten minutes: find out why the power "
        "comes and goes, wait ten minutes, then start again.",
        may_set_aside=False,
    ),
    Row(
        name="over-limit",
        found="bath or bowl over a limit of the phase that was cut",
        applies=_is_over,
        offer=Offer.STOP_ONLY,
        why="The bath is at {bath} and the bowl at {bowl}, where {bath_limit} and {bowl_limit} "
        "are the most for {phase}: let them cool, then start again.",
        may_set_aside=False,
    ),
    Row(
        name="probe-lacking",
        found="a machine that does without a thermometer in bath or bowl",
        applies=lambda case: not (case.machine.has_bath and case.machine.has_bowl),
        offer=Offer.STOP_ONLY,
        why="With the bath at {bath} and the bowl at {bowl} nobody can say what the batch has come "
        "to: look at it, then begin afresh.",
    ),
    Row(
        name="tripped",
        found="a run that had tripped",
        applies=lambda case: bool(case.cut.tripped),
        offer=Offer.STOP_ONLY,
        why="That run had tripped ({tripped}), so it can't go on: put the cause right, "
        "then begin afresh.",
    ),
    Row(
        name="changed",
        found="another profile, machine file or program than the run was made of",
        applies=_is_changed,
        offer=Offer.STOP_ONLY,
        why="Profile, machine file or program are not those that it ran with, so it can't go on: "
        "bring them back, or begin afresh.",
    ),
    Row(
        name="profile-says",
        found="a profile with `power_back` begin-again",
        applies=lambda case: case.profile.power_back is PowerBack.BEGIN_AGAIN,
        offer=Offer.MELT_AGAIN,
        why="The profile wants a cut batch to begin again.",
    ),
    Row(
        name="water",
        found="a water trial",
        applies=lambda case: case.profile.kind is Kind.WATER,
        offer=Offer.RESUME,
        why="Water is none the worse for the wait.",
    ),
    Row(
        name="melt",
        found=f"melting; the dwell counts if the bowl is at most {DWELL_BELOW_K:g} K under its "
        f"target after a known gap of {DWELL_GAP_S / 60:g} min at most",
        applies=lambda case: case.role is Role.MELT,
        offer=Offer.RESUME,
        why="The bowl is at {bowl} and was still being melted: it can go on{credit}.",
    ),
    Row(
        name="cool-unseeded",
        found="cooling without seed, bowl above its target",
        applies=lambda case: _cools_unseeded(case) and case.now.bowl_c > case.phase.bowl_target_c,
        offer=Offer.RESUME,
        why="The bowl is at {bowl}, still above the {target} that it was cooling to.",
    ),
    Row(
        name="cool-seeded",
        found=f"seeded, bowl from {SEEDED_BELOW_K:g} K under its target to "
        f"{SEED_LIVES_TO_C[Kind.DARK]:g} °C (milk {SEED_LIVES_TO_C[Kind.MILK]:g}, white "
        f"{SEED_LIVES_TO_C[Kind.WHITE]:g}), known gap of {SEEDED_GAP_S / 60:g} min at most",
        applies=_seed_lives,
        offer=Offer.RESUME,
        why="The bowl is at {bowl}, where its seed lives, and stood for {gap} only.",
    ),
    Row(
        name="work",
        found=f"rewarming or holding, bowl from {WORK_BELOW_K:g} K under to {WORK_ABOVE_K:g} K "
        f"over its target and never more than {WORK_NEVER_ABOVE_K:g} K over, nor, with a target "
        f"under it, over where form V melts (dark {form_v_melts_c(Kind.DARK):g}, milk "
        f"{form_v_melts_c(Kind.MILK):g}, white {form_v_melts_c(Kind.WHITE):g} °C), known gap of "
        f"{WORK_GAP_S / 60:g} min at most; a new set test",
        applies=_works_on,
        offer=Offer.RESUME,
        why="The bowl is at {bowl}, near its {target}, and stood for {gap} only: "
        "go on, and make a set test.",
    ),
    Row(
        name="set",
        found=f"rewarming or holding, bowl below {SET_BELOW_C:g} °C, or {SET_BELOW_UNKNOWN_C:g} °C "
        f"after an unknown gap; stirrer off below {SOFT_FROM_C:g} °C",
        applies=_has_set,
        offer=Offer.MELT_AGAIN,
        why="The bowl is at {bowl} after {gap}, so the chocolate has begun to set: it must be "
        "melted, and the stirrer stands still until {soft}.",
    ),
    Row(
        name="else",
        found="anything else",
        applies=lambda _: True,
        offer=Offer.MELT_AGAIN,
        why="The bowl is at {bowl} after {gap}, and nobody can know what crystals are in it: "
        "only melting it again makes it sure.",
    ),
)
