"""What may be offered after a run was cut off by a power failure or a crash.

Responsible for the offer and its reason; not for the table (recovery_rows), for gathering the
evidence, nor for asking: an offer is a question to a person, and nothing here heats.
"""

import math

from msgspec import Struct

from controller.core.batches import TemperState
from controller.core.chocolate import content_of
from controller.core.cooling import believed_gap_s
from controller.core.kept_machine import KeptMachine
from controller.core.kept_temper import restored
from controller.core.machine import Machine
from controller.core.profile import Kind, Profile, Verdict
from controller.core.records import replace
from controller.core.recovery_rows import (
    DWELL_BELOW_K,
    DWELL_GAP_S,
    ROWS,
    SOFT_FROM_C,
    Case,
    Cut,
    Now,
    Offer,
    Role,
    is_short,
    limits_c,
    role_of,
)
from controller.core.words import shown_temperature


class Beginning(Struct, frozen=True, kw_only=True):
    """Where a run begins. The default is a fresh run."""

    phase: int = 0
    dwelled_s: float = 0.0  # credit for the dwell before the cut
    answered: frozenset[str] = frozenset()
    verdict: Verdict = Verdict.NONE
    stir_from_c: float = -math.inf  # besides the phase's own limit, while in this phase
    temper: TemperState | None = None  # the estimate to go on with; None: none is known
    machine: KeptMachine | None = None  # the machine as it was learned; None: not known
    continues: str = ""  # run id of the cut run
    is_kind_known: bool = False  # somebody has said what is in the bowl


FRESH = Beginning()


class Decision(Struct, frozen=True, kw_only=True):
    """What is offered, by which row of the table, and the sentence that says why."""

    row: str
    offer: Offer
    why: str
    beginning: Beginning  # for an offer that heats; else `FRESH`
    may_set_aside: bool  # a person may begin afresh with another batch


def decide(
    cut: Cut, now: Now, profile: Profile, machine: Machine, *, fahrenheit: bool = False
) -> Decision:
    """What may be offered for `cut`: the first row of `ROWS` that applies. Never heats."""
    index = min(cut.phase, len(profile.phases) - 1)
    case = Case(
        cut=cut,
        now=now,
        profile=profile,
        machine=machine,
        phase=profile.phases[index],
        role=role_of(profile, index),
        gap_s=believed_gap_s(
            machine, now.gap_s, before=(cut.bath_c, cut.bowl_c), after=(now.bath_c, now.bowl_c)
        ),
    )
    row = next(row for row in ROWS if row.applies(case))
    return Decision(
        row=row.name,
        offer=row.offer,
        why=row.why.format_map(_words(case, fahrenheit=fahrenheit)),
        beginning=_beginning(case, row.offer),
        may_set_aside=row.may_set_aside,
    )


def _credit_s(case: Case) -> float:
    """The dwell that still counts: only a melt's, hardly cooled, after a short known gap."""
    warm = case.now.bowl_c >= case.phase.bowl_target_c - DWELL_BELOW_K
    if case.role is Role.MELT and warm and is_short(case, DWELL_GAP_S):
        return min(case.cut.dwelled_s, case.phase.dwell_s)
    return 0.0


def _beginning(case: Case, offer: Offer) -> Beginning:
    stir_from_c = -math.inf if case.profile.kind is Kind.WATER else SOFT_FROM_C
    if offer is Offer.MELT_AGAIN:
        return Beginning(stir_from_c=stir_from_c, is_kind_known=True)
    if offer is Offer.STOP_ONLY:
        return FRESH
    return Beginning(
        phase=case.cut.phase,
        dwelled_s=_credit_s(case),
        answered=case.cut.answered,
        is_kind_known=True,
        stir_from_c=stir_from_c if case.role is Role.MELT else -math.inf,
        temper=_temper(case),
        machine=case.cut.machine,
    )


def _temper(case: Case) -> TemperState | None:
    """The estimate of temper to go on with: only over a gap that is known."""
    kept = case.cut.temper
    if kept is None or case.gap_s is None:
        return None
    aged = replace(kept, age_s=kept.age_s + case.gap_s)
    return restored(aged, content_of(case.profile.kind).softer_k)


def _words(case: Case, *, fahrenheit: bool) -> dict[str, str]:
    def shown(value_c: float) -> str:
        return shown_temperature(value_c, fahrenheit=fahrenheit)

    credit_s = _credit_s(case)
    bath_limit_c, bowl_limit_c = limits_c(case)
    return {
        "bath": shown(case.now.bath_c),
        "bowl": shown(case.now.bowl_c),
        "target": shown(case.phase.bowl_target_c),
        "soft": shown(SOFT_FROM_C),
        "bath_limit": shown(bath_limit_c),
        "bowl_limit": shown(bowl_limit_c),
        "phase": case.phase.name,
        "boots": str(case.now.boots),
        "tripped": case.cut.tripped,
        "gap": "a time unknown" if case.gap_s is None else f"{case.gap_s / 60:.0f} min",
        "credit": f", {credit_s / 60:.0f} min of its dwell done" if credit_s > 0.0 else "",
    }


def table() -> str:
    """The rows as a Markdown table, for the documents."""
    head = ("| row | what is found | offer |", "|---|---|---|")
    return "\n".join((*head, *(f"| {row.name} | {row.found} | {row.offer} |" for row in ROWS)))
