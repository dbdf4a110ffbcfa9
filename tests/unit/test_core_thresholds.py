"""The golden table of thresholds: loosening one needs an edit here as well as there.

Own engineering values unless named otherwise, not published.
"""

from controller.core import machine, signals
from controller.core import thresholds as th
from controller.core import tick as tick_module

GOLDEN = {
    "PROBE_MIN_C": -5.0,
    "PROBE_MAX_C": 84.9,  # under the 85 °C power-on value of 1-wire thermometers
    "PROBE_STALE_S": 5.0,
    "STALE_AFTER_S": 5.0,
    "OUT_OF_RANGE_TRIP_S": 5.0,
    "JUMP_K": 3.0,
    "JUMP_BELIEVED_AFTER": 3,
    "JUMPS_MAX": 10,
    "JUMP_WINDOW_S": 300.0,
    "OVER_LIMIT_TRIP_S": 2.0,
    "FROZEN_MODEL_K": 1.0,
    "FROZEN_STEPS": 3.0,
    "FROZEN_COARSE_K": 1.5,
    "FROZEN_MIN_S": 45.0,
    "FROZEN_BATH_S": 480.0,
    "FROZEN_BOWL_S": 900.0,
    "NUDGE_AFTER_S": 450.0,
    "NUDGE_K": 0.1,
    "NUDGE_S": 240.0,
    "STILL_SPARE_K": 0.3,
    "STILL_AFTER_S": 300.0,
    "FROZEN_BOWL_MODEL_K": 2.0,
    "FROZEN_BOWL_MIN_S": 120.0,
    # 46 kJ/kg of latent heat over some 10 K, and 1600 J/(kg K): Beckett, 4th ed., pp. 667-668
    "SLOWEST_BOWL_J_PER_KG_K": 6200.0,
    "RUN_MAX_S": 86_400.0,
    "CUT_OVER_CEILING_K": 2.0,
    "FROZEN_HEAT_S": 5.0,
    "STUCK_WINDOW_S": 60.0,
    "STUCK_ASKED_S": 15.0,
    "STUCK_RISE_FRACTION": 0.45,
    "STUCK_MIN_RISE_K": 0.2,
    "STUCK_STEP_S": 5.0,
    "STUCK_HITS": 3,
    "UNVERIFIED_BUDGET_S": 135.0,
    "GIVEN_SHARE": 0.5,
    "GIVEN_SMOOTHED_S": 100.0,
    "UNVERIFIED_AT_MOST": 2.0,
    "VERIFIED_FRACTION": 0.15,
    "VERIFY_AFTER_S": 30.0,
    "RISEN_K": 0.25,
    "HELD_BACK_S": 60.0,
    "MISSED_SHARE": 0.4,
    "MISSED_LEAST_K": 0.25,
    "VERIFY_FROM_SHARE": 0.3,
    "SETTLING_S": 60.0,
    "FALL_K": 1.0,
    "FORGIVEN_PER_S": 0.2,
    "LEVEL_TRIP_S": 2.0,
    "SHAFT_FRACTION": 0.3,
    "SHAFT_GRACE_S": 5.0,
    "SHAFT_TRIP_S": 2.0,
    "CLOCK_WINDOW_S": 60.0,
    "CLOCK_AHEAD_S": 1.8,
    "GUARD_SILENT_S": 3.0,
    "GUARD_SILENT_TRIP_S": 10.0,
    "LOOK_EVERY_S": 5.0,
    "LOOK_BACK_S": 60.0,
    "QUIET_S": 300.0,
    "TOUCHED_S": 60.0,
    "APART_K": 2.0,
    "APART_TRIP_S": 60.0,
    "UNDER_GUARD_K": 1.0,
    "GUARD_OVER_K": 0.3,
    "VOUCHES_S": 60.0,
    "VOUCHES_K": 0.5,
    "GUARD_FROZEN_S": 600.0,
    "STIRRED_S": 120.0,
    "UNLIKE_W": 18.0,
    "UNLIKE_K": 1.0,
    "UNLIKE_COLD_K": 6.0,
    "SETS_BELOW_C": 34.3,
    "SETS_J_PER_KG": 46_000.0,
    "SETTING_SHARE": 0.06,
    "SETTING_SURE": 0.9,
    "STOOD_STILL_S": 300.0,
    "STILL_BATH_K": 1.0,
    "STILL_BOWL_K": 0.5,
    "UNLIKE_PER_LEAD": 0.15,
    "UNLIKE_TRIP_S": 60.0,
    "LEARNED_TRANSFER_SD": 0.1,
    "LEARNED_LOSS_SD": 0.1,
    "LOSS_SHARE_MOST": 2.0,
    "LEARNING_S": 1200.0,
    "FELL_K": 2.5,
    "FELL_BACK_K": 1.5,
    "FELL_TRIP_S": 300.0,
    "DIPPED_K": 0.6,
    "ROSE_K": 0.75,
    "ROSE_OVER_K": 1.2,
    "CROSSED_K": 1.0,
    "CROSSED_HEAT_S": 25.0,
    "CROSSED_MOST": 1.5,
    "UNLOADED_SHARE": 0.5,
    "UNLOADED_TRIP_S": 5.0,
    "LOAD_JUMP": 3.0,
    "LOAD_LEAST_W": 0.03,
    "DEMAND_MORE": 1.45,
    "DEMAND_LESS": 0.7,
    "AMOUNT_MORE": 1.43,
    "AMOUNT_LESS": 0.7,
    "START_S": 30.0,
    "START_WAIT_S": 5.0,
    "TELL_AFTER_S": 5.0,
    "HEATER_TELLS_S": 2.0,
    "CURRENT_FLOWS": 0.1,
    "CURRENT_LESS": 0.65,
    "CURRENT_MORE": 1.45,
    "HEATER_BLIND_S": 10.0,
    "COLD_BATH_K": 3.0,
    "COLD_APART_K": 1.5,
    "COLD_BOWL_K": 8.0,
    "SWITCH_PROOF_S": 2.0,
    "PULSE_S": 90.0,
    "BOWL_DUE_K": 2.0,
    "BOWL_FOLLOWED_K": 0.5,
    "TURNED_S": 60.0,
    "LATE_TICKS_MAX": 2,
    "LATE_WINDOW_S": 60.0,
    "GAP_MAX_S": 10.0,
    "ELEMENT_LAG_S": 20.0,
    "TRANSFER_W_PER_K": 8.0,
    "TRANSFER_MAX_W_PER_K": 25.0,
    "TRANSFER_MIN_W_PER_K": 5.0,
    "BOWL_LOSS_MAX_W_PER_K": 1.0,
}


def test_every_threshold_is_the_one_written_here() -> None:
    found = {name: value for name, value in vars(th).items() if name.isupper()}
    assert found == GOLDEN


def test_the_compiled_ceilings_are_the_ones_written_here() -> None:
    assert (machine.BATH_CEILING_C, machine.BOWL_CEILING_C) == (70.0, 60.0)


def test_a_reading_is_stale_where_the_interlocks_say_so_too() -> None:
    assert signals.STALE_AFTER_S == th.PROBE_STALE_S


def test_the_stirrer_keeps_a_stopped_batch_soft_for_half_an_hour_at_most() -> None:
    assert (tick_module.STIR_ON_MAX_S, tick_module.STIR_HYSTERESIS_K) == (1800.0, 1.0)
