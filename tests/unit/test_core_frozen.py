"""A thermometer that keeps to one value, tick by tick: how long it may before the run ends.

Responsible for what the rule makes of a bath and a bowl; not for its edges (test_core_interlocks).
"""

import pytest

from controller.core.signals import Reading
from tests.helpers.scene import STILL, Rig, phase, profile


def test_a_frozen_bath_probe_trips_while_the_bath_is_heated() -> None:
    rig = Rig(profile=STILL, bath_c=25.0, bowl_c=25.0).start()
    for _ in range(120):
        rig.step(bath=Reading(25.0))
    assert rig.causes[0] == "bath-probe-frozen"


def test_a_frozen_bowl_probe_trips_once_the_bath_must_have_moved_the_bowl() -> None:
    rig = Rig(profile=STILL, bath_c=25.0, bowl_c=25.0).start()
    seconds = 0
    while not rig.causes:
        rig.step(bowl=Reading(25.0))
        seconds += 1
        assert seconds < 900
    assert rig.causes == ["bowl-probe-frozen"]
    assert seconds > 120


def test_a_frozen_bowl_probe_trips_after_a_quarter_of_an_hour_beside_an_equal_bath() -> None:
    rig = Rig(profile=STILL, bath_c=25.0, bowl_c=25.0, is_live=False).start()
    for _ in range(899):
        rig.step(bowl=Reading(25.0))
    assert "bowl-probe-frozen" not in rig.causes
    for _ in range(10):
        rig.step(bowl=Reading(25.0))
    assert "bowl-probe-frozen" in rig.causes


@pytest.mark.parametrize(("apart_k", "is_told"), [(0.6, True), (-0.6, True), (0.4, False)])
def test_a_frozen_bowl_probe_trips_after_as_long_apart_from_a_bath_that_is_not_heated(
    apart_k: float, is_told: bool
) -> None:
    # The bath stands over what it is asked for, so that nothing heats it.
    cooling = profile(phase("cool", bowl_target_c=20.0, bath_ceiling_c=24.0))
    rig = Rig(profile=cooling, bath_c=25.0 + apart_k, bowl_c=25.0, is_live=False).start()
    for _ in range(899):
        rig.step(bowl=Reading(25.0))
    assert rig.causes == []
    for _ in range(10):
        rig.step(bowl=Reading(25.0))
    assert rig.causes == (["bowl-probe-frozen"] if is_told else [])
    assert rig.state.heat_j == 0.0
