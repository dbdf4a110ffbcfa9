"""When the link keeps still for the control loop: around each tick, and never for long."""

import pytest

from controller.link.courtesy import AFTER_S, BEFORE_S, Courtesy

PERIOD_S = 1.0


def told(*ticks_s: float) -> Courtesy:
    made = Courtesy(PERIOD_S)
    for now_s in ticks_s:
        made.told(now_s)
    return made


def test_before_the_first_tick_nothing_is_due() -> None:
    assert told().wait_s(5.0) == 0.0


@pytest.mark.parametrize(
    ("now_s", "wait_s"),
    [
        (10.5, 0.0),
        (11.0 - BEFORE_S - 0.01, 0.0),
        (11.0 - BEFORE_S + 0.01, BEFORE_S - 0.01 + AFTER_S),
        (11.0 + 0.01, AFTER_S - 0.01),
        (11.0 + AFTER_S + 0.01, 0.0),  # it does not come: nobody waits for it any longer
        (12.0 - BEFORE_S + 0.01, BEFORE_S - 0.01 + AFTER_S),
    ],
)
def test_it_keeps_still_from_a_little_before_a_tick_is_due(now_s: float, wait_s: float) -> None:
    assert told(8.0, 9.0, 10.0).wait_s(now_s) == pytest.approx(wait_s)


def test_when_the_tick_has_come_it_goes_on() -> None:
    assert told(9.0, 10.0, 11.002).wait_s(11.004) == 0.0


def test_late_ticks_do_not_shift_when_the_next_is_due() -> None:
    late = told(9.0, 10.0, 11.3, 12.25)
    assert late.wait_s(12.99) > 0.0


def test_a_first_tick_that_came_late_is_corrected_by_the_next() -> None:
    assert told(9.2, 10.0).wait_s(10.99) > 0.0


def test_one_that_was_taken_for_early_is_forgotten_in_time() -> None:
    many = told(9.0, 10.6, *(float(tick) for tick in range(11, 620)))
    assert many.wait_s(619.99) > 0.0
    assert many.wait_s(619.6) == 0.0


def test_ticks_in_simulated_time_make_nobody_wait() -> None:
    fast = Courtesy(PERIOD_S)
    for number in range(3000):
        fast.told(number / 1000)
        assert fast.wait_s(number / 1000 + 0.0005) == 0.0
