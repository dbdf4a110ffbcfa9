"""Two thermometers that fail one after the other: heat is withheld before the batch melts out.

Responsible for whole runs on the bench; not for what is believed meanwhile (test_core_lacks).
"""

import pytest

from controller.core.interlocks import Cause
from tests.helpers.truth import found_of

FITTED = ("level", "mains-live", "second-switch")


# The bowl's freezes under its target, so that the bath stands at its ceiling; then the bath's
# creeps down, and the true bath stands over that ceiling until the two in it differ too much.
@pytest.mark.parametrize(
    ("machine", "frozen", "creeping"),
    [
        ("drawn-707-57", "bowl-probe-frozen@rewarm+38s", "bath-probe-drift:-5K@rewarm+213s"),
        ("drawn-707-155", "bowl-probe-frozen@cool+474s", "bath-probe-drift:-5K@rewarm+111s"),
    ],
)
def test_a_batch_whose_two_thermometers_fail_is_not_melted_out_with_heat_on(
    machine: str, frozen: str, creeping: str
) -> None:
    found = found_of(machine, FITTED, frozen, creeping)
    assert Cause.BATH_PROBES_DISAGREE in found.said
    assert not found.harm or found.is_heat_off
