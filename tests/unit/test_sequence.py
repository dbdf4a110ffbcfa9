"""The order of a tick's steps, before a watchdog is fed."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.sequence import ORDER, Step, TickOrder


def ticked(steps: list[Step] | tuple[Step, ...]) -> TickOrder:
    """A tick that went through `steps`."""
    order = TickOrder()
    order.begin()
    for step in steps:
        order.mark(step)
    return order


def test_a_tick_through_all_steps_in_order_is_complete() -> None:
    assert ticked(ORDER).complete


def test_nothing_is_complete_before_a_tick_has_begun() -> None:
    order = TickOrder()
    for step in ORDER:
        order.mark(step)
    assert not order.complete


@pytest.mark.parametrize("left_out", ORDER)
def test_a_tick_that_leaves_a_step_out_is_not_complete(left_out: Step) -> None:
    assert not ticked([step for step in ORDER if step is not left_out]).complete


@pytest.mark.parametrize("repeated", ORDER)
def test_a_tick_that_repeats_a_step_is_not_complete(repeated: Step) -> None:
    twice = itertools.chain.from_iterable([s, s] if s is repeated else [s] for s in ORDER)
    assert not ticked(tuple(twice)).complete
    assert not ticked((*ORDER, repeated)).complete


@given(steps=st.permutations(ORDER))
def test_only_the_one_order_is_complete(steps: list[Step]) -> None:
    assert ticked(steps).complete is (tuple(steps) == ORDER)


def test_an_unknown_step_spoils_the_tick() -> None:
    order = ticked([])
    order.mark("guess")
    for step in ORDER[1:]:
        order.mark(step)
    assert not order.complete


@pytest.mark.parametrize("step", ORDER)
def test_a_tick_under_way_is_good_through_its_last_step_only(step: Step) -> None:
    so_far = ORDER[: ORDER.index(step) + 1]
    assert [s for s in ORDER if ticked(so_far).is_good_through(s)] == [step]
    assert not ticked((Step.RECORD, *so_far)).is_good_through(step)


def test_a_spoilt_tick_does_not_spoil_the_next() -> None:
    order = ticked((Step.DRIVE,))
    order.begin()
    for step in ORDER:
        order.mark(step)
    assert order.complete


def test_a_complete_tick_does_not_vouch_for_the_next() -> None:
    order = ticked(ORDER)
    order.begin()
    assert not order.complete
