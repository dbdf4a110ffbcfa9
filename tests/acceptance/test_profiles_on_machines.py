"""Every shipped profile on every named machine of the bench but the two that all else is tried on.

Responsible for what a sweep would only show by chance: small, large, weak, hot, slow relay.
"""

import pytest

from controller.core.profile import Verdict
from controller.errors import Exit
from controller.files.machine_file import bench_machines
from controller.files.profile_file import shipped_profiles
from controller.trials import Trial, run_trial

OVERSHOOT_K = 0.3  # the project's own goals, as on the reference machine
HOLD_K = 0.3
OTHERS = sorted(set(bench_machines()) - {"reference", "brisk"})


@pytest.mark.parametrize("machine", OTHERS)
@pytest.mark.parametrize("profile", shipped_profiles())
def test_every_shipped_profile_ends_in_temper_on_every_named_machine(
    profile: str, machine: str
) -> None:
    outcome = run_trial(Trial(profile=profile, machine=machine))

    assert outcome.exit is Exit.DONE
    assert outcome.trips == ()
    can_be = Verdict.NONE if profile == "water-trial" else Verdict.IN_TEMPER
    assert outcome.truth.verdict is can_be
    assert outcome.working_overshoot_k <= OVERSHOOT_K
    assert outcome.hold_min_k >= -HOLD_K
    assert outcome.hold_max_k <= HOLD_K
