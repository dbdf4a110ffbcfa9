"""The proof of a start: what must be shown before a run heats, each by a defect that blocks it.

Times and limits are our own thresholds (core/thresholds), not published.
"""

import dataclasses
import math
from dataclasses import dataclass, field
from typing import Any

import pytest

from controller.core import thresholds as th
from controller.core.interlocks import INTERLOCKS, Cause
from controller.core.machine import Machine
from controller.core.profile import Kind
from controller.core.proof import PROVEN, Proof, Step
from controller.core.recovery import FRESH, Beginning
from controller.core.signals import Permit, Reading, Request, Source, Verb
from controller.core.start_proof import proved
from controller.core.start_rows import START_ROWS
from controller.core.state import EventName, Mode, State
from controller.core.tick import initial_state
from controller.errors import Exit
from controller.trials import Trial, run_trial
from controller.trials.tally import Tally
from controller.trials.trial import set_up
from controller.wiring import BY_WORD, execute
from tests.helpers.records import replace
from tests.helpers.scene import STILL, Rig, answers, asks, evidence, machine, names, readings
from tests.helpers.wording import faults_of

KNOWN = Beginning(is_kind_known=True)
BARE = machine(has_guard=True)
SEEING = machine(has_guard=True, has_second=True, has_mains=True, has_current=True)
TWO_BLIND = machine(has_guard=True, has_second=True)


def begun(beginning: Beginning = KNOWN) -> State:
    """A run whose start is to be proven."""
    return initial_state(beginning, STILL)


@dataclass(kw_only=True)
class Kitchen(Rig):
    """A rig whose start is proven, with two switches that may be stuck and what sees them."""

    profile: Any = STILL
    machine: Machine = SEEING
    state: State = field(default_factory=begun)
    guard_k: float = 0.0  # the guard's thermometer over the bath
    stuck: frozenset[int] = frozenset()
    is_blind: bool = False

    def second(self, *requests: Request, **changes: Any) -> None:  # noqa: ANN401 - any field
        """One tick with all that is fitted."""
        said = self.commands
        on, alone = (said.heater_on, said.alone) if said else (False, 0)
        two = self.machine.has_second
        closed = {1: (on or alone == 1), 2: not two or on or alone == 2}
        live = all(closed[one] or one in self.stuck for one in (1, 2))
        seen = Permit(
            latched="none",
            age_s=0.0,
            bath_c=self.bath_c + self.guard_k,
            live=None if self.is_blind or not self.machine.has_mains else live,
        )
        current = Reading(self.machine.heater_a * live) if self.machine.has_current else None
        self.step(*requests, **{"permit": seen, "current": current} | changes)

    def until(self, seconds: int) -> list[tuple[Step, bool, int]]:
        """Start, and so many ticks: step, heat and the switch that is closed alone in each."""
        seen = []
        for second in range(seconds):
            self.second(*([asks(Verb.START)] if second == 0 else []))
            assert self.commands is not None
            seen.append((self.state.proof.step, self.heater_on, self.commands.alone))
        return seen


# What is in the bowl


def test_nothing_is_heated_before_somebody_says_what_is_in_the_bowl() -> None:
    rig = Kitchen(machine=BARE, state=begun(FRESH))
    rig.until(600)
    assert rig.is_in(Mode.RUNNING)
    assert rig.state.heat_j == 0.0
    assert rig.causes == []
    assert [fact["id"] for fact in rig.facts(EventName.QUESTION_ASKED)] == ["kind"]


def test_the_kind_that_the_profile_is_for_leads_to_heat() -> None:
    rig = Kitchen(machine=BARE, state=begun(FRESH))
    rig.until(3)
    rig.second(answers("dark", "kind"))
    assert rig.heater_on


def test_the_answer_may_come_with_the_start() -> None:
    rig = Kitchen(machine=BARE, state=begun(FRESH))
    rig.second(answers("dark", "kind"), asks(Verb.START))
    assert rig.heater_on
    assert names(tuple(rig.events))[:2] == [EventName.QUESTION_ASKED, EventName.QUESTION_ANSWERED]


def test_another_kind_blocks_the_start_and_says_what_to_do() -> None:
    rig = Kitchen(machine=BARE, state=begun(FRESH))
    rig.second(answers("milk", "kind"), asks(Verb.START))
    rig.until(5)
    assert rig.state.heat_j == 0.0
    assert rig.causes == [Cause.KIND_WRONG]
    assert "milk" in rig.state.trips[0].what
    assert "profile" in rig.state.trips[0].action


def test_over_the_network_only_who_may_heat_may_say_it() -> None:
    rig = Kitchen(machine=BARE, state=begun(FRESH))
    rig.until(1)
    rig.second(answers("dark", "kind", Source.LINK))
    assert not rig.heater_on
    rig.second(answers("dark", "kind", Source.REMOTE))
    assert rig.heater_on


def test_water_and_a_batch_that_goes_on_after_a_cut_are_not_asked_about() -> None:
    assert begun().progress.ask is None
    trial = initial_state(FRESH, replace(STILL, kind=Kind.WATER))
    assert (trial.progress.ask, trial.proof.step) == (None, Step.LOOK)


# Switches and what sees them


def test_each_switch_is_tested_alone_before_both_may_close() -> None:
    rig = Kitchen()
    steps = rig.until(12)
    assert [one[0] for one in steps[:8]] == [
        *[Step.OFF] * 2,
        *[Step.FIRST] * 2,
        *[Step.SECOND] * 2,
        *[Step.HEAT] * 2,
    ]
    assert [alone for _, _, alone in steps[:8]] == [0, 0, 1, 1, 2, 2, 0, 0]
    assert [heat for _, heat, _ in steps[:8]] == [*[False] * 6, True, True]
    assert rig.causes == []


def test_with_one_switch_the_heater_is_only_seen_to_be_off() -> None:
    rig = Kitchen(machine=replace(SEEING, has_second=False))
    steps = rig.until(6)
    assert [alone for _, _, alone in steps] == [0] * 6
    assert [heat for _, heat, _ in steps[:3]] == [False, False, True]


def test_what_nothing_sees_is_not_tested_and_takes_no_time() -> None:
    rig = Kitchen(machine=TWO_BLIND)
    assert rig.until(1) == [(Step.HEAT, True, 0)]


@pytest.mark.parametrize(
    "seeing", [replace(SEEING, has_mains=False), replace(SEEING, has_current=False)]
)
@pytest.mark.parametrize(
    ("stuck", "cause"),
    [
        ({1}, Cause.FIRST_SWITCH_STUCK),
        ({2}, Cause.SECOND_SWITCH_STUCK),
        ({1, 2}, Cause.HEATER_LIVE_WHEN_OFF),
    ],
)
def test_a_switch_that_stays_closed_is_found_before_any_heat(
    seeing: Machine, stuck: set[int], cause: Cause
) -> None:
    rig = Kitchen(machine=seeing, stuck=frozenset(stuck))
    rig.until(12)
    assert rig.causes == [cause]
    assert rig.state.heat_j == 0.0


def test_a_sensor_of_the_heater_that_says_nothing_blocks_the_start() -> None:
    rig = Kitchen(is_blind=True)
    rig.until(12)
    assert rig.causes == [Cause.HEATER_UNSEEN]
    assert rig.state.heat_j == 0.0


def test_a_heater_that_stays_dead_is_found_by_its_first_seconds() -> None:
    rig = Kitchen(machine=replace(SEEING, has_second=False))
    for second in range(8):
        off = Permit(latched="none", age_s=0.0, bath_c=rig.bath_c, live=False)
        rig.second(*([asks(Verb.START)] if second == 0 else []), permit=off)
    assert rig.causes == [Cause.HEATER_DEAD_WHEN_ON]
    assert rig.state.heat_j <= 3 * 500.0


# Thermometers


@pytest.mark.parametrize("guard_k", [1.6, -1.6])
def test_two_thermometers_in_one_cold_bath_must_agree(guard_k: float) -> None:
    rig = Kitchen(machine=BARE, guard_k=guard_k)
    rig.until(3)
    assert rig.causes == [Cause.PROBES_APART_COLD]
    assert rig.state.heat_j == 0.0
    assert Kitchen(machine=BARE, guard_k=guard_k * 0.9).until(1)[0][1]


def test_a_bowl_far_colder_than_a_bath_at_room_temperature_blocks_the_start() -> None:
    rig = Kitchen(machine=BARE, bowl_c=11.5)
    rig.until(3)
    assert rig.causes == [Cause.BOWL_TOO_COLD]
    assert Kitchen(machine=BARE, bowl_c=12.5).until(1)[0][1]
    room_c = BARE.room_c
    warmer = Kitchen(machine=BARE, bath_c=room_c + 2.9, bowl_c=room_c - 6.0)
    warmer.until(3)
    assert warmer.causes == [Cause.BOWL_TOO_COLD]  # still as warm as the room
    assert Kitchen(machine=BARE, bath_c=room_c + 3.1, bowl_c=room_c - 6.0).until(1)[0][1]
    assert Kitchen(machine=BARE, bath_c=45.0, bowl_c=11.5).until(1)[0][1]  # filled with hot water


def test_whatever_withholds_heat_keeps_the_proof_waiting() -> None:
    rig = Kitchen(machine=replace(BARE, has_level=True))
    rig.second(asks(Verb.START), level=Reading(0.0))
    assert rig.state.proof.step is Step.LOOK
    rig.second(level=Reading(0.0))
    rig.second(level=Reading(0.0))
    assert rig.causes == [Cause.LEVEL_LOST]


def test_the_first_heat_must_warm_the_bath_sooner_than_later_heat_must() -> None:
    rig = Kitchen(machine=BARE, element_works=False, is_live=False, bath_c=25.0, bowl_c=25.0)
    rig.until(140)
    assert rig.causes == [Cause.HEAT_WITHOUT_EFFECT]
    assert "first" in rig.state.trips[0].what
    assert rig.state.trips[0].at_s < 125.0


@pytest.mark.parametrize(("from_c", "kept_k"), [(20.0, 0.25), (26.0, math.nan)])
def test_a_whole_machine_passes_its_proof_within_minutes_and_keeps_what_was_seen_cold(
    from_c: float, kept_k: float
) -> None:
    rig = Kitchen(bath_c=from_c, bowl_c=from_c, guard_k=0.25)
    rig.until(600)
    assert rig.causes == []
    proof = rig.state.proof
    assert (proof.step, proof.bowl_due_k, proof.bowl_rise_k) == (Step.DONE, 0.0, 0.0)
    assert math.isnan(proof.bowl_from_c)
    assert proof.cold_apart_k == pytest.approx(kept_k, abs=0.1, nan_ok=True)
    assert proved(rig.state, rig.state, SEEING, readings(), 1.0) is rig.state


def test_a_bowl_that_does_not_follow_its_bath_is_found() -> None:
    rig = Kitchen(machine=BARE)
    for second in range(900):
        here = Reading(20.0 + 0.0625 * (second % 2))
        rig.second(*([asks(Verb.START)] if second == 0 else []), bowl=here)
    assert rig.causes[0] == Cause.BOWL_NOT_WARMED
    assert rig.bath_c < 56.0


def test_a_warm_bowl_in_a_cold_bath_counts_from_its_coldest() -> None:
    rig = Kitchen(machine=BARE, bowl_c=45.0)
    rig.until(900)
    assert rig.causes == []


@pytest.mark.parametrize(
    ("bowl_c", "lead_k", "over_w"),
    # Through 5 W/K; a bowl 12 K over its room may lose 12 W.
    [(32.0, 2.4, 0.0), (32.0, 4.4, 10.0), (20.0, 4.4, 22.0), (15.0, 4.4, 22.0)],
)
def test_a_warm_bowl_owes_only_what_its_bath_gives_beyond_keeping_it_warm(
    bowl_c: float, lead_k: float, over_w: float
) -> None:
    warming = replace(
        begun(),
        proof=Proof(step=Step.HEAT, bowl_from_c=bowl_c),
        bath_c=bowl_c + lead_k,
        bowl_c=bowl_c,
    )
    one, a_second_s = machine(), 1.0
    proof = proved(warming, warming, one, readings(), a_second_s).proof
    assert one.room_c == 20.0
    due_k = over_w * a_second_s / (one.batch_kg * th.SLOWEST_BOWL_J_PER_KG_K)
    assert proof.bowl_due_k == pytest.approx(due_k, abs=1e-9)


# The rows


@pytest.mark.parametrize(
    ("unsafe", "edge"),
    [
        (Proof(mistaken="milk"), PROVEN),
        (Proof(apart_k=1.51), Proof(apart_k=1.5)),
        (Proof(colder_k=8.01), Proof(colder_k=8.0)),
        (Proof(stuck=1), PROVEN),
        (Proof(stuck=2), PROVEN),
        (Proof(bowl_due_k=2.01, bowl_rise_k=0.49), Proof(bowl_due_k=2.0, bowl_rise_k=0.49)),
        (Proof(bowl_due_k=9.0, bowl_rise_k=math.nan), Proof(bowl_due_k=9.0, bowl_rise_k=0.5)),
    ],
)
def test_each_finding_fails_one_row_and_its_edge_none(unsafe: Proof, edge: Proof) -> None:
    assert sum(not row.safe(evidence(proof=unsafe)) for row in START_ROWS) == 1
    assert all(row.safe(evidence(proof=edge)) for row in START_ROWS)


def test_a_stirrer_must_show_its_load_as_it_first_turns() -> None:
    failing = [row for row in START_ROWS if not row.safe(evidence(turning_w=0.029))]
    assert [row.cause for row in failing] == [Cause.STIRRER_STOPPED]
    assert all(row.safe(evidence(turning_w=0.03)) for row in START_ROWS)
    assert not all(row.safe(evidence(turning_w=math.nan)) for row in START_ROWS)


def test_every_row_of_the_start_says_what_to_do() -> None:
    for row in START_ROWS:
        assert row.action.endswith(".")
        assert not row.advice


# On the bench, with the defect there before the run


@pytest.mark.parametrize(
    ("fault", "fitted", "cause", "within_s"),
    [
        ("relay-welded", ("second-switch", "mains-live"), Cause.FIRST_SWITCH_STUCK, 10.0),
        ("second-switch-welded", ("second-switch", "current"), Cause.SECOND_SWITCH_STUCK, 10.0),
        ("relay-welded", ("mains-live",), Cause.HEATER_LIVE_WHEN_OFF, 4.0),
        ("relay-open", ("mains-live",), Cause.HEATER_DEAD_WHEN_ON, 8.0),
        ("heater-dead", ("current",), Cause.HEATER_DEAD_WHEN_ON, 8.0),
        ("heater-half", ("current",), Cause.HEATER_POWER_WRONG, 8.0),
        ("current-lost", ("current",), Cause.HEATER_UNSEEN, 10.0),
        ("mains-live-stuck", ("mains-live",), Cause.HEATER_LIVE_WHEN_OFF, 4.0),
        ("mains-live-dead", ("mains-live",), Cause.HEATER_DEAD_WHEN_ON, 8.0),
        ("current-dead", ("current",), Cause.HEATER_DEAD_WHEN_ON, 8.0),
        ("heater-dead", (), Cause.HEAT_WITHOUT_EFFECT, 130.0),
        ("bath-probe-offset", (), Cause.PROBES_APART_COLD, 3.0),
        ("bowl-probe-offset", (), Cause.BOWL_TOO_COLD, 3.0),
        ("bowl-probe-out", (), Cause.BOWL_NOT_WARMED, 600.0),
        ("level-lost", ("level",), Cause.LEVEL_LOST, 5.0),
        ("stirrer-stopped", ("load",), Cause.STIRRER_STOPPED, 1500.0),
        ("stirrer-stopped", ("shaft",), Cause.STIRRER_STOPPED, 1500.0),
    ],
)
def test_a_defect_that_is_there_before_the_run_blocks_its_start(
    fault: str, fitted: tuple[str, ...], cause: Cause, within_s: float
) -> None:
    stage = set_up(Trial(profile="dark", machine="brisk", fitted=fitted, give_up_after_s=2000.0))
    stage.bench.inject(BY_WORD[fault], -12.0 if fault == "bowl-probe-offset" else None)
    tally = Tally(stage.order.profile, stage.bench.plant)

    result = execute(dataclasses.replace(stage.order, tellers=(tally,)))

    outcome = tally.outcome(result.outcome, stage.bench.truth())
    assert outcome.exit is Exit.TRIPPED
    assert outcome.trips[0].cause == cause
    assert outcome.trips[0].at_s <= within_s
    first = result.state.trips[0]
    assert faults_of(first.what) == []
    assert first.action in {row.action for row in INTERLOCKS if row.cause == cause}


def test_a_cook_who_reads_the_packet_blocks_a_run_for_another_chocolate() -> None:
    outcome = run_trial(Trial(profile="dark", machine="brisk", faults=("profile-wrong",)))

    assert outcome.exit is Exit.TRIPPED
    assert [trip.cause for trip in outcome.trips] == [Cause.KIND_WRONG]
    assert outcome.bath_max_c < 21.0


def test_a_cook_who_does_not_answer_heats_nothing() -> None:
    never = Trial(profile="dark", machine="brisk", faults=("answer-never",), give_up_after_s=3600.0)

    stage = set_up(never)
    stage.bench.inject(BY_WORD["answer-never"])
    result = execute(stage.order)

    assert result.outcome is Exit.STOPPED
    assert stage.bench.truth().energy_j == 0.0
