"""Two thermometers that fail one after the other: heat is withheld before the batch melts out.

Responsible for whole runs on the bench; not for what is believed meanwhile (test_core_lacks).
"""

from dataclasses import replace

import pytest

from controller.core.interlocks import Cause
from controller.trials import Trial
from controller.trials.ordeal_draws import Injection
from controller.trials.ordeal_watch import Found, Watch
from controller.trials.staging import staged
from controller.trials.trial import set_up
from controller.wiring import execute

FITTED = ("level", "mains-live", "second-switch")
GIVE_UP_S = 3600.0


def found_of(machine: str, faults: tuple[str, ...]) -> Found:
    """What came of them, by the true plant; times are of the run."""
    trial = Trial(profile="dark", machine=machine, fitted=FITTED, faults=faults)
    stage = set_up(replace(trial, give_up_after_s=GIVE_UP_S))
    watch = Watch(stage.bench, stage.order.profile, stage.order.clock.now_s)
    watch.begin()
    execute(staged(replace(stage.order, tellers=(watch,)), stage.bench, stage.plans))
    plan = stage.plans[0]
    return watch.found(
        Injection(fault=plan.fault, phase=str(plan.phase), after_s=plan.after_s, size=None)
    )


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
    found = found_of(machine, (frozen, creeping))
    assert Cause.BATH_PROBES_DISAGREE in found.said
    assert not found.harm or found.is_heat_off
