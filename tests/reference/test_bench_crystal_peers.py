"""Each crystal law against a second writing of its equations, all over its domain.

Responsible for the law doing what its equations say; not for whether they are right.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.bench.laws import LAWS
from tests.helpers.crystal_peers import PEERS

# Each end, each corner of a table and each branch lies on a half kelvin: drawn often.
temperatures = st.one_of(
    st.floats(-5.0, 105.0), st.floats(15.0, 37.0), st.integers(20, 80).map(lambda half: half / 2.0)
)
fractions = st.one_of(st.just(0.0), st.floats(1e-9, 0.05), st.floats(0.0, 0.45))
memories = st.one_of(st.sampled_from([0.0, 1.0]), st.floats(0.0, 1.0))
shears = st.one_of(st.just(0.0), st.floats(0.1, 60.0))


@pytest.mark.parametrize("name", sorted(LAWS))
@settings(max_examples=600, deadline=None)
@given(
    temp_c=temperatures,
    state=st.tuples(fractions, fractions, memories),
    per_s=shears,
    shift_k=st.sampled_from([0.0, 1.5, 2.5]),
)
def test_a_law_is_its_equations(
    name: str, temp_c: float, state: tuple[float, float, float], per_s: float, shift_k: float
) -> None:
    law = LAWS[name](shift_k)
    ours = law.rates(temp_c, *state, law.shear(per_s))
    theirs = PEERS[name].rates(temp_c, *state, per_s, shift_k)
    assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-15)
    assert law.solid(temp_c) == pytest.approx(PEERS[name].solid(temp_c, shift_k), abs=1e-12)


def test_every_law_has_its_second_opinion() -> None:
    assert set(PEERS) == set(LAWS)
