"""Two thermometers that fail one after the other: heat is withheld before the batch melts out.

Responsible for whole runs on the bench; not for what is believed meanwhile (test_core_lacks).
"""

import pytest

from controller.core.interlocks import Cause
from tests.helpers.truth import found_of

FITTED = ("level", "mains-live", "second-switch")


# Whatever two of them hide, the third knows: the bowl's that it gets warm under a bath that seems
# colder, the guard's that the bath is warmer than both, which vouch for each other, say.
@pytest.mark.parametrize(
    ("machine", "fitted", "faults", "cause"),
    [
        (
            "drawn-841-101",
            ("mains-live",),
            ("bath-probe-out@hold+226s", "guard-probe-out@hold+235s"),
            Cause.BOWL_TOO_WARM,
        ),
        (
            "drawn-841-174",
            ("level", "second-switch", "shaft"),
            ("guard-probe-frozen@hold+375s", "bath-probe-drift:-5K@hold+462s"),
            Cause.BOWL_TOO_WARM,
        ),
        (
            "drawn-813-163",
            ("level", "load", "mains-live", "shaft"),
            ("bath-probe-drift:-5K@hold+169s", "bowl-probe-drift:-5K@hold+246s"),
            Cause.BATH_PROBES_DISAGREE,
        ),
        (
            "drawn-813-176",
            ("current", "level", "load", "shaft"),
            ("bath-probe-drift:-5K@rewarm+199s", "bowl-probe-drift:-5K@rewarm+203s"),
            Cause.BATH_PROBES_DISAGREE,
        ),
    ],
)
def test_two_that_agree_on_what_is_wrong_are_told_by_the_third(
    machine: str, fitted: tuple[str, ...], faults: tuple[str, str], cause: Cause
) -> None:
    found = found_of(machine, fitted, *faults)
    assert cause in found.said
    assert not found.harm or found.is_heat_off


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
