"""What holds of a swap's amount and of catching the bowl, whatever is believed of a machine."""

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.core.asking import Cooling
from controller.core.catching import must_catch, trough_sd_k
from controller.core.descent import Lumps, after, arrival_s, caught_after_s, lumps_of, trough_c
from controller.core.estimator import stir
from controller.core.profile import Action, Kind
from controller.core.state import Progress
from controller.core.swap import MOST_SHARE, Water, best_way, swapped, worse
from controller.core.thermal import SD, SIZE, begin, clamped, prior_of
from tests.helpers.records import replace
from tests.helpers.scene import DONE, machine, phase, question

ALL = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
TARGET_C, HIGH_C, LEAST_C = 28.0, 28.28, 27.85
ONE_TENTH_KG = 0.1
lumps = st.builds(
    Lumps,
    bath_c=st.floats(0.0, 70.0),
    bowl_c=st.floats(15.0, 60.0),
    k_per_s=st.floats(1e-6, 0.02),
    kr_per_s=st.floats(1e-5, 0.1),
    p_k_per_s=st.floats(1e-4, 0.5),
    lag_s=st.floats(5.0, 60.0),
    element_share=st.floats(0.0, 1.0),
    loss_per_s=st.floats(0.0, 5e-3),
    bowl_loss_k_per_s=st.floats(-0.05, 0.05),
    room_c=st.floats(5.0, 35.0),
    target_c=st.just(TARGET_C),
    apart_k=st.floats(-1.5, 1.5),
)
waters = st.builds(
    Water,
    heat_share=st.floats(0.3, 1.0),
    water_c=st.floats(0.0, 27.0),
    p_share_sd=st.floats(0.0, 0.3),
    k_share_sd=st.floats(0.0, 0.6),
    r_share_sd=st.floats(0.0, 0.3),
)


@ALL
@given(lumps, waters)
def test_a_share_is_never_more_than_a_pot_gives_and_never_out_of_the_heaters_reach(
    own: Lumps, water: Water
) -> None:
    way = best_way(own, water, HIGH_C, LEAST_C)
    assert 0.0 <= way.share <= MOST_SHARE + 1e-9
    assert way.arrives_s >= 0.0
    if way.share:
        hard, cold = worse(own, water)
        assert trough_c(swapped(hard, cold, way.share)) >= LEAST_C
        assert swapped(own, water, way.share).bath_c >= min(own.bath_c, water.water_c) - 1e-9


@ALL
@given(lumps, st.floats(0.0, 0.5), st.floats(0.0, 7200.0))
def test_no_machine_takes_the_way_down_out_of_the_numbers(
    own: Lumps, heat_k_per_s: float, span_s: float
) -> None:
    assert all(map(math.isfinite, after(own, heat_k_per_s, span_s)))
    assert trough_c(own) <= own.bowl_c + 1e-9
    assert not math.isnan(caught_after_s(own, LEAST_C))
    assert not math.isnan(arrival_s(own, HIGH_C, LEAST_C))


means = st.lists(st.floats(-4.0, 4.0), min_size=SIZE, max_size=SIZE)
machines = st.builds(
    lambda kg, water, watt, room: machine(batch_kg=kg, water_kg=water, heater_w=watt, room_c=room),
    st.floats(0.1, 10.0),
    st.floats(0.3, 20.0),
    st.floats(50.0, 3000.0),
    st.floats(5.0, 35.0),
)
SWAP = question(
    action=Action.SWAP_WATER, water_c=15.0, choices=(DONE,), text="Swap {mass} of the water."
)
SEED = question("seed", action=Action.ADD_SEED, share=0.1)
COOL = phase("cool", bowl_target_c=TARGET_C, questions=(SWAP, SEED))


@ALL
@given(machines, st.sampled_from(list(Kind)), st.floats(0.0, 70.0), st.floats(0.0, 60.0), means)
def test_any_estimate_gives_a_question_that_a_cook_can_act_on(
    own: object, kind: Kind, bath_c: float, bowl_c: float, off: list[float]
) -> None:
    prior = prior_of(own, kind, 0.9)  # type: ignore[arg-type]  # hypothesis builds a Machine
    belief = stir(begin(prior, bath_c, bowl_c, in_bowl=0.9, has_melted=True), is_stirred=True)
    mean = [value + sd * part for value, sd, part in zip(belief.mean, SD, off, strict=True)]
    belief = replace(belief, mean=clamped(mean, prior))
    assert must_catch(belief, TARGET_C, trough_sd_k(belief, TARGET_C)) in {True, False}
    assert math.isfinite(lumps_of(belief, belief.mean, TARGET_C).under_k)
    asked = Cooling(belief, own, COOL).put(SWAP, Progress())  # type: ignore[arg-type]  # the same
    if asked is not None:
        assert asked.mass_kg is not None
        assert asked.share is not None
        most_kg = MOST_SHARE * own.water_kg  # type: ignore[attr-defined]  # the same
        assert ONE_TENTH_KG <= asked.mass_kg <= most_kg + 0.5 * ONE_TENTH_KG
        assert 0.0 < asked.share <= 1.0
        assert "{" not in asked.text
        assert asked.water_c == SWAP.water_c
