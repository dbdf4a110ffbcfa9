"""The regulator: full heat until the bowl arrives by itself, then the cascade; and its ceilings."""

import math
from typing import Any

import pytest
from simple_pid import PID

from controller.core import hold
from controller.core.estimate import Belief
from controller.core.estimator import stir
from controller.core.hold import TRIM_TI, Numbers, bath_setpoint, duty, inner_s, numbers, sway_k
from controller.core.machine import Machine
from controller.core.profile import Kind
from controller.core.regulator import AIM_K, UNDER_CEILING_K, bowl_setpoint, regulate
from controller.core.state import Regulation, RelayMemory, State
from controller.core.thermal import APART, DRIFT, LN_P, LN_R, Q, begin, prior_of
from controller.core.transition import peak_c
from tests.helpers.lumped import Loop, Lumped
from tests.helpers.records import replace
from tests.helpers.scene import machine, phase

OWN = machine()
CEILING_C = 58.0
PRIOR = prior_of(OWN, Kind.DARK, 1.0)
GOING = Regulation(is_moving=True)


def believed(bath_c: float, bowl_c: float) -> Belief:
    """A belief that is sure of itself: the machine file was right."""
    belief = begin(PRIOR, bath_c, bowl_c, has_melted=True)
    belief = stir(belief, is_stirred=True)
    spread = tuple(tuple(value / 400.0 for value in row) for row in belief.spread)
    return replace(belief, spread=spread, mean=(*belief.mean[:-1], 0.0))


def asked(
    bath_c: float,
    bowl_c: float,
    *,
    setpoint_c: float = 40.0,
    ceiling_c: float = CEILING_C,
    memory: Regulation | None = None,
    relay: RelayMemory | None = None,
    own: Machine = OWN,
) -> Regulation:
    """One step from a belief in these temperatures."""
    return regulate(
        State(
            bath_c=bath_c,
            bowl_c=bowl_c,
            regulation=memory or Regulation(),
            relay=relay or RelayMemory(),
        ),
        believed(bath_c, bowl_c),
        setpoint_c=setpoint_c,
        ceiling_c=ceiling_c,
        machine=own,
        dt_s=1.0,
    )


@pytest.mark.parametrize(
    ("start_c", "phase_s", "expected_c"),
    [
        (20.0, 0.0, 20.0),
        (20.0, 60.0, 22.0),
        (20.0, 599.0, 20.0 + 2.0 * 599 / 60),
        (20.0, 600.0, 40.0),
        (20.0, 9000.0, 40.0),
        (50.0, 60.0, 48.0),
        (50.0, 9000.0, 40.0),
        (math.nan, 0.0, 40.0),
    ],
)
def test_a_rate_limit_ramps_the_set_point_from_where_the_bowl_was(
    start_c: float, phase_s: float, expected_c: float
) -> None:
    given = phase(rate_limit_k_per_min=2.0)
    assert bowl_setpoint(given, start_c, phase_s) == pytest.approx(expected_c)


def test_without_a_rate_limit_the_set_point_is_the_target_at_once() -> None:
    assert bowl_setpoint(phase(), 20.0, 0.0) == 40.0


# --- on the way -----------------------------------------------------------------------------------


def test_a_cold_bowl_is_heated_fully_and_a_warm_one_not_at_all() -> None:
    cold, warm = asked(20.0, 20.0), asked(45.0, 45.0)
    assert (cold.duty, cold.is_moving) == (1.0, True)
    assert (warm.duty, warm.is_moving) == (0.0, False)


def test_heat_ends_where_the_bowl_will_arrive_by_itself() -> None:
    bowl_c = 35.0
    leads = [
        bath_c for bath_c in range(36, 56) if asked(float(bath_c), bowl_c, memory=GOING).duty == 0.0
    ]
    first = asked(float(leads[0]), bowl_c, memory=GOING)
    assert first.is_moving
    assert first.peak_c + 2.0 * first.peak_c_sd > 40.0 + AIM_K
    last = asked(float(leads[0]) - 1.0, bowl_c, memory=GOING)
    assert last.peak_c + 2.0 * last.peak_c_sd <= 40.0 + AIM_K
    assert leads == list(range(leads[0], 56))


def test_the_less_sure_the_prediction_the_earlier_heat_ends() -> None:
    sure = asked(42.5, 35.0, memory=GOING)
    assert sure.duty == 1.0
    unsure = regulate(
        State(bath_c=42.5, bowl_c=35.0, regulation=GOING),
        replace(believed(42.5, 35.0), spread=begin(PRIOR, 45.0, 35.0).spread),
        setpoint_c=40.0,
        ceiling_c=CEILING_C,
        machine=OWN,
        dt_s=1.0,
    )
    assert unsure.duty == 0.0
    assert unsure.peak_c == pytest.approx(sure.peak_c, abs=0.2)


def test_a_pulse_that_can_t_be_cut_short_counts_as_given() -> None:
    slow = replace(OWN, min_on_s=60.0, min_off_s=60.0)
    mean = believed(45.0, 38.0).mean
    worth_k = 30.0 * math.exp(mean[LN_P]) / (1.0 + math.exp(-mean[LN_R]))  # shared with the bowl
    open_ = asked(45.0, 38.0, own=slow)
    halfway = asked(45.0, 38.0, own=slow, relay=RelayMemory(on=True, held_s=30.0))
    assert open_.peak_c - halfway.peak_c == pytest.approx(worth_k, rel=0.15)


def test_the_bath_is_heated_to_just_under_its_ceiling() -> None:
    far = asked(30.0, 25.0, setpoint_c=50.0)
    assert far.bath_setpoint_c == CEILING_C - UNDER_CEILING_K
    assert far.duty == 1.0
    near = asked(CEILING_C - 0.1, 50.0, setpoint_c=56.0)
    assert 0.0 < near.duty < 0.9


@pytest.mark.parametrize("setpoint_c", [25.0, 40.0, 57.9, 60.0, 90.0])
@pytest.mark.parametrize("bowl_c", [5.0, 39.9, 70.0])
@pytest.mark.parametrize("bath_c", [5.0, 57.8, 58.0, 80.0])
def test_no_heat_is_asked_at_the_ceiling_and_no_bath_above_it(
    setpoint_c: float, bowl_c: float, bath_c: float
) -> None:
    for is_moving in (False, True):
        memory = Regulation(is_moving=is_moving)
        after = asked(bath_c, bowl_c, setpoint_c=setpoint_c, memory=memory)
        assert after.bath_setpoint_c <= CEILING_C
        assert 0.0 <= after.duty <= 1.0
        assert bath_c < CEILING_C or after.duty == 0.0


def test_a_reading_at_the_ceiling_is_enough_whatever_is_believed() -> None:
    given = State(bath_c=58.0, bowl_c=30.0)
    belief = believed(50.0, 30.0)
    after = regulate(given, belief, setpoint_c=50.0, ceiling_c=CEILING_C, machine=OWN, dt_s=1.0)
    assert after.duty == 0.0


# --- handing over ---------------------------------------------------------------------------------


def test_a_small_lack_is_the_cascade_s_and_a_large_one_is_a_transition() -> None:
    assert not asked(39.7, 39.7).is_moving
    assert asked(39.5, 39.5).is_moving
    begun = Regulation(is_moving=True)
    assert asked(39.8, 39.8, memory=begun).is_moving
    assert not asked(39.9, 39.9, memory=begun).is_moving


def test_a_lack_that_will_fill_by_itself_starts_no_transition() -> None:
    assert not asked(42.0, 39.5).is_moving


def test_where_hold_takes_over_it_wants_the_bath_where_the_transition_left_it() -> None:
    loop = Loop(plant=Lumped(bath_c=28.0, bowl_c=28.0))
    was_moving = False
    for _ in range(3600):
        loop.step(31.5)
        is_moving = loop.state.regulation.is_moving
        if was_moving and not is_moving:
            break
        was_moving = is_moving
    assert was_moving
    coming_c = numbers(loop.belief, 31.5).coming_c
    assert loop.state.regulation.bath_setpoint_c == pytest.approx(coming_c, abs=0.3)


def test_a_phase_change_to_the_same_target_is_bumpless() -> None:
    first, second = phase("melt"), phase("hold")
    before = bowl_setpoint(first, 20.0, 600.0)
    after = bowl_setpoint(second, 39.8, 0.0)
    assert before == after
    assert asked(40.4, 39.8, setpoint_c=before) == asked(40.4, 39.8, setpoint_c=after)


def heats_where_the_peak_is_at_the_target(lacks_k: float, sd_k: float) -> bool:
    """Whether it goes on, so far from the target, with a prediction that is so unsure."""
    low_c, high_c = 40.0 - lacks_k, 80.0
    while high_c - low_c > 1e-6:  # the bath that brings the bowl just to the target
        bath_c = (low_c + high_c) / 2
        belief = believed(bath_c, 40.0 - lacks_k)
        is_over = peak_c(belief, belief.mean, 40.0, 2.0) > 40.0
        low_c, high_c = (low_c, bath_c) if is_over else (bath_c, high_c)
    regulation = regulate(
        State(
            bath_c=low_c,
            bowl_c=40.0 - lacks_k,
            regulation=Regulation(is_moving=True, peak_c_sd=sd_k),
        ),
        replace(believed(low_c, 40.0 - lacks_k), since_s=1.0),
        setpoint_c=40.0,
        ceiling_c=90.0,
        machine=OWN,
        dt_s=1.0,
    )
    assert regulation.is_moving
    return regulation.duty > 0.0


def test_near_the_target_less_of_what_is_unsure_is_kept_free() -> None:
    assert heats_where_the_peak_is_at_the_target(0.3, 0.027)
    assert not heats_where_the_peak_is_at_the_target(4.0, 0.027)
    assert not heats_where_the_peak_is_at_the_target(0.3, 0.09)


# --- holding --------------------------------------------------------------------------------------


def test_held_it_stays_within_hundredths_and_the_peak_is_limited() -> None:
    loop = Loop(plant=Lumped(bath_c=28.0, bowl_c=28.0))
    way = loop.run(31.5, 1800)
    assert max(way) <= 0.1
    held = loop.run(31.5, 3600)
    assert max(map(abs, held)) <= 0.03
    assert math.sqrt(sum(off * off for off in held) / len(held)) <= 0.015


def test_pulses_too_big_for_the_aim_don_t_leave_the_bowl_under_the_target() -> None:
    plant = Lumped(
        heater_w=950.0,
        bath_j_per_k=10_000.0,
        bowl_j_per_k=1600.0,
        transfer_w_per_k=14.0,
        bath_c=31.6,
        bowl_c=31.5,
    )
    told = machine(heater_w=950.0, water_kg=2.3, batch_kg=0.9, min_on_s=5.0, min_off_s=5.0)
    loop = Loop(plant=plant, told=told)
    loop.run(31.5, 1800)
    held_k = loop.run(31.5, 3600)
    assert max(map(abs, held_k)) <= 0.2
    assert abs(sum(held_k) / len(held_k)) <= 0.04


def test_a_bath_where_it_should_be_gets_what_bath_and_bowl_lose() -> None:
    now = numbers(believed(40.0, 40.0), 40.0)
    assert now.stands_k == pytest.approx(0.5 * 20.0 / 12.0)  # what the bowl loses, over transfer
    steady = believed(40.0 + now.stands_k, 40.0)
    steady = replace(steady, mean=(now.holds_share, *steady.mean[Q + 1 :]))
    after = regulate(
        State(bath_c=40.8, bowl_c=40.0),
        steady,
        setpoint_c=40.0,
        ceiling_c=CEILING_C,
        machine=OWN,
        dt_s=1.0,
    )
    assert after.bath_setpoint_c == pytest.approx(40.0 + now.stands_k)
    assert after.duty == pytest.approx(now.holds_share)


def a_machine_s_numbers(**changes: Any) -> Numbers:  # noqa: ANN401 - any field of the numbers
    """Of a made-up machine that has nothing to give or take."""
    given = Numbers(
        bath_c=40.0,
        bowl_c=40.0,
        coming_c=40.0,
        apart_k=0.0,
        k_per_s=1e-3,
        kr_per_s=4e-3,
        p_k_per_s=0.04,
        lag_s=20.0,
        stands_k=0.5,
        holds_share=0.1,
    )
    return replace(given, **changes)


def test_the_memory_makes_short_lived_pids_equal_to_one_long_lived_one() -> None:
    bowls_c = [40.05 + 0.09 * math.sin(second / 40.0) for second in range(400)]
    trim_k, ours = 0.0, []
    for bowl_c in bowls_c:
        now = a_machine_s_numbers(bowl_c=bowl_c)
        wanted_c, trim_k = bath_setpoint(now, 40.0, 55.0, trim_k, 25.0, 1.0)
        ours.append(wanted_c)
    gain = 2.25  # of the rule, at its bound
    pid = PID(
        gain,
        gain / (TRIM_TI * 25.0),
        0.0,
        setpoint=40.0,
        sample_time=None,
        output_limits=(-30.0, 14.5),
        time_fn=lambda: 0.0,
    )
    one = [40.5 + float(pid(bowl_c, dt=1.0) or 0.0) for bowl_c in bowls_c]
    assert ours == pytest.approx(one, abs=1e-12)
    assert len({round(value, 6) for value in ours}) > 100


def test_far_from_the_target_nothing_is_trimmed_and_the_trim_is_bounded() -> None:
    far = a_machine_s_numbers(bowl_c=39.0)
    assert bath_setpoint(far, 40.0, 55.0, 0.2, 25.0, 1.0)[1] == 0.2
    assert bath_setpoint(replace(far, bowl_c=40.3), 40.0, 55.0, 0.2, 25.0, 1.0)[1] == 0.2
    near = a_machine_s_numbers(bowl_c=39.96)
    trim_k = 0.0
    for _ in range(20_000):
        trim_k = bath_setpoint(near, 40.0, 55.0, trim_k, 25.0, 1.0)[1]
    assert 0.4 < trim_k <= 0.51


def test_a_bowl_on_its_way_up_gathers_no_trim_and_one_that_is_too_warm_does() -> None:
    def trimmed(bowl_c: float) -> float:
        now = a_machine_s_numbers(bowl_c=bowl_c)
        return bath_setpoint(now, 40.0, 55.0, 0.0, 25.0, 1.0)[1]

    assert trimmed(39.9) == 0.0
    assert trimmed(40.1) < 0.0 < trimmed(39.98)


def test_what_no_cooling_can_follow_winds_up_no_trim() -> None:
    over = a_machine_s_numbers(bowl_c=40.1, coming_c=40.3)  # it is wanted at 40.275
    assert bath_setpoint(over, 40.0, 55.0, 0.0, 25.0, 1.0)[1] < 0.0
    stuck = replace(over, coming_c=41.0)
    assert bath_setpoint(stuck, 40.0, 55.0, 0.0, 25.0, 1.0)[1] == 0.0


def test_a_brisk_bowl_is_led_less_than_a_slow_one() -> None:
    lacking = {"bowl_c": 39.9}
    slow, _ = bath_setpoint(a_machine_s_numbers(**lacking), 40.0, 55.0, 0.0, 25.0, 1.0)
    brisk = a_machine_s_numbers(kr_per_s=0.04, **lacking)
    quick, _ = bath_setpoint(brisk, 40.0, 55.0, 0.0, 25.0, 1.0)
    assert 40.5 < quick < slow


def test_slow_relays_get_a_slower_inner_loop() -> None:
    assert inner_s(2.0) == 25.0
    assert inner_s(8.0) == 96.0
    now = a_machine_s_numbers(coming_c=39.5)
    assert 0.1 < duty(now, 40.0, 0.1, 96.0, 1.0) < duty(now, 40.0, 0.1, 25.0, 1.0) < 1.0


def test_while_the_stirrer_pauses_the_bath_waits_for_it_where_it_was() -> None:
    loop = Loop(plant=Lumped(bath_c=31.9, bowl_c=31.5))
    loop.run(31.5, 1800)
    held_c = loop.state.regulation.bath_setpoint_c
    loop.is_stirred, loop.plant.transfer_w_per_k = False, 3.0
    loop.run(31.5, 120)
    assert not loop.state.regulation.is_moving
    assert loop.state.regulation.bath_setpoint_c == pytest.approx(held_c, abs=0.15)
    loop.is_stirred, loop.plant.transfer_w_per_k = True, 11.0
    assert (
        max(loop.run(31.5, 1200)) <= 0.06
    )  # the goal of control when the stirrer is known to rest


def test_what_stirring_gave_is_back_when_the_stirrer_is() -> None:
    loop = Loop(plant=Lumped(bath_c=31.9, bowl_c=31.5, bowl_gains_w=15.0))
    loop.run(31.5, 3600)
    learned = loop.belief.mean
    loop.is_stirred, loop.plant.transfer_w_per_k, loop.plant.bowl_gains_w = False, 3.0, 0.0
    loop.run(31.5, 120)
    assert loop.belief.mean[LN_R] == learned[LN_R]  # standing chocolate shows nothing of these
    assert loop.belief.mean[APART] == learned[APART]
    assert loop.belief.mean[DRIFT] < 0.5 * learned[DRIFT]
    loop.is_stirred, loop.plant.transfer_w_per_k, loop.plant.bowl_gains_w = True, 11.0, 15.0
    over_k = loop.run(31.5, 1)
    assert loop.belief.mean[DRIFT] == learned[DRIFT]
    over_k += loop.run(31.5, 1200)
    assert max(over_k) <= 0.075
    assert min(over_k[600:]) >= -0.05


def test_heat_that_grows_as_crystals_do_is_led_away_in_time() -> None:
    loop = Loop(plant=Lumped(bath_c=31.9, bowl_c=31.5))
    off_k = []
    for minute in range(70):
        loop.plant.bowl_gains_w = math.exp(minute / 25.0)
        off_k += loop.run(31.5, 60)
    assert loop.plant.bowl_gains_w > 15.0
    assert max(map(abs, off_k[600:])) <= 0.036


def test_a_stirrer_that_stays_still_is_no_longer_waited_for() -> None:
    waiting = replace(believed(40.5, 39.0), is_stirred=False, still_s=599.0)
    assert numbers(waiting, 40.0).is_resting
    assert not numbers(replace(waiting, still_s=600.0), 40.0).is_resting
    assert not numbers(waiting, 45.0).is_resting  # nor where there is a way to go


def test_before_it_ever_turned_no_stirrer_is_waited_for() -> None:
    assert not numbers(begin(PRIOR, 40.0, 39.5), 40.0).is_resting


def test_a_probe_that_keeps_still_makes_the_bath_sway_and_a_live_one_does_not() -> None:
    assert sway_k(100.0, 75.0) == 0.0
    assert sway_k(180.0, 75.0) == pytest.approx(0.075)
    assert sway_k(900.0, 75.0) == pytest.approx(0.15)
    assert sway_k(900.0, 225.0) == pytest.approx(-0.15)


def test_simple_pid_never_reads_a_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> float:
        raise AssertionError

    monkeypatch.setattr("time.monotonic", broken)
    assert asked(20.0, 20.0).duty == 1.0
    assert asked(40.0, 40.0).duty > 0.0
    assert hold.INNER_S == 25.0
