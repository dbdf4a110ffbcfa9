"""A batch that sets while its thermometers agree well enough: somebody is told before it has set.

Responsible for whole runs on the bench; not for the row's evidence (test_core_setting).
"""

import pytest

from controller.core.interlocks import Cause
from tests.helpers.truth import found_of

TIME_TO_ACT_S = 600.0


# Nothing else told it in time: what the thermometers show might be true. In a room hardly colder
# than the bath its thermometer shows in the air what it has, too.
def test_a_batch_that_sets_is_told_while_it_can_still_be_dipped() -> None:
    found = found_of("drawn-631-2202", (), "bath-probe-out@cool+290s")
    # The trip, which its guard's thermometer brings, spares it the harm.
    too_late_s = found.harm_s if found.harm == "set" else found.trip_s
    assert found.said[Cause.BATCH_SETTING] <= too_late_s - TIME_TO_ACT_S


# Above its low point the run waited for the bowl with heat off, where a quarter of an hour of heat
# never came together: the first batch had set before anybody was told of anything.
@pytest.mark.parametrize(
    ("machine", "fitted", "fault"),
    [
        ("drawn-942-612", ("current", "second-switch", "shaft"), "bowl-probe-frozen@cool+488s"),
        ("drawn-942-174", ("current", "level", "shaft"), "bowl-probe-frozen@cool+392s"),
        ("drawn-4711-9", ("level", "load", "second-switch"), "bowl-probe-frozen@cool+391s"),
    ],
)
def test_a_thermometer_that_freezes_in_a_bowl_that_nothing_heats_ends_the_run(
    machine: str, fitted: tuple[str, ...], fault: str
) -> None:
    found = found_of(machine, fitted, fault)
    assert found.cause == Cause.BOWL_PROBE_FROZEN
    assert found.harm == ""
