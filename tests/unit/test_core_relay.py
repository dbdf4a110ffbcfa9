"""Duty to relay: the average is kept, the minimum times are kept, a forced off is at once."""

from itertools import groupby

import pytest

from controller.core.relay import force_off, least_off_s, opened_to_look, shape
from controller.core.state import RelayMemory


def trace(
    duties: list[float],
    *,
    dt_s: float = 1.0,
    min_on_s: float = 2.0,
    min_off_s: float = 2.0,
    pulse_s: float = 0.0,
    memory: RelayMemory | None = None,
) -> list[bool]:
    """What the relay does, tick by tick."""
    memory = memory or RelayMemory()
    states = []
    for duty in duties:
        memory = shape(
            memory, duty, dt_s=dt_s, min_on_s=min_on_s, min_off_s=min_off_s, pulse_s=pulse_s
        )
        states.append(memory.on)
    return states


def runs(states: list[bool]) -> list[tuple[bool, int]]:
    """Stretches of on and off with their lengths, without the first and the unfinished last."""
    return [(on, len(list(group))) for on, group in groupby(states)][1:-1]


DUTIES = [0.01, 0.03, 0.06, 0.1, 0.25, 1 / 3, 0.5, 0.62, 0.75, 0.9, 0.97, 0.99]


@pytest.mark.parametrize("duty", DUTIES)
@pytest.mark.parametrize(("min_on_s", "min_off_s"), [(0.0, 0.0), (2.0, 2.0), (10.0, 5.0)])
def test_the_relay_averages_to_the_duty(duty: float, min_on_s: float, min_off_s: float) -> None:
    ticks = 20_000
    states = trace([duty] * ticks, min_on_s=min_on_s, min_off_s=min_off_s)
    # A switching step may be owed at the end, and one more was owed at the beginning.
    slack = 2 * max(min_on_s, min_off_s, 1.0)
    assert sum(states) == pytest.approx(duty * ticks, abs=slack)


@pytest.mark.parametrize("duty", DUTIES)
@pytest.mark.parametrize("dt_s", [0.25, 1.0])
def test_no_stretch_is_shorter_than_the_relay_may(duty: float, dt_s: float) -> None:
    states = trace([duty] * 8000, dt_s=dt_s, min_on_s=5.0, min_off_s=3.0)
    lengths = runs(states)
    assert lengths
    assert all(length * dt_s >= (5.0 if on else 3.0) for on, length in lengths)


def test_longer_pulses_switch_less_often_and_keep_the_average() -> None:
    shortest, longer = (trace([0.06] * 20_000, min_on_s=5.0, pulse_s=one) for one in (5.0, 10.0))
    assert sum(longer) == pytest.approx(sum(shortest), abs=15.0)
    assert len(runs(longer)) < 0.6 * len(runs(shortest))


def test_a_small_duty_gives_short_pulses_far_apart_and_no_dead_band() -> None:
    lengths = runs(trace([0.06] * 2000))
    assert {length for on, length in lengths if on} <= {2, 3}
    assert all(20 <= length <= 60 for on, length in lengths[1:] if not on)


@pytest.mark.parametrize("owed_s", [0.0, 0.9, 50.0])
def test_no_duty_is_no_heat_whatever_is_owed(owed_s: float) -> None:
    assert not any(trace([0.0] * 100, memory=RelayMemory(owed_s=owed_s)))


def test_a_duty_that_ends_opens_the_relay_once_its_minimum_time_is_over() -> None:
    states = trace([1.0, 0.0, 0.0, 0.0, 0.0, 0.0], min_on_s=3.0)
    assert states == [True, True, True, False, False, False]


@pytest.mark.parametrize("owed_s", [0.0, -2.0])
def test_full_duty_is_full_heat_at_once_and_for_ever(owed_s: float) -> None:
    assert all(trace([1.0] * 500, memory=RelayMemory(owed_s=owed_s)))


def test_full_duty_keeps_a_closed_relay_closed_whatever_was_overpaid() -> None:
    assert all(trace([1.0] * 50, memory=RelayMemory(on=True, held_s=99.0, owed_s=-4.0)))


def test_no_duty_opens_a_closed_relay_at_once_whatever_is_owed() -> None:
    assert trace([0.0], memory=RelayMemory(on=True, held_s=99.0, owed_s=4.0)) == [False]


def test_full_duty_waits_for_the_minimum_off_time() -> None:
    just_off = RelayMemory(on=False, held_s=0.0)
    assert trace([1.0] * 4, min_off_s=3.0, memory=just_off) == [False, False, True, True]


@pytest.mark.parametrize(("owed_s", "kept_s"), [(1e6, 4.0), (-1e6, -4.0)])
def test_old_debt_is_forgotten(owed_s: float, kept_s: float) -> None:
    memory = shape(
        RelayMemory(held_s=0.0, owed_s=owed_s), 0.5, dt_s=1.0, min_on_s=2.0, min_off_s=2.0
    )
    assert memory.owed_s == kept_s


def test_a_forced_off_breaks_the_minimum_time() -> None:
    memory = force_off(RelayMemory(on=True, held_s=0.0, owed_s=1.5), 1.0)
    assert memory == RelayMemory(on=False, held_s=0.0, owed_s=0.0)


def test_a_relay_forced_off_stays_off_for_its_minimum_time_and_owes_nothing() -> None:
    memory = force_off(RelayMemory(on=True, held_s=1.0, owed_s=2.0), 1.0)
    memory = force_off(memory, 1.0)
    assert memory == RelayMemory(on=False, held_s=1.0, owed_s=0.0)
    assert trace([1.0] * 4, min_off_s=4.0, memory=memory) == [False, False, True, True]


def looked_at(
    duty: float, ticks: int, period_s: float, min_off_s: float = 2.0
) -> list[RelayMemory]:
    """What the relay does where something sees whether it opens."""
    memory, states = RelayMemory(), []
    for _ in range(ticks):
        off_s = least_off_s(memory, min_off_s, period_s)
        after = shape(memory, duty, dt_s=period_s, min_on_s=2.0, min_off_s=off_s)
        memory = opened_to_look(memory, after, period_s)
        states.append(memory)
    return states


@pytest.mark.parametrize(
    ("period_s", "min_off_s", "open_s"),
    [(0.25, 2.0, 4.0), (1.0, 2.0, 4.0), (2.0, 2.0, 8.0), (1.0, 8.0, 4.0), (1.0, 60.0, 4.0)],
)
def test_full_heat_is_broken_off_to_see_that_the_switches_open(
    period_s: float, min_off_s: float, open_s: float
) -> None:
    states = looked_at(1.0, round(600.0 / period_s), period_s, min_off_s)
    lengths = [(on, count * period_s) for on, count in runs([state.on for state in states])]
    assert lengths[:4] == [(False, open_s), (True, 118.0)] * 2
    assert all(state.is_look is not state.on for state in states)


def test_what_opens_by_itself_often_enough_is_left_alone() -> None:
    states = looked_at(0.9, 2000, 1.0)
    assert [state.on for state in states] == trace([0.9] * 2000)
    assert not any(state.is_look for state in states)


def test_a_relay_that_opened_for_another_reason_stays_open_for_its_time() -> None:
    assert least_off_s(RelayMemory(), 60.0, 1.0) == 60.0
    assert least_off_s(RelayMemory(is_look=True), 2.0, 1.0) == 2.0
