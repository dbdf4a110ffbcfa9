"""How long answers take: the law, its sums, and what an open question still takes."""

import math

import pytest
from numpy import append, arange, cumsum, diff, searchsorted
from numpy.fft import irfft, rfft
from scipy.stats import lognorm

from controller.core.waits import WAIT_P90_S, WAIT_S, WAIT_SPREAD, wait_of

STEP_S = 0.5
LONGEST_S = 40_000.0


@pytest.mark.parametrize("count", range(1, 9))
def test_so_many_answers_take_what_the_convolution_of_one_says(count: int) -> None:
    at_s = arange(0.0, LONGEST_S, STEP_S)
    shares = diff(lognorm(WAIT_SPREAD, scale=WAIT_S).cdf(append(at_s, LONGEST_S)))
    several = irfft(rfft(shares / shares.sum(), 2 * len(shares)) ** count)[: len(shares)]
    summed = cumsum(several)
    found = [
        float(at_s[searchsorted(summed, part)]) + 0.5 * (count + 1) * STEP_S
        for part in (0.1, 0.5, 0.9)
    ]
    assert wait_of(count) == pytest.approx(found, abs=0.6 + 0.002 * found[1])


def test_half_come_within_a_minute_and_nine_in_ten_within_five() -> None:
    assert wait_of(1).likely_s == WAIT_S == 60.0
    assert wait_of(1).late_s == WAIT_P90_S == 300.0
    assert wait_of(0) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("open_for_s", [1.0, 60.0, 300.0, 3000.0])
def test_who_has_not_come_yet_takes_as_long_as_the_rest_of_those_who_had_not(
    open_for_s: float,
) -> None:
    # By the survival function of another library.
    law = lognorm(WAIT_SPREAD, scale=WAIT_S)
    left = [law.isf(law.sf(open_for_s) * (1.0 - part)) - open_for_s for part in (0.1, 0.5, 0.9)]
    assert wait_of(1, open_for_s) == pytest.approx(left, rel=1e-6)


def test_who_has_not_come_for_hours_is_not_reckoned_with() -> None:
    assert all(math.isfinite(at_s) and at_s >= 0.0 for at_s in wait_of(1, 1e9))


def test_more_answers_take_longer_at_every_end_and_a_long_list_goes_on_so() -> None:
    before = wait_of(0)
    for count in range(1, 30):
        after = wait_of(count)
        assert all(more > less for more, less in zip(after, before, strict=True))
        before = after


def test_an_open_question_before_others_adds_to_them() -> None:
    others, first, both = wait_of(2), wait_of(1, 120.0), wait_of(3, 120.0)
    assert both.likely_s == pytest.approx(others.likely_s + first.likely_s)
    assert both.late_s < others.late_s + first.late_s  # not both are as late as that
    assert both.late_s > max(others.late_s, first.late_s)
