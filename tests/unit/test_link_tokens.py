"""The token of requests: once, soon, and whatever clocks do."""

import math
from collections.abc import Callable
from itertools import count

import pytest

from controller.link.tokens import LIFE_S, Tokens


def numbered() -> Callable[[], str]:
    numbers = count(1)
    return lambda: f"t{next(numbers)}"


def test_a_token_is_shown_for_its_life_and_counts_for_another() -> None:
    tokens = Tokens(100.0, numbered())
    assert tokens.shown(100.0 + LIFE_S - 0.1) == "t1"
    assert tokens.shown(100.0 + LIFE_S) == "t2"
    assert tokens.fits("t1", 100.0 + 2 * LIFE_S - 0.1)
    assert not tokens.fits("t1", 100.0 + 2 * LIFE_S)
    assert tokens.fits("t2", 100.0 + 2 * LIFE_S)


def test_a_token_nobody_looked_at_for_long_does_not_count() -> None:
    tokens = Tokens(100.0, numbered())
    assert not tokens.fits("t1", 100.0 + 2 * LIFE_S)


def test_a_spent_token_and_the_one_before_it_count_no_more() -> None:
    tokens = Tokens(0.0, numbered())
    tokens.shown(LIFE_S)
    tokens.spend(LIFE_S + 1.0)
    assert [tokens.fits(token, LIFE_S + 1.0) for token in ("t1", "t2", "t3")] == [
        False,
        False,
        True,
    ]


@pytest.mark.parametrize("token", ["", "t0", "T1", "t1 ", "t1\n"])
def test_nothing_else_counts(token: str) -> None:
    assert not Tokens(0.0, numbered()).fits(token, 0.0)


@pytest.mark.parametrize("now_s", [-1.0, -1e9, math.nan, math.inf])
def test_a_clock_that_fails_lets_no_old_token_count(now_s: float) -> None:
    tokens = Tokens(0.0, numbered())
    assert not tokens.fits("t1", now_s)


def test_tokens_can_not_be_guessed() -> None:
    made = {Tokens(0.0).shown(0.0) for _ in range(100)}
    assert len(made) == 100
    assert {len(token) for token in made} == {32}
