"""The schedule of the loop: never a burst, never a drift, whatever wakes when."""

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.clock import VirtualClock
from controller.daemon import next_due

PERIODS_S = st.sampled_from([0.1, 0.25, 0.3, 0.5, 0.7, 1.0])
ALL = settings(deadline=None, derandomize=True, max_examples=150)


@ALL
@given(st.floats(0.0, 1e6), st.floats(-5.0, 5000.0), PERIODS_S)
def test_the_next_moment_is_after_now_within_a_period_and_on_the_schedule(
    due_s: float, late_s: float, period_s: float
) -> None:
    now_s = due_s + late_s
    after = next_due(due_s, now_s, period_s)
    if now_s < due_s:
        assert after == due_s
        return
    slack_s = 1e-9 * max(1.0, now_s)  # rounding of seconds since boot
    assert now_s - slack_s < after <= now_s + period_s + slack_s
    periods = (after - due_s) / period_s
    assert math.isclose(periods, round(periods), abs_tol=1e-6, rel_tol=1e-9)
    assert round(periods) >= 1


@ALL
@given(st.lists(st.floats(0.0, 7.0), max_size=40), PERIODS_S)
def test_a_late_tick_is_never_followed_by_a_burst(delays_s: list[float], period_s: float) -> None:
    due_s = now_s = 0.0
    ran_s = []
    for delay_s in delays_s:
        now_s = max(now_s, due_s) + delay_s
        ran_s.append(now_s)
        due_s = next_due(due_s, now_s, period_s)
    # Ticks on the schedule: in any span there are at most as many as moments of it, and one more.
    for first, last in zip(ran_s, ran_s[5:], strict=False):
        assert last - first > 4 * period_s - 1e-6


@ALL
@given(PERIODS_S, st.integers(1, 400))
def test_in_virtual_time_every_step_is_one_period(period_s: float, ticks: int) -> None:
    clock = VirtualClock()
    due_s, last_s = 0.0, -period_s
    for _ in range(ticks):
        clock.wait_until(due_s)
        now_s = clock.now_s()
        assert math.isclose(now_s - last_s, period_s, abs_tol=1e-9)
        last_s, due_s = now_s, next_due(due_s, now_s, period_s)
