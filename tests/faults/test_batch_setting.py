"""A batch that sets while its thermometers agree well enough: somebody is told before it has set.

Responsible for whole runs on the bench; not for the row's evidence (test_core_setting).
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

TIME_TO_ACT_S = 600.0
GIVE_UP_S = 6000.0


def found_of(machine: str, fitted: tuple[str, ...], fault: str) -> Found:
    """What came of it, by the true plant; times are of the run."""
    trial = Trial(profile="dark", machine=machine, fitted=fitted, faults=(fault,))
    stage = set_up(replace(trial, give_up_after_s=GIVE_UP_S))
    watch = Watch(stage.bench, stage.order.profile, stage.order.clock.now_s)
    watch.begin()
    order = replace(stage.order, tellers=(watch,))
    execute(staged(order, stage.bench, stage.plans))
    (plan,) = stage.plans
    return watch.found(
        Injection(fault=plan.fault, phase=str(plan.phase), after_s=plan.after_s, size=None)
    )


# Each was told by nothing else in time: what the thermometers show might be true.
@pytest.mark.parametrize(
    ("machine", "fitted", "fault"),
    [
        # In a room hardly colder than the bath its thermometer shows in the air what it has, too.
        ("drawn-631-2202", (), "bath-probe-out@cool+290s"),
        ("drawn-4711-9", ("level", "load", "second-switch"), "bowl-probe-frozen@cool+391s"),
    ],
)
def test_a_batch_that_sets_is_told_while_it_can_still_be_dipped(
    machine: str, fitted: tuple[str, ...], fault: str
) -> None:
    found = found_of(machine, fitted, fault)
    assert found.harm == "set"
    assert found.said[Cause.BATCH_SETTING] <= found.harm_s - TIME_TO_ACT_S
