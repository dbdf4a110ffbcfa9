"""What holds of estimator and regulator whatever the probes say and whoever does what."""

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.core.by_bath import regulate_by_bath
from controller.core.estimate import Belief, Prior, Row
from controller.core.estimator import follow, stir
from controller.core.hands import answered
from controller.core.machine import Machine
from controller.core.profile import Action, Kind
from controller.core.regulator import regulate
from controller.core.sizing import estimate_of
from controller.core.stand_in import stand_in_c, without_bowl
from controller.core.state import State
from controller.core.thermal import (
    APART,
    APART_MAX_K,
    BATH,
    BATH_P,
    BOWL,
    BOWL_P,
    DRIFT,
    DRIFT_MAX_W,
    LN_B,
    LN_H,
    LN_K,
    LN_P,
    LN_R,
    LOSS,
    LOSS_MIN,
    NEAR,
    SD,
    SIZE,
    TEMP_MAX_C,
    TEMP_MIN_C,
    WITHIN_SD,
    Q,
    begin,
    clamped,
    prior_of,
)
from tests.helpers.records import replace
from tests.helpers.scene import machine, question

ALL = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
CEILING_C = 56.0
NAN = math.nan
# What a judged reading may be (thresholds: -5 to 84.9 °C with its offset), and worse.
temps = st.one_of(
    st.floats(15.0, 60.0),
    st.floats(15.0, 60.0),
    st.sampled_from([NAN, NAN, -5.0, 0.0, 84.9, 100.0, 1e6, -1e6, math.inf, -math.inf]),
)
deeds = st.sampled_from(
    [None] * 8
    + [
        question(action=Action.SWAP_WATER, share=0.9, water_c=10.0),
        question(action=Action.SWAP_WATER, share=1.0, water_c=None),
        question(action=Action.ADD_SEED, share=0.25),
        question(action=Action.SET_TEST),
    ]
)
spans = st.tuples(
    temps,
    temps,
    st.booleans(),  # heater
    st.booleans(),  # stirrer
    st.sampled_from([0.25, 1.0, 1.0, 1.0, 3.0, 10.0]),
    st.integers(1, 15),
    deeds,
)
lives = st.lists(spans, min_size=1, max_size=10)
machines = st.builds(
    lambda kg, water, watt, room: machine(batch_kg=kg, water_kg=water, heater_w=watt, room_c=room),
    st.floats(0.1, 10.0),
    st.floats(0.3, 20.0),
    st.floats(50.0, 3000.0),
    st.floats(5.0, 35.0),
)
kinds = st.sampled_from(list(Kind))
Life = list[tuple[float, float, bool, bool, float, int, object]]


def within_bounds(mean: Row, prior: Prior) -> None:
    """No number of the estimate is what no machine can be."""
    assert all(map(math.isfinite, mean))
    assert 0.0 <= mean[Q] <= 1.0
    assert abs(mean[LN_K] - prior.mean[0]) <= 3.0 + 1e-9
    assert mean[LOSS] > 0.0
    for index in (LN_P, LN_R, LN_H, LN_B, LOSS):
        middle, reach = prior.mean[index - LN_K], WITHIN_SD * SD[index]
        least = max(middle - reach, LOSS_MIN) if index == LOSS else middle - reach
        assert least - 1e-9 <= mean[index] <= middle + reach + 1e-9
    assert abs(mean[DRIFT]) * prior.bowl_j_per_k <= DRIFT_MAX_W + 1e-6
    assert 0.0 <= mean[NEAR] <= 0.9
    assert abs(mean[APART]) <= APART_MAX_K


def sound(belief: Belief) -> None:
    """Finite, within physical bounds, and a covariance that can be one."""
    mean = belief.mean
    within_bounds(mean, belief.prior)
    assert TEMP_MIN_C - 60.0 <= mean[BATH] <= TEMP_MAX_C + 60.0
    assert TEMP_MIN_C - 60.0 <= mean[BOWL] <= TEMP_MAX_C + 60.0
    assert 0.0 <= belief.solid <= 1.0
    for row in range(SIZE):
        assert belief.spread[row][row] > 0.0
        for column in range(row):
            one, other = belief.spread[row][column], belief.spread[column][row]
            most = math.sqrt(belief.spread[row][row] * belief.spread[column][column])
            assert math.isfinite(one)
            assert abs(one - other) <= 1e-6 * most


@ALL
@given(machines, kinds, st.lists(st.floats(-1e9, 1e9), min_size=SIZE, max_size=SIZE))
def test_whatever_the_filter_comes_to_is_held_to_what_a_machine_can_be(
    own: object, kind: Kind, mean: list[float]
) -> None:
    assert isinstance(own, Machine)
    prior = prior_of(own, kind, 1.0)
    held = clamped(mean, prior)
    within_bounds(held, prior)
    for index in (BATH, BOWL, BATH_P, BOWL_P):
        assert TEMP_MIN_C <= held[index] <= TEMP_MAX_C


@ALL
@given(machines, kinds, temps, temps, lives)
def test_no_readings_take_the_estimate_out_of_physical_bounds_or_the_duty_out_of_0_to_1(
    own: object, kind: Kind, first_c: float, second_c: float, life: Life
) -> None:
    start = [value if math.isfinite(value) else 20.0 for value in (first_c, second_c)]
    belief = begin(prior_of(own, kind, 1.0), *start)  # type: ignore[arg-type]  # hypothesis builds a Machine
    state = State()
    for bath_c, bowl_c, on, stirred, dt_s, times, deed in life:
        if deed is not None:
            belief = answered(belief, deed)  # type: ignore[arg-type]  # sampled from questions
        belief = stir(belief, is_stirred=stirred)
        for _ in range(times):
            belief = follow(belief, bath_c, bowl_c, was_on=on, dt_s=dt_s)
            state = replace(state, bath_c=bath_c, bowl_c=bowl_c)
            regulation = regulate(
                state,
                belief,
                setpoint_c=31.5,
                ceiling_c=CEILING_C,
                machine=own,  # type: ignore[arg-type]  # the same
                dt_s=dt_s,
            )
            assert 0.0 <= regulation.duty <= 1.0
            assert regulation.bath_setpoint_c <= CEILING_C
            assert bath_c < CEILING_C or regulation.duty == 0.0
            state = replace(state, regulation=regulation)
        sound(belief)
        told = estimate_of(belief)
        numbers = [getattr(told, name) for name in told.__struct_fields__]
        assert all(map(math.isfinite, numbers))


@ALL
@given(machines, kinds, lives)
def test_neither_does_a_bath_alone_nor_what_stands_in_for_the_bowl(
    own: object, kind: Kind, life: Life
) -> None:
    assert isinstance(own, Machine)
    given_ = replace(own, has_bowl=False)
    belief = begin(prior_of(given_, kind, 1.0), 20.0, 20.0)
    state = State(belief=belief)
    for bath_c, _, on, stirred, dt_s, times, _ in life:
        belief = stir(belief, is_stirred=stirred)
        for _ in range(times):
            belief = without_bowl(follow(belief, bath_c, NAN, was_on=on, dt_s=dt_s))
            state = replace(state, belief=belief, bath_c=bath_c)
            state = replace(state, stand_in_c=stand_in_c(state, given_, None, dt_s))
            assert TEMP_MIN_C - 60.0 <= state.stand_in_c <= TEMP_MAX_C + 60.0
            regulation = regulate_by_bath(
                state, belief, setpoint_c=31.5, ceiling_c=CEILING_C, machine=given_, dt_s=dt_s
            )
            assert 0.0 <= regulation.duty <= 1.0
            assert regulation.bath_setpoint_c <= CEILING_C
        sound(belief)
