"""What a record keeps of the machine as it was learned, and a run that goes on with it."""

import math
from pathlib import Path

import pytest

from controller.core.estimator import stir
from controller.core.kept_machine import (
    AGED_SD,
    Fact,
    KeptMachine,
    kept_machine,
    learned_facts,
    remembered,
)
from controller.core.profile import Kind
from controller.core.recovery import Beginning, decide
from controller.core.recovery_rows import Cut, Now
from controller.core.thermal import LN_K, LN_R, begin, prior_of
from controller.core.tick import initial_state
from controller.journal.cut import CutRun, cut_of
from controller.journal.reader import read_run
from controller.journal.records import Identity, Run
from controller.journal.writer import Journal
from tests.helpers.batch import a_header, a_machine, a_moment, a_profile, still_clock
from tests.helpers.records import replace
from tests.helpers.scene import machine
from tests.helpers.tempers import Batch
from tests.unit.test_core_consistency import believed

KEPT = KeptMachine(ln_transfer_share=-7.5, ln_sizes_share=1.5, ln_share_sd=0.04)


def facts(**changes: Fact) -> dict[str, Fact]:
    """Of a machine that has been learned well; `changes` replaces any of them."""
    belief = replace(believed(ln_k=0.3, ln_r=0.1), is_stirred=True)
    return learned_facts(belief) | changes


def test_what_was_learned_comes_back_from_its_facts() -> None:
    belief = replace(believed(ln_k=0.3, ln_r=0.1), is_stirred=True)
    kept = kept_machine(learned_facts(belief))
    assert kept is not None
    assert kept.ln_transfer_share == belief.mean[LN_K]
    assert kept.ln_sizes_share == belief.mean[LN_R]
    assert kept.ln_share_sd == pytest.approx(math.hypot(0.03, 0.03))


@pytest.mark.parametrize(("is_stirred", "has_melted"), [(False, True), (True, False)])
def test_of_a_bowl_that_stands_or_has_not_melted_nothing_is_kept(
    *, is_stirred: bool, has_melted: bool
) -> None:
    belief = replace(believed(), is_stirred=is_stirred, has_melted=has_melted)
    assert all(math.isnan(float(value)) for value in learned_facts(belief).values())
    assert learned_facts(None).keys() == facts().keys()


@pytest.mark.parametrize(
    "changes",
    [
        {"learned_rate_sd": 0.11},  # no better known than what is held against no machine
        {"learned_rate_sd": -0.01},
        {"learned_rate_sd": math.nan},
        {"learned_transfer_ln": "much"},
        {"learned_sizes_ln": True},
    ],
)
def test_what_was_not_learned_well_is_not_gone_on_with(changes: dict[str, Fact]) -> None:
    assert kept_machine(facts(**changes)) is None
    assert kept_machine({}) is None  # the record of an older program
    assert kept_machine(facts(learned_rate_sd=0.1)) is not None


def test_a_belief_goes_on_with_what_was_learned_once_the_stirrer_turns() -> None:
    fresh = begin(prior_of(machine(), Kind.DARK, 1.0), 32.0, 31.5, has_melted=True)
    turning = stir(remembered(fresh, KEPT), is_stirred=True)
    assert (turning.mean[LN_K], turning.mean[LN_R]) == (-7.5, 1.5)
    assert turning.spread[LN_K][LN_K] == turning.spread[LN_R][LN_R] == AGED_SD**2
    unsure = remembered(fresh, replace(KEPT, ln_share_sd=0.1))
    assert unsure.other_transfer[1] == pytest.approx(0.1**2 / 2.0)
    assert unsure.spread[LN_R][LN_R] == pytest.approx(0.1**2 / 2.0)


def test_a_run_that_goes_on_begins_with_the_machine_of_the_one_that_was_cut() -> None:
    cut = Cut(phase=2, bath_c=31.5, bowl_c=31.5, hottest_c=31.6, machine=KEPT)
    now = Now(bath_c=31.0, bowl_c=31.0, gap_s=240.0, boots=1)
    assert decide(cut, now, a_profile(), a_machine()).beginning.machine == KEPT
    assert initial_state(Beginning(machine=KEPT)).kept == KEPT


def recorded(path: Path, *, is_stirred: bool) -> Run:
    """The record of a run whose temper was judged once."""
    journal = Journal(path, header=a_header(), clock_s=still_clock)
    given = a_moment(10.0)
    batch = Batch().melted()
    state = replace(
        given.state,
        temper=batch.temper,
        belief=replace(believed(), is_stirred=is_stirred),
        progress=replace(given.state.progress, phase=1),
    )
    journal.tell(replace(given, state=state))
    journal.finish(None, "stopped")
    run = read_run(path)
    return replace(run, header=replace(run.header, profile_made_of="p", machine_made_of="m"))


def test_the_record_of_a_cut_run_or_the_one_before_it_has_the_machine(tmp_path: Path) -> None:
    learned = recorded(tmp_path / "learned.jsonl", is_stirred=True)
    cut_at_once = recorded(tmp_path / "cut.jsonl", is_stirred=False)
    identity = Identity(
        run_id="next",
        began_utc="",
        version=learned.header.version,
        profile_made_of="p",
        machine_made_of="m",
    )
    for runs in ((learned,), (learned, cut_at_once)):
        found = cut_of(CutRun(runs=runs), a_profile(), identity)
        assert found.machine is not None
        assert found.machine.ln_transfer_share == pytest.approx(believed().mean[LN_K], abs=1e-4)
        assert found.machine.ln_sizes_share == pytest.approx(believed().mean[LN_R], abs=1e-4)
    assert cut_of(CutRun(runs=(cut_at_once,)), a_profile(), identity).machine is None
    other = replace(identity, machine_made_of="another")
    assert cut_of(CutRun(runs=(learned,)), a_profile(), other).machine is None
