"""Each fault alone and in pairs, on every shipped profile: the bench and the run bear all of them.

What must follow from a fault, see test_faults_on_bench.py; many more pairs: tests/proofs.
"""

import pytest

from controller.errors import Exit
from controller.journal.writer import SAMPLE_EVERY_S
from controller.trials import Trial, run_trial
from controller.wiring import BenchFault
from tests.helpers.faulted import (
    MACHINE,
    PROFILES,
    complaints,
    drawn_pairs,
    phases_of,
    profile_named,
    run_faulted,
    spec,
    try_pairs,
)

PAIRS_EACH = 3
LONG_S = 6000.0  # by then most runs of the quick machine hold
SHORT_S = 600.0


@pytest.mark.parametrize("name", PROFILES)
@pytest.mark.parametrize("fault", BenchFault)
def test_every_profile_bears_every_fault_as_it_begins(fault: BenchFault, name: str) -> None:
    texts = [spec(fault, f"@{phases_of(name)[0]}+2min")]

    run = run_faulted(name, texts, give_up_after_s=SHORT_S)

    assert run.outcome.exit in {Exit.STOPPED, Exit.TRIPPED}
    assert complaints(run, texts) == []


@pytest.mark.parametrize("name", PROFILES)
def test_no_pair_of_faults_crashes_a_run_or_leaves_its_heat_on(name: str) -> None:
    tally = try_pairs(name, PAIRS_EACH, seed=2, give_up_after_s=LONG_S)
    assert tally.runs == PAIRS_EACH
    assert tally.complaints == []


def test_the_same_seed_draws_the_same_pairs_and_another_seed_others() -> None:
    first, again, other = (list(drawn_pairs("dark", 50, seed)) for seed in (1, 1, 2))
    assert first == again
    assert first != other


def test_a_trial_with_faults_is_the_same_each_time() -> None:
    faults = ("bath-probe-wet@warm+5min/10min", "relay-chattering@warm+1min", "tick-late:0.4s")
    trial = Trial(
        profile=profile_named("water-trial"), machine=MACHINE, faults=faults, give_up_after_s=2400.0
    )
    assert repr(run_trial(trial)) == repr(run_trial(trial))


def test_a_power_cut_ends_the_run_where_it_stands_and_the_machine_cools_on() -> None:
    run, dark = (
        run_faulted("water-trial", [f"power-cut@hold+10s{lasts}"]) for lasts in ("", "/1h")
    )
    assert run.outcome.exit is Exit.STOPPED
    assert run.cause is None
    assert run.outcome.lasted_s == dark.outcome.lasted_s
    # It is last seen in a sample, and those come every five seconds.
    assert 0.0 <= run.since("hold", 10.0) - run.outcome.lasted_s < SAMPLE_EVERY_S
    assert dark.outcome.truth.energy_j == run.outcome.truth.energy_j
    assert dark.outcome.truth.bath_c < run.outcome.truth.bath_c - 3.0


def test_a_dip_of_three_seconds_is_borne_and_one_of_twenty_is_not() -> None:
    short = run_faulted("water-trial", ["power-dip@hold+1min/3s"])
    long = run_faulted("water-trial", ["power-dip@hold+1min/20s"])
    assert short.outcome.exit is Exit.DONE
    assert long.outcome.exit is Exit.TRIPPED
