"""The cascade: what a call remembers is what one long-lived controller would have remembered."""

import math

import pytest
from simple_pid import PID

from controller.core import regulator
from controller.core.regulator import bowl_setpoint, regulate
from controller.core.state import Regulation
from tests.helpers.records import replace
from tests.helpers.scene import ROOM_C, machine, phase

OWN = machine()
GAIN = OWN.bath_j_per_k / (OWN.heater_w * 50.0)  # SIMC with a delay of 25 s: C / (P 2 delay)


def step(
    memory: Regulation | None = None,
    *,
    setpoint_c: float = 40.0,
    ceiling_c: float = 50.0,
    bowl_c: float = 40.0,
    bath_c: float = 40.0,
    run_s: float = 0.0,
    dt_s: float = 1.0,
) -> Regulation:
    return regulate(
        memory or Regulation(),
        setpoint_c=setpoint_c,
        ceiling_c=ceiling_c,
        bowl_c=bowl_c,
        bath_c=bath_c,
        run_s=run_s,
        machine=OWN,
        dt_s=dt_s,
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


def inner_as_one_long_lived_pid(baths_c: list[float], bath_setpoint_c: float) -> list[float]:
    """The duty of one simple-pid that lives for the whole drive, its gains switched in place."""
    steady = OWN.loss_w_per_k * (bath_setpoint_c - ROOM_C) / OWN.heater_w
    pid = PID(
        GAIN,
        0.0,
        0.0,
        setpoint=bath_setpoint_c,
        sample_time=None,
        output_limits=(-steady, 1.0 - steady),
        time_fn=lambda: 0.0,
    )
    duties = []
    for bath_c in baths_c:
        pid.Ki = GAIN / 200.0 if abs(bath_setpoint_c - bath_c) <= 0.5 else 0.0
        duties.append(steady + float(pid(bath_c, dt=1.0) or 0.0))
    return duties


def test_the_memory_makes_short_lived_pids_equal_to_one_long_lived_one() -> None:
    # At the ceiling the set-point stands still, so that the inner loop is alone.
    baths_c = [49.6 + 0.3 * math.sin(second / 7.0) for second in range(200)]
    memory = Regulation()
    duties = []
    for bath_c in baths_c:
        memory = step(memory, setpoint_c=60.0, ceiling_c=50.0, bowl_c=30.0, bath_c=bath_c, run_s=75)
        assert memory.bath_setpoint_c == 50.0
        duties.append(memory.duty)
    assert duties == pytest.approx(inner_as_one_long_lived_pid(baths_c, 50.0), abs=1e-12)
    assert len({round(duty, 6) for duty in duties}) > 50


def test_the_inner_integral_is_kept_small() -> None:
    memory = Regulation()
    for _ in range(4000):
        memory = step(memory, setpoint_c=60.0, bowl_c=30.0, bath_c=49.9, run_s=75)
    assert memory.inner_integral <= 0.15 + GAIN / 200.0 * 0.5


@pytest.mark.parametrize("bath_c", [49.49, 50.51, 20.0, 60.0])
def test_far_from_its_set_point_the_inner_loop_does_not_integrate(bath_c: float) -> None:
    before = Regulation(inner_integral=0.05)
    after = step(before, setpoint_c=60.0, bowl_c=30.0, bath_c=bath_c, run_s=75)
    assert after.inner_integral == pytest.approx(0.05)


def test_near_its_set_point_the_inner_loop_integrates() -> None:
    after = step(Regulation(), setpoint_c=60.0, bowl_c=30.0, bath_c=49.6, run_s=75)
    assert after.inner_integral == pytest.approx(GAIN / 200.0 * 0.4)


STEADY = Regulation(bath_setpoint_c=40.6, offset_share=0.03, slow_bowl_c=39.5)


def test_where_the_bowl_is_steady_the_share_over_the_room_is_learned() -> None:
    after = step(STEADY, bowl_c=39.5, bath_c=40.6)
    # 0.5 K for one second over 400 s, by a gain of one, as a share of the 20 K over the room.
    assert after.offset_share == pytest.approx(0.03 + 0.5 / 400.0 / 20.0)


@pytest.mark.parametrize(
    ("memory", "bowl_c", "bath_c"),
    [
        (STEADY, 39.5, 41.2),  # the bath is not where it was asked to be
        (STEADY, 39.65, 40.6),  # the bowl still moves
        (replace(STEADY, slow_bowl_c=37.9), 37.9, 40.6),  # and is far off
        (replace(STEADY, slow_bowl_c=math.nan), 39.5, 40.6),
        (replace(STEADY, bath_setpoint_c=math.nan), 39.5, 40.6),
    ],
)
def test_nothing_is_learned_while_anything_still_moves(
    memory: Regulation, bowl_c: float, bath_c: float
) -> None:
    assert step(memory, bowl_c=bowl_c, bath_c=bath_c).offset_share == 0.03


def test_the_share_never_grows_beyond_its_bound() -> None:
    memory = STEADY
    for _ in range(20_000):
        memory = step(memory, bowl_c=39.5, bath_c=memory.bath_setpoint_c)
    assert memory.offset_share is not None
    assert 0.0 <= memory.offset_share <= 0.1


def test_a_share_may_be_negative_for_chocolate_that_warms_itself_but_not_by_much() -> None:
    memory = replace(STEADY, offset_share=0.0, slow_bowl_c=41.0, bath_setpoint_c=38.8)
    learned = step(memory, bowl_c=41.0, bath_c=38.8).offset_share
    assert learned is not None
    assert -0.1 <= learned < 0.0
    memory = replace(memory, offset_share=-0.1)
    assert step(memory, bowl_c=41.0, bath_c=38.8).offset_share == -0.1


@pytest.mark.parametrize("setpoint_c", [25.0, 40.0, 49.9, 60.0, 90.0])
@pytest.mark.parametrize("bowl_c", [5.0, 39.9, 70.0])
@pytest.mark.parametrize("run_s", [0.0, 75.0, 225.0])
def test_the_bath_set_point_is_never_above_the_ceiling_and_the_duty_within_0_and_1(
    setpoint_c: float, bowl_c: float, run_s: float
) -> None:
    for bath_c in (5.0, 49.8, 80.0):
        after = step(setpoint_c=setpoint_c, bowl_c=bowl_c, bath_c=bath_c, run_s=run_s)
        assert after.bath_setpoint_c <= 50.0
        assert 0.0 <= after.duty <= 1.0


def test_a_cold_bath_is_heated_fully_and_a_warm_one_not_at_all() -> None:
    assert step(bowl_c=20.0, bath_c=20.0).duty == 1.0
    assert step(bowl_c=45.0, bath_c=45.0).duty == 0.0


def test_a_bath_at_its_set_point_gets_what_it_loses() -> None:
    after = step(Regulation(offset_share=0.03), bowl_c=40.0, bath_c=40.6)
    assert after.bath_setpoint_c == pytest.approx(40.6)  # 3 % of the 20 K over the room
    assert after.duty == pytest.approx(2.5 * 20.6 / 500.0)


def test_the_bath_sways_so_that_a_dead_probe_shows() -> None:
    seen = [step(Regulation(offset_share=0.03), run_s=float(s)).bath_setpoint_c for s in range(300)]
    assert max(seen) == pytest.approx(40.6 + 0.15, abs=1e-3)
    assert min(seen) == pytest.approx(40.6 - 0.15, abs=1e-3)


def test_a_bowl_that_is_too_warm_lowers_the_bath_by_a_bounded_lag() -> None:
    assert step(bowl_c=45.0).bath_setpoint_c == pytest.approx(40.0 + 0.6 - 1.2 * 5.0)
    assert step(bowl_c=80.0).bath_setpoint_c == pytest.approx(40.0 - 30.0)


def test_the_lead_is_what_the_bath_can_give_back() -> None:
    # G solves (G - r)(1 + G) = loss tau / (C e): derivation beside `_lead_up`.
    error_k, setpoint_c = 10.0, 40.0
    lead_k = step(bowl_c=setpoint_c - error_k).bath_setpoint_c - setpoint_c
    gain = (lead_k - 0.6) / error_k
    ratio = 1.5 * 1600.0 / OWN.bath_j_per_k
    tau_s = 1.5 * 1600.0 / 15.0
    loss_w = 2.5 * 20.0
    assert lead_k < 10.0
    assert (gain - ratio) * (1.0 + gain) == pytest.approx(
        loss_w * tau_s / (OWN.bath_j_per_k * error_k)
    )


def test_the_lead_is_bounded_near_the_target() -> None:
    after = step(bowl_c=39.99999, setpoint_c=40.0)
    assert after.bath_setpoint_c <= 40.6 + 3.0 * 0.00001 + 1e-9


def test_near_the_room_s_temperature_the_share_is_of_two_kelvin_at_the_least() -> None:
    after = step(Regulation(offset_share=0.05), setpoint_c=21.0, bowl_c=21.0, bath_c=21.0)
    assert after.bath_setpoint_c == pytest.approx(21.0 + 0.05 * 2.0)


def test_a_room_warmer_than_the_target_is_no_trouble() -> None:
    after = step(setpoint_c=15.0, ceiling_c=30.0, bowl_c=16.0, bath_c=16.0)
    assert after.duty == 0.0
    assert math.isfinite(after.bath_setpoint_c)


def test_a_phase_change_to_the_same_target_is_bumpless() -> None:
    first, second = phase("melt"), phase("hold")
    memory = Regulation()
    for second_ in range(600):
        memory = step(memory, bowl_c=39.8, bath_c=40.4, run_s=float(second_))
    before = bowl_setpoint(first, 20.0, 600.0)
    after = bowl_setpoint(second, 39.8, 0.0)
    assert before == after
    on_s = step(memory, setpoint_c=before, bowl_c=39.8, bath_c=40.4, run_s=600.0)
    next_s = step(memory, setpoint_c=after, bowl_c=39.8, bath_c=40.4, run_s=600.0)
    assert on_s == next_s
    assert abs(on_s.duty - memory.duty) < 0.01


def test_the_slow_bowl_follows_with_its_time() -> None:
    first = step(bowl_c=30.0)
    assert first.slow_bowl_c == 30.0
    assert step(first, bowl_c=42.0).slow_bowl_c == pytest.approx(30.0 + 12.0 / 120.0)
    assert step(first, bowl_c=42.0, dt_s=500.0).slow_bowl_c == pytest.approx(42.0)


def test_simple_pid_never_reads_a_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> float:
        raise AssertionError

    monkeypatch.setattr("time.monotonic", broken)
    assert step(bowl_c=20.0, bath_c=20.0).duty == 1.0
    assert regulator.INNER_TI_S == 8 * regulator.DELAY_S  # SIMC: Ti = 8 delay where tau_c = delay
