"""A held bowl under a quiet thermometer, and under a frozen one; a rig of one lump each."""

import pytest

from controller.core.evidence import ProbeMemory
from controller.core.interlocks import Cause
from controller.core.nudging import nudged_c
from controller.core.signals import Reading
from tests.helpers.scene import Rig, phase, profile

HELD_C = 40.0  # the middle of a step of the thermometer
HOUR_S = 3600


def held() -> Rig:
    """A bowl that is held, its bath as warm, and no noise in either thermometer."""
    endless = phase("hold", bowl_target_c=HELD_C, stir_from_c=28.0, dwell_s=9e9)
    return Rig(profile=profile(endless), bath_c=HELD_C, bowl_c=HELD_C).start()


@pytest.mark.parametrize(
    ("unchanged_s", "asked_c"), [(450.0, 32.0), (450.1, 32.1), (690.0, 32.1), (690.1, 32.0)]
)
def test_only_a_value_that_has_stood_long_is_asked_to_move(
    unchanged_s: float, asked_c: float
) -> None:
    bowl = ProbeMemory(unchanged_s=unchanged_s)
    assert nudged_c(32.0, bowl) == pytest.approx(asked_c)


def test_a_thermometer_that_froze_below_its_target_never_keeps_the_bath_at_its_ceiling() -> None:
    endless = phase("hold", bowl_target_c=HELD_C, bath_ceiling_c=HELD_C + 1.5, dwell_s=9e9)
    rig = Rig(profile=profile(endless), bath_c=HELD_C, bowl_c=HELD_C).start()
    baths_c: list[float] = []
    while not rig.causes:
        rig.step(bowl=Reading(HELD_C - 0.4))
        baths_c.append(rig.bath_c)
    assert rig.causes == [Cause.BOWL_PROBE_FROZEN]
    assert max(baths_c[:300]) > HELD_C + 1.4
    assert max(baths_c[500:]) < HELD_C + 1.3


def test_a_bowl_held_to_perfection_under_a_quiet_thermometer_is_not_called_frozen() -> None:
    rig, longest_s, most_c = held(), 0.0, 0.0
    for _ in range(3 * HOUR_S):
        rig.step()
        longest_s = max(longest_s, rig.state.watch.memory.bowl.unchanged_s)
        most_c = max(most_c, rig.bowl_c)
    assert rig.causes == []
    assert 450.0 < longest_s < 800.0
    assert most_c < HELD_C + 0.2


def test_a_bowl_thermometer_that_is_frozen_in_hold_still_trips_and_little_is_added() -> None:
    rig = held()
    frozen = rig.readings().bowl
    for _ in range(HOUR_S):
        rig.step(bowl=frozen)
        if rig.causes:
            break
    assert rig.causes == [Cause.BOWL_PROBE_FROZEN]
    assert rig.bowl_c < HELD_C + 1.1  # of which 0.4 K is the nudge
