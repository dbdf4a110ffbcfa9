"""What the interlocks judge by: jumps, unchanged codes, heat against its effect, late ticks.

The simulated bath is a lump of water with a constant heater and loss: enough to see heat.
"""

import math

import pytest

from controller.core.evidence import (
    HeatMemory,
    ProbeEvidence,
    ProbeMemory,
    heat_evidence,
    late_memory,
    probe_evidence,
)
from controller.core.signals import Fault, Reading, missing
from tests.helpers.heated import OWN, Bath
from tests.helpers.records import replace
from tests.helpers.scene import machine

K_PER_S = OWN.heater_w / OWN.bath_j_per_k


def listen(
    values: list[Reading], memory: ProbeMemory | None = None, offset_k: float = 0.0
) -> list[tuple[ProbeMemory, ProbeEvidence]]:
    """One reading a second."""
    memory = memory or ProbeMemory()
    seen = []
    for second, reading in enumerate(values):
        memory, evidence = probe_evidence(memory, reading, offset_k, float(second), 1.0)
        seen.append((memory, evidence))
    return seen


def said(*values_c: float) -> list[Reading]:
    return [Reading(value_c) for value_c in values_c]


def believed(values: list[Reading]) -> list[float]:
    return [evidence.value_c for _, evidence in listen(values)]


def test_the_first_good_reading_is_believed_with_its_offset() -> None:
    ((memory, evidence),) = listen(said(30.0), offset_k=-0.4)
    assert (evidence.value_c, evidence.raw_c) == (29.6, 30.0)
    assert (memory.value_c, memory.code_c) == (29.6, 30.0)
    assert evidence.is_plausible


def test_the_least_step_of_a_thermometer_is_learned_from_what_it_shows() -> None:
    seen = listen([*said(30.0, 30.0, 32.0, 32.5), missing(), *said(34.0)])
    assert [evidence.step_k for _, evidence in seen] == [0.0, 0.0, 2.0, 0.5, 0.5, 0.5]


def test_a_change_that_is_not_believed_shows_its_step_all_the_same() -> None:
    assert [evidence.step_k for _, evidence in listen(said(30.0, 40.0, 39.5))] == [0.0, 10.0, 0.5]


def test_a_change_of_three_kelvin_is_believed_at_once() -> None:
    assert believed(said(30.0, 33.0, 30.0)) == [30.0, 33.0, 30.0]


def test_one_or_two_wild_readings_are_not_believed() -> None:
    values = believed(said(30.0, 33.1, 33.1, 30.1))
    assert values[0] == 30.0
    assert all(math.isnan(value) for value in values[1:3])
    assert values[3] == 30.1


def test_a_jump_is_believed_when_it_comes_three_times_in_a_row() -> None:
    seen = listen(said(30.0, 40.0, 40.0, 40.0, 40.0))
    assert [memory.stepped for memory, _ in seen] == [False, False, False, True, False]
    assert math.isnan(seen[2][1].value_c)
    assert seen[3][1].value_c == 40.0
    assert seen[3][0].rejected == 0
    assert [evidence.jumps for _, evidence in seen] == [0, 1, 2, 3, 3]


def test_a_fall_that_somebody_told_of_is_believed_at_once_and_a_rise_is_not() -> None:
    memory, _ = listen(said(40.0))[-1]
    fallen, evidence = probe_evidence(memory, Reading(30.0), 0.0, 9.0, 1.0, may_fall=True)
    assert (evidence.value_c, evidence.jumps) == (30.0, 0)
    assert fallen.stepped
    _, evidence = probe_evidence(memory, Reading(50.0), 0.0, 9.0, 1.0, may_fall=True)
    assert math.isnan(evidence.value_c)
    assert evidence.jumps == 1


def test_a_reading_that_comes_back_after_two_wild_ones_is_no_step() -> None:
    seen = listen(said(30.0, 40.0, 40.0, 30.0))
    assert not seen[-1][0].stepped
    assert seen[-1][0].rejected == 0


def test_a_rejected_reading_is_plausible_but_gives_no_value() -> None:
    _, evidence = listen(said(30.0, 40.0))[-1]
    assert evidence.is_plausible
    assert math.isnan(evidence.value_c)
    assert evidence.raw_c == 40.0


def test_jumps_are_forgotten_after_their_window() -> None:
    memory = ProbeMemory(value_c=30.0, code_c=30.0, jumps=(10.0, 20.0))
    kept, evidence = probe_evidence(memory, Reading(30.0), 0.0, 310.0, 1.0)
    assert (kept.jumps, evidence.jumps) == ((10.0, 20.0), 2)
    kept, evidence = probe_evidence(memory, Reading(30.0), 0.0, 310.1, 1.0)
    assert (kept.jumps, evidence.jumps) == ((20.0,), 1)


def test_a_long_row_of_jumps_is_kept_no_longer_than_it_can_matter() -> None:
    seen = listen(said(*[30.0 + 10.0 * (second % 2) for second in range(60)]))
    assert seen[-1][1].jumps == 11
    assert len(seen[-1][0].jumps) == 11


@pytest.mark.parametrize(
    "bad",
    [
        missing(),
        missing(Fault.CHECKSUM),
        Reading(math.nan),
        Reading(math.inf),
        Reading(85.0),
        Reading(-5.1),
        Reading(30.0, age_s=5.1),
        Reading(30.0, fault=Fault.DEVICE),
    ],
)
def test_a_reading_that_says_nothing_gives_no_value_and_keeps_the_memory(bad: Reading) -> None:
    (before, _), (after, evidence) = listen([Reading(30.0), bad])
    assert math.isnan(evidence.value_c)
    assert not evidence.is_plausible
    assert (evidence.fault, evidence.age_s) == (bad.fault, bad.age_s)
    assert after == replace(before, unchanged_s=1.0)


@pytest.mark.parametrize("good", [Reading(-5.0), Reading(84.9), Reading(30.0, age_s=5.0)])
def test_a_reading_at_the_edge_of_the_plausible_is_believed(good: Reading) -> None:
    ((_, evidence),) = listen([good])
    assert (evidence.value_c, evidence.is_plausible) == (good.value, True)


def test_a_step_is_told_for_one_tick_only_even_if_the_next_reading_is_lost() -> None:
    seen = listen([*said(30.0, 40.0, 40.0, 40.0), missing()])
    assert [memory.stepped for memory, _ in seen[-2:]] == [True, False]


def test_an_unchanged_code_is_counted_from_its_first_reading() -> None:
    seen = listen([*said(30.0, 30.0, 30.0), missing(), *said(30.0, 30.0625, 30.0625)])
    assert [evidence.unchanged_s for _, evidence in seen] == [0.0, 1.0, 2.0, 3.0, 4.0, 0.0, 1.0]


def test_a_rejected_reading_counts_as_a_change_of_code() -> None:
    seen = listen(said(30.0, 30.0, 40.0, 40.0))
    assert [evidence.unchanged_s for _, evidence in seen] == [0.0, 1.0, 0.0, 1.0]


def test_heat_that_warms_the_bath_is_confirmed_again_and_again() -> None:
    bath = Bath()
    assert max(bath.step(on=True).given_s for _ in range(1200)) < 60.0


@pytest.mark.parametrize("bath_c", [25.0, 40.0, 58.0])
@pytest.mark.parametrize("heat_share", [0.0, 0.02])
def test_a_dead_heater_uses_up_the_budget_and_is_never_confirmed(
    bath_c: float, heat_share: float
) -> None:
    bath = Bath(bath_c=bath_c, bowl_c=bath_c, heat_share=heat_share)
    given = [bath.step(on=True).given_s for _ in range(400)]
    crossed = next(second for second, one in enumerate(given) if one > 135.0)
    # The element's lag of 20 s comes on top of 135 s at full power.
    assert 135 <= crossed <= 175
    assert given == sorted(given)


def test_a_weak_but_living_heater_is_confirmed() -> None:
    bath = Bath(bath_c=30.0, bowl_c=30.0, heat_share=0.3)
    assert max(bath.step(on=True).given_s for _ in range(1200)) < 135.0


def test_a_dead_heater_is_not_confirmed_by_the_pauses_of_its_relay() -> None:
    bath = Bath(heat_share=0.0)
    given = [bath.step(on=second % 10 < 5).given_s for second in range(500)]
    assert max(given) > 135.0


def test_a_bath_that_cools_to_its_set_point_under_little_heat_owes_nothing_for_that() -> None:
    bath, given = Bath(bath_c=56.0, transfer_w_per_k=25.0), []
    for second in range(1000):
        is_cooling = second < 300
        bath.bowl_c = 40.0 if is_cooling else bath.bath_c
        given.append(bath.step(on=second % (10 if is_cooling else 5) == 0).given_s)
    assert max(given) <= 135.0


def test_losses_that_were_learned_count_as_what_heat_has_done() -> None:
    probe = ProbeMemory(value_c=50.0, code_c=50.0, unchanged_s=1.0)
    before = HeatMemory(lagged=1.0, anchor_c=50.0, given_s=1.0)
    file, learned = (
        heat_evidence(
            before,
            bath=probe,
            bowl=probe,
            was_on=True,
            disturbed=False,
            machine=OWN,
            dt_s=1.0,
            loss_share=share,
        )
        for share in (1.0, 1.7)
    )
    assert file.lost_k == pytest.approx(OWN.loss_w_per_k * 30.0 / OWN.bath_j_per_k)
    assert learned.lost_k == pytest.approx(1.7 * file.lost_k)


def test_heat_without_any_asked_of_it_uses_no_budget() -> None:
    bath = Bath()
    assert max(bath.step(on=False).given_s for _ in range(600)) == 0.0


def test_a_disturbance_begins_the_account_anew() -> None:
    bath = Bath(heat_share=0.0)
    for _ in range(100):
        bath.step(on=True)
    assert bath.memory.given_s > 60.0
    after = bath.step(on=True, disturbed=True)
    assert (after.given_s, after.lost_k, after.stuck_hits) == (0.0, 0.0, 0)
    assert len(after.trail) == 1
    assert after.anchor_c == bath.was_c


def test_the_element_s_lag_is_part_of_the_account() -> None:
    bath = Bath()
    bath.step(on=True)
    assert bath.memory.lagged == pytest.approx(1.0 / 20.0)
    for _ in range(19):
        bath.step(on=True)
    assert bath.memory.lagged == pytest.approx(1.0 - 0.95**20)


@pytest.mark.parametrize("bath_c", [25.0, 40.0, 50.0])
def test_a_welded_relay_is_seen_within_two_minutes(bath_c: float) -> None:
    bath = Bath(bath_c=bath_c, bowl_c=bath_c, is_welded=True)
    assert bath.run(600, on=False) <= 120


def test_a_relay_that_welds_after_long_heating_is_seen_too() -> None:
    bath = Bath(bath_c=25.0, bowl_c=25.0)
    assert bath.run(300, on=True) == 300
    bath.is_welded = True
    assert bath.run(600, on=False) <= 150


@pytest.mark.parametrize("bath_c", [25.0, 40.0, 58.0])
def test_a_bath_whose_heater_is_off_is_never_called_stuck(bath_c: float) -> None:
    bath = Bath(bath_c=bath_c, bowl_c=bath_c)
    assert bath.run(1200, on=False) == 1200


def test_a_warm_bowl_that_heats_a_cold_bath_is_no_stuck_relay() -> None:
    bath = Bath(bath_c=18.0, bowl_c=45.0, transfer_w_per_k=15.0)
    assert bath.run(1200, on=False) == 1200
    assert bath.bath_c > 22.0


def test_full_heat_that_was_asked_for_is_no_stuck_relay() -> None:
    bath = Bath(bath_c=25.0, bowl_c=25.0)
    assert bath.run(600, on=True) == 600


def test_the_heat_left_in_the_element_is_no_stuck_relay() -> None:
    bath = Bath(bath_c=25.0, bowl_c=25.0)
    bath.run(300, on=True)
    assert bath.run(300, on=False) == 300


def test_a_heater_stronger_than_its_plate_says_is_no_stuck_relay_while_it_is_asked() -> None:
    bath = Bath(bath_c=25.0, bowl_c=25.0, heat_share=2.0)
    assert bath.run(300, on=True) == 300


def test_a_drift_too_small_for_a_probe_to_be_sure_of_is_no_stuck_relay() -> None:
    large = machine(water_kg=25.0, loss_w_per_k=0.0)
    memory = HeatMemory()
    for second in range(600):
        bath_c = 40.0 + 0.19 * second / 60.0  # half of what its heater would do
        memory = heat_evidence(
            memory,
            bath=ProbeMemory(value_c=bath_c),
            bowl=ProbeMemory(value_c=bath_c),
            was_on=False,
            disturbed=False,
            machine=large,
            dt_s=1.0,
        )
        assert memory.stuck_hits == 0


def test_an_element_gone_cold_ends_the_account() -> None:
    bath = Bath(heat_share=0.0)
    for _ in range(60):
        bath.step(on=True)
    given_s = bath.memory.given_s
    for _ in range(60):
        bath.step(on=False)
    assert bath.memory.given_s > given_s > 30.0  # what was in the element has still to show
    for _ in range(30):
        bath.step(on=False)
    assert bath.memory.given_s == 0.0


def test_hits_must_follow_one_another() -> None:
    bath = Bath(is_welded=True)
    while bath.memory.stuck_hits < 2:
        bath.step(on=False)
    bath.is_welded = False
    bath.heat_share = 0.0
    for _ in range(60):
        bath.step(on=False)
    assert bath.memory.stuck_hits == 0


def test_hits_are_counted_five_seconds_apart() -> None:
    bath = Bath(is_welded=True)
    at: dict[int, int] = {}
    for second in range(200):
        at.setdefault(bath.step(on=False).stuck_hits, second)
    assert (at[2] - at[1], at[3] - at[2]) == (5, 5)


@pytest.mark.parametrize(("bath_c", "bowl_c"), [(math.nan, 40.0), (40.0, math.nan)])
def test_before_both_probes_have_spoken_only_time_and_the_element_count(
    bath_c: float, bowl_c: float
) -> None:
    after = heat_evidence(
        HeatMemory(),
        bath=ProbeMemory(value_c=bath_c),
        bowl=ProbeMemory(value_c=bowl_c),
        was_on=True,
        disturbed=False,
        machine=OWN,
        dt_s=2.0,
    )
    assert after == HeatMemory(lagged=0.1, share=0.002, now_s=2.0, asked_s=2.0)


@pytest.mark.parametrize("dt_s", [0.25, 1.0, 2.0])
def test_the_model_since_the_last_change_is_heat_less_loss_less_what_the_bowl_takes(
    dt_s: float,
) -> None:
    before = HeatMemory(lagged=1.0, anchor_c=40.0)
    after = heat_evidence(
        before,
        bath=ProbeMemory(value_c=40.0, code_c=40.0, unchanged_s=7.0),
        bowl=ProbeMemory(value_c=35.0, code_c=35.0, unchanged_s=9.0),
        was_on=True,
        disturbed=False,
        machine=OWN,
        dt_s=dt_s,
    )
    watts = 500.0 - 2.5 * 20.0 - 8.0 * 5.0  # heater, loss to a room of 20 °C, 8 W/K to the bowl
    assert after.since_change_k == pytest.approx(dt_s * watts / OWN.bath_j_per_k)
    assert (after.since_change_s, after.bowl_change_s) == (dt_s, dt_s)
    # 5 W/K at the least, over 5 K, into 1.5 kg that take 6200 J/(kg K) at the most
    assert after.bowl_change_k == pytest.approx(dt_s * 25.0 / (1.5 * 6200.0))
    assert (after.given_s, after.asked_s) == (dt_s, dt_s)
    assert after.lost_k == pytest.approx(dt_s * (50.0 + 5.0 * 5.0) / OWN.bath_j_per_k)
    assert after.expected_k == pytest.approx(dt_s * K_PER_S)


def test_a_changed_code_clears_what_was_counted_since_the_last() -> None:
    before = HeatMemory(
        since_change_k=0.9, since_change_s=40.0, bowl_change_s=80.0, bowl_change_k=1.9
    )
    after = heat_evidence(
        before,
        bath=ProbeMemory(value_c=40.0, unchanged_s=0.0),
        bowl=ProbeMemory(value_c=40.0, unchanged_s=0.0),
        was_on=True,
        disturbed=False,
        machine=OWN,
        dt_s=1.0,
    )
    assert (after.since_change_k, after.since_change_s) == (0.0, 0.0)
    assert (after.bowl_change_s, after.bowl_change_k) == (0.0, 0.0)


def test_late_ticks_are_counted_within_a_minute() -> None:
    assert late_memory((), False, 5.0) == ()
    assert late_memory((), True, 5.0) == (5.0,)
    assert late_memory((5.0,), True, 64.9) == (5.0, 64.9)
    assert late_memory((5.0, 30.0), False, 65.0) == (30.0,)
    assert late_memory((5.0,), True, 65.0) == (65.0,)
