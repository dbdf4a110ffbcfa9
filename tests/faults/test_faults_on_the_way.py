"""A bowl's thermometer that creeps away before the bowl has arrived keeps it from ever arriving.

Responsible for whole runs on the bench; not for the arithmetic (test_core_standing_bowls).
"""

import pytest

from controller.core.interlocks import Cause
from controller.trials import Trial, run_trial

GIVE_UP_S = 4 * 3600.0


@pytest.mark.parametrize(
    ("machine", "profile", "fault", "within_s"),
    [
        # The bowl sets meanwhile and truly is warmer than its bath: that alone takes an hour.
        ("reference", "dark", "bowl-probe-drift:5K@cool+300s", 4200.0),
        ("reference", "milk", "bowl-probe-drift:5K@cool+300s", 4800.0),
        ("brisk", "dark", "bowl-probe-drift:5K@cool+300s", 4200.0),
        ("reference", "dark-seeded", "bowl-probe-drift:5K@seed+300s", 4200.0),
        ("reference", "white-seeded", "bowl-probe-drift:5K@seed+300s", 4800.0),
        ("reference", "dark", "bowl-probe-drift:5K@rewarm+30s", 1500.0),
        ("reference", "dark", "bowl-probe-drift:-5K@rewarm+30s", 900.0),
    ],
)
def test_a_bowls_thermometer_that_creeps_on_the_way_is_seen(
    machine: str, profile: str, fault: str, within_s: float
) -> None:
    trial = Trial(profile=profile, machine=machine, faults=(fault,), give_up_after_s=GIVE_UP_S)
    outcome = run_trial(trial)
    assert outcome.causes == (Cause.BOWL_UNLIKE_BATH,)
    name = fault.partition("@")[2].partition("+")[0]
    assert outcome.trips[0].at_s - outcome.phase(name).start_s <= within_s
