"""Cold water that somebody was asked for: its fall is believed at once, for a minute."""

import pytest

from controller.core.interlocks import Cause
from controller.core.profile import Action
from tests.helpers.scene import answers, heating, phase, profile, question


@pytest.mark.parametrize("is_told", [True, False])
def test_cold_water_that_was_asked_for_withholds_no_heat_as_a_jump(is_told: bool) -> None:
    action = Action.SWAP_WATER if is_told else Action.NONE
    ask = question(action=action, share=0.5, water_c=15.0)
    rig = heating(profile=profile(phase(dwell_s=9e9, questions=(ask,))), bath_c=38.0)
    falls = []
    for after_s in (0, 10, 60):  # while it is asked, within a minute of the answer, and later
        rig.run(after_s)
        rig.bath_c -= 5.0
        rig.step()
        falls.append(Cause.BATH_PROBE_JUMPING in rig.state.withheld)
        rig.run(3)
        if after_s == 0:
            rig.step(answers("done"))
    assert falls == [not is_told, not is_told, True]
