"""Three days of hold: nothing drifts, nothing winds up, nothing wears out."""

import math
from statistics import fmean

from controller.core.thermal import SIZE
from tests.helpers.lumped import Loop, Lumped

DAY_S = 86_400.0
SWING_S = 21_600.0
TICK_S = 4.0  # a slow period: three days in seconds of a test


def test_seventy_two_hours_of_hold_do_not_drift() -> None:
    plant = Lumped(bath_c=31.9, bowl_c=31.5, bath_reads_k=-0.2)
    loop = Loop(plant=plant, dt_s=TICK_S)
    loop.run(31.5, 1800)
    days = []
    for day in range(3):
        over_k: list[float] = []
        for tick in range(round(DAY_S / TICK_S)):
            plant.room_c = 20.0 + math.sin(2.0 * math.pi * tick * TICK_S / SWING_S)
            over_k.append(loop.step(31.5))
        days.append(over_k)
        belief = loop.belief
        assert all(map(math.isfinite, belief.mean)), day
        assert all(belief.spread[index][index] > 0.0 for index in range(SIZE))
        assert abs(loop.state.regulation.trim_k) <= 0.2
    assert max(max(map(abs, day)) for day in days) <= 0.06
    means = [fmean(day) for day in days]
    assert max(map(abs, means)) <= 0.01
    assert abs(means[2] - means[0]) <= 0.003
