"""How fast the bowl changes, from the ticks that the link saw."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.link.slope import LEAST_S, WINDOW_S, Slope
from tests.helpers.moments import moment, state


def seen(slope: Slope, run_s: float, bowl_c: float) -> float:
    return slope.k_per_min(moment(state(run_s=run_s, bowl_c=bowl_c)))


@settings(deadline=None, max_examples=30)  # a busy computer is no fault
@given(st.floats(-5.0, 5.0), st.floats(20.0, 50.0), st.sampled_from([0.25, 1.0, 2.0, 7.0]))
def test_a_straight_line_is_found_after_half_a_minute(
    k_per_min: float, from_c: float, period_s: float
) -> None:
    slope, run_s = Slope(), 0.0
    while run_s < 2 * WINDOW_S:
        found = seen(slope, run_s, from_c + k_per_min * run_s / 60.0)
        if run_s >= LEAST_S + period_s:
            assert found == pytest.approx(k_per_min, abs=1e-6)
        elif run_s < LEAST_S:
            assert math.isnan(found)
        run_s += period_s


def test_what_lies_longer_back_than_a_minute_counts_no_more() -> None:
    slope = Slope()
    for second in range(60):
        seen(slope, float(second), float(second))
    rates = [seen(slope, 60.0 + second, 60.0) for second in range(70)]
    assert rates[-1] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("run_s", "bowl_c"), [(101.0, math.nan), (50.0, 30.0)])
def test_after_a_bad_reading_or_a_step_back_it_begins_anew(run_s: float, bowl_c: float) -> None:
    slope = Slope()
    for second in range(101):
        assert not seen(slope, float(second), 30.0) > 0.0
    assert math.isnan(seen(slope, run_s, bowl_c))
    assert math.isnan(seen(slope, 102.0, 30.0))


def test_memory_is_bounded_however_fast_the_ticks_are() -> None:
    slope = Slope()
    for tick in range(10_000):
        seen(slope, tick / 1000.0, 30.0)
    assert len(slope._seen) <= 11  # noqa: SLF001 - what is kept is the question
