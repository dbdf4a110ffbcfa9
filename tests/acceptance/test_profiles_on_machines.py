"""Every shipped profile on every named machine of the bench but the two that all else is tried on.

Responsible for what a sweep would only show by chance: small, large, weak, hot, slow relay.
"""

import math

import pytest

from controller.core.profile import Profile, Verdict
from controller.core.records import replace
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path, bench_machines, load_machine_file
from controller.files.profile_file import load_profile, shipped_profiles
from controller.trials import Trial, run_trial

OVERSHOOT_K = 0.3  # the project's own goals, as on the reference machine
HOLD_K = 0.3
OTHERS = sorted(set(bench_machines()) - {"reference", "brisk"})
SHORT_S = 600.0  # what only keeps warm need not be watched for an hour


def as_tried(name: str, machine: str) -> Profile:
    """The shipped profile, its last dwell made short where temper has no part in it."""
    profile = load_profile(name, load_machine_file(bench_machine_path(machine)).machine)
    if profile.aims_at_temper:
        return profile
    *before, last = profile.phases
    return replace(profile, phases=(*before, replace(last, dwell_s=min(SHORT_S, last.dwell_s))))


@pytest.mark.parametrize("machine", OTHERS)
@pytest.mark.parametrize("name", shipped_profiles())
def test_every_shipped_profile_ends_well_on_every_named_machine(name: str, machine: str) -> None:
    profile = as_tried(name, machine)
    outcome = run_trial(Trial(profile=profile, machine=machine))

    assert outcome.exit is Exit.DONE
    assert outcome.trips == ()
    assert outcome.truth.verdict is Verdict.IN_TEMPER or not profile.aims_at_temper
    assert outcome.bowl_max_c <= profile.bowl_never_above_c
    # A bowl that only comes down to its target, in a room that keeps it there, has none to tell.
    over_k = outcome.working_overshoot_k
    assert over_k <= OVERSHOOT_K or math.isnan(over_k)
    assert outcome.hold_min_k >= -HOLD_K
    assert outcome.hold_max_k <= HOLD_K
