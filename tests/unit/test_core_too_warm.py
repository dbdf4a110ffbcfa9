"""A bowl that gets warmer than its phase wants it: told, and heated no more."""

import math
from typing import Any

import pytest

from controller.core.batches import TemperState
from controller.core.consistency import Consistency, Look
from controller.core.evidence import Memory, ProbeMemory
from controller.core.interlock_rows import Cause
from controller.core.signals import Reading, Verb
from controller.core.state import Mode, Progress, Watch
from controller.core.surveillance import survey
from tests.helpers.scene import Rig, asks, machine, phase, profile, readings, state

NAN = math.nan
HELD_C = 32.0


def is_withheld(bowl_c: float, pause_at_c: float = HELD_C, **changes: Any) -> bool:  # noqa: ANN401 - any field of a state
    """Whether heat is withheld for it, of a bowl that is to be held at 32 °C."""
    hold = phase("hold", bowl_target_c=HELD_C, pause_at_c=pause_at_c)
    given = {"bowl_c": bowl_c, "progress": Progress(start_bowl_c=HELD_C)}
    now = state(**{**given, "watch": memory_of(bowl_c), **changes})
    seen = survey(now, profile(hold), machine(), readings(33.0, bowl_c), 1.0)
    return Cause.BOWL_TOO_WARM in seen.withheld


def memory_of(bowl_c: float, looks: tuple[Look, ...] = ()) -> Watch:
    """Good thermometers, the bowl's at this value, and what was seen in the last minute."""
    bath, bowl = ProbeMemory(value_c=33.0), ProbeMemory(value_c=bowl_c)
    seen = Consistency(looks=looks, due_s=math.inf)
    return Watch(memory=Memory(bath=bath, bowl=bowl, seen=seen))


def withheld_from_c(**changes: Any) -> float:  # noqa: ANN401 - any field of a state
    """The coolest bowl, in steps of 0.05 K, for which it is."""
    tried = [31.025 + 0.05 * step for step in range(80)]
    return min((one for one in tried if is_withheld(one, **changes)), default=math.inf)


@pytest.mark.parametrize(
    ("changes", "from_c"),
    [
        ({}, 32.75),
        ({"temper": TemperState(warmed_k=0.5)}, 33.25),  # thick, and so held warmer
        ({"pause_at_c": 33.0}, 33.75),  # it may come out of a pause
        ({"pause_at_c": 31.0}, 32.75),
        ({"mode": Mode.PAUSED}, 32.75),
        ({"mode": Mode.COMPLETE}, math.inf),
    ],
)
def test_no_heat_for_a_bowl_three_quarters_of_a_kelvin_over_all_that_is_wanted(
    changes: dict[str, Any], from_c: float
) -> None:
    assert withheld_from_c(**changes) == pytest.approx(from_c, abs=0.05)


@pytest.mark.parametrize(
    ("start_bowl_c", "reached", "is_judged"),
    [
        (48.0, False, False),  # it comes down, and full heat may have to catch it
        (48.0, True, True),
        (32.1, False, False),
        (32.0, False, True),
        (20.0, False, True),
        (NAN, False, False),
        (NAN, True, True),
    ],
)
def test_a_bowl_is_judged_once_it_was_no_warmer_than_wanted(
    start_bowl_c: float, *, reached: bool, is_judged: bool
) -> None:
    progress = Progress(start_bowl_c=start_bowl_c, reached=reached)
    assert is_withheld(33.0, progress=progress) is is_judged


@pytest.mark.parametrize(
    ("then_c", "ago_s", "bowl_c", "withheld"),
    [
        (33.8, 60.0, 33.5, True),  # in two minutes at 32.9 °C
        (34.0, 60.0, 33.4, False),
        (33.9, 30.0, 33.4, False),
        (33.3, 60.0, 33.4, True),  # it rises
        (33.4, 60.0, 33.4, True),
        (33.4, 60.0, 32.7, False),
        (32.0, 60.0, 32.7, False),
    ],
)
def test_a_bowl_that_falls_so_fast_that_heat_has_to_catch_it_may_be_heated(
    then_c: float, ago_s: float, bowl_c: float, *, withheld: bool
) -> None:
    look = (100.0 - ago_s, 33.0, then_c, 0.0)
    assert is_withheld(bowl_c, watch=memory_of(bowl_c, (look,))) is withheld


def test_a_bowl_of_which_nothing_is_read_is_for_other_rows() -> None:
    assert not is_withheld(NAN)


def test_heat_comes_back_with_a_bowl_that_has_come_down() -> None:
    hold = phase("hold", bowl_target_c=HELD_C, pause_at_c=HELD_C, dwell_s=9e9)
    rig = Rig(machine=machine(), profile=profile(hold), bath_c=31.0, bowl_c=31.5)
    rig.step(asks(Verb.START))
    for bowl_c, withheld in ((31.5, ()), (32.8, (Cause.BOWL_TOO_WARM,)), (32.7, ())):
        rig.step(bowl=Reading(bowl_c))
        assert rig.state.withheld == withheld
    assert rig.causes == []
