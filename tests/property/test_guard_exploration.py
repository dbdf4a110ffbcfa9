"""Every state of the guard with small counters; `tests/proofs/explore_guard.py` has larger ones."""

from controller.guard.decision import Cause
from tests.helpers.guard_exploration import SHORT, explore

FEWEST_STATES = 1_000  # so that a change that stops the walk early is seen


def test_no_state_of_the_guard_breaks_an_invariant_and_none_is_without_a_way_back() -> None:
    found = explore(SHORT)
    assert found.breaches == []
    assert found.dead == 0
    assert found.whole
    assert found.states >= FEWEST_STATES
    assert found.with_heat > 0
    assert all(found.by_cause[cause] for cause in Cause)
