"""The proof at the start of a run: what must be right before and in the first heat.

Each defect ends the run within seconds of its start, with its own sentence.
"""

from typing import Any

import pytest

from controller.core.interlocks import Cause
from controller.core.signals import Permit, Reading, Verb, missing
from controller.core.state import Mode
from controller.errors import Exit
from controller.trials import Trial, run_trial
from tests.helpers.records import replace
from tests.helpers.scene import STILL, Rig, asks, heating, machine

FULL = machine(has_level=True, has_shaft=True, has_load=True, has_guard=True)
SOUND: dict[str, Any] = {
    "level": Reading(1.0),
    "shaft": Reading(0.0),
    "load": Reading(0.0),
    "permit": Permit(latched="none", age_s=0.0, bath_c=20.0),
}
PATIENT = replace(STILL, lost_probe_wait_s=30.0)


@pytest.mark.parametrize(
    ("defect", "cause"),
    [
        ({"bath": missing()}, Cause.BATH_PROBE_MISSING),
        ({"bowl": missing()}, Cause.BOWL_PROBE_MISSING),
        ({"level": Reading(0.0)}, Cause.LEVEL_LOST),
        ({"permit": None}, Cause.GUARD_LATCHED),
        ({"permit": Permit(latched="none", age_s=9.0, bath_c=20.0)}, Cause.GUARD_SILENT),
        (
            {"permit": Permit(latched="none", age_s=0.0, bath_c=22.5)},
            Cause.BATH_PROBES_DISAGREE,
        ),
    ],
)
def test_a_defect_at_the_start_gets_no_heat_and_ends_the_run_within_seconds(
    defect: dict[str, Any], cause: Cause
) -> None:
    rig = Rig(profile=PATIENT, machine=FULL)
    rig.step(asks(Verb.START), **SOUND | defect)
    heated = rig.heater_on
    for _ in range(6):
        rig.step(**SOUND | defect)
        heated = heated or rig.heater_on
    assert not heated
    assert rig.state.trips[0].cause == cause
    assert rig.state.mode in {Mode.ABORTING, Mode.ABORTED}


def test_a_run_counts_as_beginning_for_half_a_minute() -> None:
    rig = heating(profile=PATIENT).run(10)
    for _ in range(6):
        rig.step(bath=missing())
    assert [trip.cause for trip in rig.state.trips] == [Cause.BATH_PROBE_MISSING]


def test_once_a_run_has_begun_a_lost_probe_has_the_profile_s_wait_again() -> None:
    rig = heating(profile=PATIENT).run(30)
    for _ in range(29):
        rig.step(bath=missing())
    early = rig.state.trips
    for _ in range(3):
        rig.step(bath=missing())
    assert early == ()
    assert [trip.cause for trip in rig.state.trips] == [Cause.BATH_PROBE_MISSING]


def test_what_only_withholds_heat_ends_no_run_at_its_start_either() -> None:
    rig = Rig(profile=PATIENT).start()
    rig.step(ahead_s=9.0)  # the computer was asleep
    rig.run(20)
    assert rig.state.withheld == (Cause.CLOCKS_DISAGREE,)
    assert rig.state.trips == ()


@pytest.mark.parametrize(
    ("fault", "cause", "within_s"),
    [
        ("probes-swapped", Cause.PROBES_CROSSED, 90.0),
        ("bath-probe-slow", Cause.BATH_PROBES_DISAGREE, 300.0),
        ("bath-probe-offset", Cause.PROBES_APART_COLD, 3.0),
        ("bath-probe-open", Cause.BATH_PROBE_MISSING, 10.0),
        ("level-lost", Cause.LEVEL_LOST, 10.0),
    ],
)
@pytest.mark.parametrize("machine_name", ["brisk", "reference"])
def test_the_first_heat_proves_places_and_contact_of_the_thermometers(
    machine_name: str, fault: str, cause: Cause, within_s: float
) -> None:
    outcome = run_trial(Trial(profile="dark", machine=machine_name, faults=(fault,)))

    assert outcome.exit is Exit.TRIPPED
    assert outcome.trips[0].cause == cause
    assert outcome.trips[0].at_s <= within_s
    assert outcome.bath_max_c < 35.0
