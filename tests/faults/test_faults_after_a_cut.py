"""A run that was cut and is gone on with in hold still sees its bowl's thermometer creep away.

Responsible for what the second run knows of its machine; not for what may be offered after a cut
(tests/unit/test_recovery_table.py).
"""

from dataclasses import replace

import pytest

from controller.core.interlocks import Cause
from controller.core.kept_machine import KeptMachine, kept_machine, learned_facts
from controller.core.recovery import Beginning
from controller.ports import Moment
from controller.trials import Trial
from controller.trials.faults import plans_for
from controller.trials.staging import staged
from controller.trials.trial import Stage, askers, set_up
from controller.wiring import execute, guarded

HOLD = 3
CUT_AFTER_S = 300.0  # of the hold
GAP_S = 60.0


class _CutError(BaseException):
    """The power is away."""


class Cutter:
    """Cuts the power in hold, and knows what the record had of the machine."""

    kept: KeptMachine | None = None

    def tell(self, moment: Moment) -> None:
        """Cut it when it is time."""
        progress = moment.state.progress
        if progress.phase == HOLD and progress.phase_s >= CUT_AFTER_S:
            self.kept = kept_machine(learned_facts(moment.state.belief))
            raise _CutError


def cut(profile: str, machine: str) -> tuple[Stage, KeptMachine | None]:
    """A run that was cut in hold, and stood for a minute with all of it off."""
    stage, cutter = set_up(Trial(profile=profile, machine=machine)), Cutter()
    with pytest.raises(_CutError):
        execute(staged(replace(stage.order, tellers=(cutter,)), stage.bench, ()))
    now_s = stage.order.clock.now_s()
    stage.bench.devices.heater.drive(on=False, now_s=now_s)
    stage.bench.devices.stirrer.drive(rpm=0.0, now_s=now_s)
    stage.order.clock.wait_until(now_s + GAP_S)
    stage.bench.plant.advance(now_s + GAP_S)
    return stage, cutter.kept


def gone_on(profile: str, machine: str, *faults: str) -> list[str]:
    """Causes of what tripped the run that went on."""
    stage, kept = cut(profile, machine)
    assert kept is not None
    order = replace(
        stage.order,
        attached=guarded(stage.bench, stage.order.machine),
        panels=askers(7200.0),
        beginning=Beginning(phase=HOLD, is_kind_known=True, machine=kept),
    )
    result = execute(staged(order, stage.bench, plans_for(faults, stage.order.profile)))
    return [trip.cause for trip in result.state.trips]


@pytest.mark.parametrize("size", ["5K", "-5K"])
@pytest.mark.parametrize(
    ("profile", "machine"), [("dark", "reference"), ("milk", "reference"), ("dark", "brisk")]
)
def test_a_bowls_thermometer_that_creeps_after_a_cut_is_seen(
    profile: str, machine: str, size: str
) -> None:
    fault = f"bowl-probe-drift:{size}@hold+100s"
    assert gone_on(profile, machine, fault) == [Cause.BOWL_UNLIKE_BATH]


@pytest.mark.parametrize(
    ("profile", "machine"),
    [
        ("dark", "reference"),
        ("milk", "reference"),
        ("white", "reference"),
        ("milk", "drawn-83-4"),  # a lead that keeps a warm bowl warm once tripped it for not rising
    ],
)
def test_a_whole_machine_that_goes_on_after_a_cut_trips_nothing(profile: str, machine: str) -> None:
    assert gone_on(profile, machine) == []
