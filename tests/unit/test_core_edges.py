"""Each number of the heat's account at its edge: on one side of it nothing, on the other a hit.

Responsible for what no run of a plausible bath shows exactly; values are own inventions.
"""

import math
from typing import Any

import pytest

from controller.core.evidence import HeatMemory, ProbeMemory, heat_evidence
from controller.core.interlock_rows import Cause
from controller.core.interlocks import INTERLOCKS, judge
from controller.core.machine import Machine
from controller.core.proof import PROVEN, Proof, Step
from controller.core.signals import Reading
from controller.core.start_rows import START_ROWS
from controller.core.surveillance import survey
from tests.helpers.records import replace
from tests.helpers.scene import STILL, evidence, heating, machine, probe, profile

OWN = machine()
FULL_K_PER_S = OWN.heater_w / OWN.bath_j_per_k
LARGE = machine(water_kg=25.0)
FROM_C = 40.0


def after(memory: HeatMemory, bath_c: float, *, of: Machine = OWN, **changes: Any) -> HeatMemory:  # noqa: ANN401 - any argument of the account
    """The account a second later, with bath and bowl alike and the heater told to be off."""
    both = ProbeMemory(value_c=bath_c, code_c=bath_c)
    given: dict[str, Any] = {
        "bath": both,
        "bowl": both,
        "was_on": False,
        "disturbed": False,
        "dt_s": 1.0,
    }
    return heat_evidence(memory, machine=of, **(given | changes))


def hits(rise_k: float, *, at_s: float = 60.0, asked_s: float = 0.0, of: Machine = OWN) -> int:
    """How often the relay is suspected, `at_s` after a look at `FROM_C`."""
    first = (0.0, FROM_C, 0.0, -asked_s)
    return after(HeatMemory(now_s=at_s - 1.0, trail=(first,)), FROM_C + rise_k, of=of).stuck_hits


@pytest.mark.parametrize(
    ("hit", "given"),
    [
        (1, {"rise_k": 0.451 * 60.0 * FULL_K_PER_S}),
        (0, {"rise_k": 0.449 * 60.0 * FULL_K_PER_S}),
        (1, {"rise_k": 2.0, "at_s": 60.0}),
        (0, {"rise_k": 2.0, "at_s": 59.0}),
        (1, {"rise_k": 2.0, "asked_s": 15.0}),
        (0, {"rise_k": 2.0, "asked_s": 15.1}),
        (1, {"rise_k": 0.201, "of": LARGE}),  # 0.13 K would be 45 % of what its heater can do
        (0, {"rise_k": 0.199, "of": LARGE}),
    ],
)
def test_a_relay_is_suspected_from_its_numbers_on(hit: int, given: dict[str, Any]) -> None:
    assert hits(**given) == hit


@pytest.mark.parametrize(("share", "anchor_c"), [(0.29, FROM_C), (0.31, 42.0)])
def test_only_under_little_heat_a_bath_may_fall_without_owing_anything(
    share: float, anchor_c: float
) -> None:
    lagged = share / (1.0 - 1.0 / 20.0)  # the element a second after
    memory = HeatMemory(lagged=lagged, anchor_c=42.0, given_s=50.0)
    assert after(memory, FROM_C).anchor_c == pytest.approx(anchor_c, abs=0.01)


def test_what_somebody_did_needs_a_minute_to_show() -> None:
    assert after(HeatMemory(), FROM_C, disturbed=True).settling_s == 60.0


@pytest.mark.parametrize(("fall_k", "is_seen"), [(1.01, True), (0.99, False)])
def test_a_fall_of_a_kelvin_since_the_last_look_is_somebody_s_doing(
    fall_k: float, *, is_seen: bool
) -> None:
    look = (0.0, FROM_C, 0.0, 0.0)
    seen = after(HeatMemory(now_s=3.0, trail=(look,)), FROM_C - fall_k)
    assert (seen.settling_s > 0.0) is is_seen


def test_one_safe_second_undoes_a_fifth_of_an_unsafe_one() -> None:
    place = next(i for i, row in enumerate(INTERLOCKS) if row.cause is Cause.BATH_OVER_LIMIT)
    unsafe_s = tuple(1.0 if at == place else 0.0 for at in range(len(INTERLOCKS)))
    seen = judge(
        unsafe_s,
        evidence(bath=probe(40.0)),
        machine=OWN,
        profile=profile(),
        latched=frozenset(),
        now_s=100.0,
        dt_s=1.0,
    )
    assert seen.unsafe_s[place] == pytest.approx(0.8)
    assert math.fsum(seen.unsafe_s) == pytest.approx(0.8)


@pytest.mark.parametrize(("share", "is_over"), [(0.0205, False), (0.0195, True)])
def test_an_element_is_cold_under_a_fiftieth_of_its_power(share: float, *, is_over: bool) -> None:
    memory = HeatMemory(lagged=share / (1.0 - 1.0 / 20.0), anchor_c=42.0, given_s=50.0)
    assert (after(memory, FROM_C).given_s == 0.0) is is_over


@pytest.mark.parametrize(("dt_s", "late"), [(10.0, False), (10.1, True)])
def test_a_tick_counts_for_ten_seconds_at_most(dt_s: float, *, late: bool) -> None:
    rig = heating()
    before_s = rig.state.run_s
    rig.step(dt_s=dt_s)
    assert rig.state.run_s == before_s + 10.0
    assert (Cause.TICK_LATE in rig.state.withheld) is late


def test_a_bowl_may_warm_its_bath_by_as_much_as_the_best_bowl_could() -> None:
    warm = ProbeMemory(value_c=45.0, code_c=45.0)
    warmed = after(HeatMemory(), FROM_C, bowl=warm)
    assert warmed.expected_k == pytest.approx(25.0 * 5.0 / OWN.bath_j_per_k)


@pytest.mark.parametrize(
    ("proof", "unverified_s", "is_safe"),
    [
        (Proof(step=Step.HEAT), 90.0, True),
        (Proof(step=Step.HEAT), 90.1, False),
        (PROVEN, 90.1, True),  # later heat has a limit of its own
    ],
)
def test_the_first_heat_must_show_within_ninety_seconds_of_full_power(
    proof: Proof, unverified_s: float, *, is_safe: bool
) -> None:
    seen = evidence(proof=proof, unverified_s=unverified_s)
    (row,) = [row for row in START_ROWS if row.cause is Cause.HEAT_WITHOUT_EFFECT]
    assert row.safe(seen) is is_safe


@pytest.mark.parametrize(
    ("stirred_s", "is_due"), [(5.0, False), (5.1, True), (60.0, True), (60.1, False)]
)
def test_a_stirrer_s_load_must_show_from_its_spin_up_through_its_first_minute(
    stirred_s: float, *, is_due: bool
) -> None:
    rig = heating(machine=machine(has_load=True))
    memory = replace(rig.state.watch.memory, stirring_s=stirred_s)
    turning = replace(rig.state, watch=replace(rig.state.watch, memory=memory))
    unloaded = replace(rig.readings(), load=Reading(0.01))
    seen = survey(turning, STILL, rig.machine, unloaded, 1.0)
    assert (Cause.STIRRER_STOPPED in seen.withheld) is is_due
