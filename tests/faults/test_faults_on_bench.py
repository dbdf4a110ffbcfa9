"""Every fault of the bench in hold, the gravest in other phases too: what sees it, if anything.

Times are bounds of ours on simulated machines, not published.
"""

import pytest

from controller.core.blind_spots import BLIND_SPOTS
from controller.core.interlocks import INTERLOCKS, Cause
from controller.errors import Exit
from controller.trials import Trial, run_trial
from controller.trials.faults import BEFORE_THE_RUN
from controller.wiring import BY_WORD, BenchFault
from tests.helpers.faulted import EVERYTHING, complaints, run_faulted, spec

# The first cause of a run with this fault, in whatever phase it comes.
EXPECTED = {
    BenchFault.RELAY_WELDED: Cause.RELAY_STUCK_ON,
    BenchFault.RELAY_OPEN: Cause.HEAT_WITHOUT_EFFECT,
    BenchFault.HEATER_DEAD: Cause.HEAT_WITHOUT_EFFECT,
    BenchFault.STIRRER_STOPPED: Cause.STIRRER_STOPPED,
    BenchFault.SHAFT_LOST: Cause.STIRRER_STOPPED,
    BenchFault.LEVEL_LOST: Cause.LEVEL_LOST,
    BenchFault.WATER_EMPTY: Cause.LEVEL_LOST,
    BenchFault.BATH_PROBE_OPEN: Cause.BATH_PROBE_MISSING,
    BenchFault.BATH_PROBE_SHORT: Cause.BATH_PROBE_MISSING,
    BenchFault.BATH_PROBE_CHECKSUM: Cause.BATH_PROBE_MISSING,
    BenchFault.BATH_PROBE_POWER_ON: Cause.BATH_PROBE_MISSING,
    BenchFault.BATH_PROBE_ALL_ZERO: Cause.BATH_PROBE_MISSING,
    BenchFault.BATH_PROBE_INTERMITTENT: Cause.BATH_PROBE_MISSING,
    BenchFault.BATH_PROBE_FROZEN: Cause.BATH_PROBE_FROZEN,
    BenchFault.BATH_PROBE_STALE: Cause.BATH_PROBE_STALE,
    BenchFault.BATH_PROBE_OUT_OF_RANGE: Cause.BATH_PROBE_OUT_OF_RANGE,
    BenchFault.BATH_PROBE_JUMPING: Cause.BATH_PROBE_JUMPING,
    BenchFault.BATH_PROBE_WET: Cause.BATH_PROBE_JUMPING,
    BenchFault.BATH_PROBE_NAN: Cause.BATH_PROBE_NOT_A_NUMBER,
    BenchFault.GUARD_PROBE_OPEN: Cause.GUARD_LATCHED,
    BenchFault.BOWL_PROBE_OPEN: Cause.BOWL_PROBE_MISSING,
    BenchFault.BOWL_PROBE_SHORT: Cause.BOWL_PROBE_MISSING,
    BenchFault.BOWL_PROBE_CHECKSUM: Cause.BOWL_PROBE_MISSING,
    BenchFault.BOWL_PROBE_POWER_ON: Cause.BOWL_PROBE_MISSING,
    BenchFault.BOWL_PROBE_ALL_ZERO: Cause.BOWL_PROBE_MISSING,
    BenchFault.BOWL_PROBE_INTERMITTENT: Cause.BOWL_PROBE_MISSING,
    BenchFault.BOWL_PROBE_FROZEN: Cause.BOWL_PROBE_FROZEN,
    BenchFault.BOWL_PROBE_STALE: Cause.BOWL_PROBE_STALE,
    BenchFault.BOWL_PROBE_OUT_OF_RANGE: Cause.BOWL_PROBE_OUT_OF_RANGE,
    BenchFault.BOWL_PROBE_JUMPING: Cause.BOWL_PROBE_JUMPING,
    BenchFault.BOWL_PROBE_WET: Cause.BOWL_PROBE_JUMPING,
    BenchFault.BOWL_PROBE_NAN: Cause.BOWL_PROBE_NOT_A_NUMBER,
    BenchFault.TICK_LATE: Cause.TICK_LATE,
    BenchFault.MEMORY_BIT: Cause.LIMITS_CHANGED,
}
# Seen in hold, where limits are tight and the stirrer turns; elsewhere by another row or not yet.
EXPECTED_IN_HOLD = {
    BenchFault.STIRRER_BLOCKED: Cause.STIRRER_STOPPED,
    BenchFault.POWER_DIP: Cause.STIRRER_STOPPED,  # one that lasts
    BenchFault.BELT_OFF: Cause.STIRRER_UNLOADED,
    BenchFault.STIRRER_REVERSED: Cause.STIRRER_UNLOADED,
    BenchFault.WATER_BOILING: Cause.GUARD_LATCHED,
    BenchFault.BATH_PROBE_OFFSET: Cause.BATH_PROBES_DISAGREE,
    BenchFault.BATH_PROBE_OUT: Cause.BATH_PROBES_DISAGREE,
    BenchFault.BATH_PROBE_DRIFT: Cause.BATH_PROBES_DISAGREE,
    BenchFault.GUARD_PROBE_OUT: Cause.BATH_PROBES_DISAGREE,
    BenchFault.GUARD_PROBE_FROZEN: Cause.GUARD_PROBE_FROZEN,
    BenchFault.BOWL_LIFTED: Cause.BOWL_UNLIKE_BATH,
    BenchFault.BOWL_PROBE_DRIFT: Cause.BOWL_UNLIKE_BATH,
    BenchFault.BOWL_PROBE_OFFSET: Cause.BOWL_FELL_ALONE,
    BenchFault.BOWL_PROBE_OUT: Cause.BOWL_FELL_ALONE,
    BenchFault.CLOCK_FORWARD: Cause.GUARD_LATCHED,
}
# Seen at once by what sees the heater itself, in hold where it is mostly off: voltage, current.
BY_VOLTAGE, BY_CURRENT = ("mains-live",), ("current",)
SEEN_AT_THE_HEATER = (
    (BenchFault.RELAY_WELDED, BY_VOLTAGE, Cause.HEATER_LIVE_WHEN_OFF),
    (BenchFault.RELAY_WELDED, BY_CURRENT, Cause.HEATER_LIVE_WHEN_OFF),
    (BenchFault.RELAY_OPEN, BY_VOLTAGE, Cause.HEATER_DEAD_WHEN_ON),
    (BenchFault.RELAY_OPEN, BY_CURRENT, Cause.HEATER_DEAD_WHEN_ON),
    (BenchFault.RELAY_CHATTERING, BY_VOLTAGE, Cause.HEATER_DEAD_WHEN_ON),
    (BenchFault.HEATER_DEAD, BY_CURRENT, Cause.HEATER_DEAD_WHEN_ON),
    (BenchFault.HEATER_HALF, BY_CURRENT, Cause.HEATER_POWER_WRONG),
    (BenchFault.HEATER_WRONG, BY_CURRENT, Cause.HEATER_POWER_WRONG),
    (BenchFault.POWER_DIP, BY_VOLTAGE, Cause.HEATER_DEAD_WHEN_ON),
    (BenchFault.MAINS_LIVE_STUCK, BY_VOLTAGE, Cause.HEATER_LIVE_WHEN_OFF),
    (BenchFault.MAINS_LIVE_DEAD, BY_VOLTAGE, Cause.HEATER_DEAD_WHEN_ON),
    (BenchFault.CURRENT_FROZEN, BY_CURRENT, Cause.HEATER_DEAD_WHEN_ON),
    (BenchFault.CURRENT_DEAD, BY_CURRENT, Cause.HEATER_DEAD_WHEN_ON),
)
AT_THE_HEATER_S = 3.0  # from the first look that could show it
PULSE_S = 8.0  # while it is told to be on nothing shows that it would stay so
PULSE_EVERY_S = 40.0  # in hold heat is asked for at least so often, as the bench shows
CHATTER_S = 300.0  # half of its pulses are as they should be
# Told as advice, and the run goes on: they hurt the batch or the clock, but nobody.
ADVISED_IN_HOLD = {
    BenchFault.RELAY_CHATTERING: Cause.HEAT_DEMAND_CHANGED,
    BenchFault.HEATER_HALF: Cause.HEAT_DEMAND_CHANGED,
    BenchFault.WATER_SPLASHED: Cause.LOAD_JUMPED,
    BenchFault.SEED_EARLY: Cause.BOWL_DISTURBED,
}
# Told, and heat waits for it, but the run goes on.
WARMING = {BenchFault.CHOCOLATE_ADDED}
# There before the run, and seen before it heats: tests/unit/test_core_start_proof.py.
BEFORE_HEAT = {BenchFault.PROFILE_WRONG}
# On a machine without these sensors there is nothing to break.
OF_THESE_SENSORS = {
    BenchFault.MAINS_LIVE_STUCK,
    BenchFault.MAINS_LIVE_DEAD,
    BenchFault.CURRENT_FROZEN,
    BenchFault.CURRENT_DEAD,
    BenchFault.CURRENT_LOST,
    BenchFault.STOP_PRESSED,
}
# The gravest, or those whose answer depends on what the machine is at: tried in three phases.
EVERYWHERE = (
    BenchFault.RELAY_WELDED,
    BenchFault.HEATER_DEAD,
    BenchFault.STIRRER_STOPPED,
    BenchFault.LEVEL_LOST,
    BenchFault.BATH_PROBE_OPEN,
    BenchFault.BATH_PROBE_FROZEN,
    BenchFault.BATH_PROBE_STALE,
    BenchFault.BATH_PROBE_OUT_OF_RANGE,
    BenchFault.BATH_PROBE_JUMPING,
    BenchFault.BATH_PROBE_NAN,
    BenchFault.GUARD_PROBE_OPEN,
    BenchFault.BOWL_PROBE_OPEN,
    BenchFault.BOWL_PROBE_FROZEN,
    BenchFault.BOWL_PROBE_STALE,
    BenchFault.BOWL_PROBE_OUT_OF_RANGE,
    BenchFault.BOWL_PROBE_JUMPING,
    BenchFault.BOWL_PROBE_NAN,
)
# What the fitted sensors can't see within a quarter of an hour of hold: each has its reason there.
UNSEEN = {BY_WORD[word] for spot in BLIND_SPOTS for word in spot.faults}
# Nothing is to see these: the run goes on as it would, or waits, or is over.
HARMLESS = {
    BenchFault.WATER_SWAPPED,  # tests/faults/test_rough_handling.py
    BenchFault.SEED_FORGOTTEN,  # in `dark`, which has none
    BenchFault.SWAP_FORGOTTEN,  # in hold, where none is asked for
    BenchFault.ANSWER_LATE,
    BenchFault.ANSWER_NEVER,
    BenchFault.POWER_CUT,
    BenchFault.CLOCK_BACK,  # heat is withheld for a minute, and that is all
    BenchFault.CLOCK_STALL,
    BenchFault.DISK_FULL,
    BenchFault.DISK_READ_ONLY,
    BenchFault.BROKER_AWAY,
    BenchFault.BROKER_FLOOD,
}
# How soon the run must be tripped, s: what a sensor shows at once is seen within its waiting time;
# what only the thermal picture shows takes minutes.
WAITING_S = 40.0
WITHIN_S = {
    BenchFault.RELAY_WELDED: 1500.0,  # while full heat is asked a weld changes nothing
    BenchFault.RELAY_OPEN: 900.0,
    BenchFault.HEATER_DEAD: 900.0,
    BenchFault.STIRRER_STOPPED: 1500.0,  # in melt, only once the stirrer is told to turn
    BenchFault.BATH_PROBE_FROZEN: 600.0,
    BenchFault.BATH_PROBE_INTERMITTENT: 600.0,
    BenchFault.BATH_PROBE_WET: 900.0,
    BenchFault.BATH_PROBE_OFFSET: 80.0,
    BenchFault.BATH_PROBE_OUT: 120.0,
    BenchFault.BATH_PROBE_DRIFT: 360.0,
    BenchFault.GUARD_PROBE_OUT: 120.0,
    BenchFault.GUARD_PROBE_FROZEN: 700.0,
    BenchFault.BOWL_LIFTED: 800.0,
    BenchFault.BOWL_PROBE_DRIFT: 800.0,
    BenchFault.BOWL_PROBE_OFFSET: 320.0,
    BenchFault.BOWL_PROBE_OUT: 340.0,
    BenchFault.BOWL_PROBE_FROZEN: 1000.0,
    BenchFault.BOWL_PROBE_INTERMITTENT: 600.0,
    BenchFault.BOWL_PROBE_WET: 900.0,
}
AFTER_S = 200.0
QUARTER_HOUR_S = 900.0
ADVISED_WITHIN_S = 600.0
HOLD_FROM_S = 4000.0  # by then a run of `dark` on the quick machine holds, own engineering value


def test_every_fault_stands_in_one_of_the_tables() -> None:
    tables = [set(EXPECTED), set(EXPECTED_IN_HOLD), set(ADVISED_IN_HOLD), UNSEEN, HARMLESS]
    tables += [OF_THESE_SENSORS, BEFORE_HEAT, WARMING]
    assert set.union(*tables) == set(BenchFault)
    assert sum(map(len, tables)) == len(BenchFault)


@pytest.mark.parametrize(
    ("fault", "phase"),
    [(fault, phase) for fault in EVERYWHERE for phase in ("melt", "cool")]
    + [(fault, "hold") for fault in (*EXPECTED, *EXPECTED_IN_HOLD)],
)
def test_a_fault_ends_with_the_heater_off_and_the_right_cause(
    fault: BenchFault, phase: str
) -> None:
    texts = [f"{fault}@{phase}+{AFTER_S:g}s"]

    run = run_faulted("dark", texts)

    assert run.outcome.exit is Exit.TRIPPED
    assert run.cause == (EXPECTED | EXPECTED_IN_HOLD)[fault]
    injected_s = run.since(phase, AFTER_S)
    trip_after_s = run.outcome.trips[0].at_s - injected_s
    assert 0.0 < trip_after_s <= WITHIN_S.get(fault, WAITING_S)
    assert complaints(run, texts) == []


@pytest.mark.parametrize("fault", sorted(ADVISED_IN_HOLD))
def test_what_hurts_only_the_batch_is_told_as_advice_and_heat_goes_on(fault: BenchFault) -> None:
    texts = [f"{fault}@hold+{AFTER_S:g}s"]

    run = run_faulted("dark", texts, give_up_after_s=HOLD_FROM_S + AFTER_S + QUARTER_HOUR_S)

    assert run.cause is None
    assert list(run.watch.told_s) == [ADVISED_IN_HOLD[fault]]
    told_s = run.watch.told_s[ADVISED_IN_HOLD[fault]] - run.since("hold", AFTER_S)
    assert 0.0 < told_s <= ADVISED_WITHIN_S
    assert complaints(run, texts) == []


@pytest.mark.parametrize("fault", sorted(WARMING))
def test_a_bowl_that_is_warmed_is_told_and_heat_waits_for_it(fault: BenchFault) -> None:
    texts = [f"{fault}@hold+{AFTER_S:g}s"]

    run = run_faulted("dark", texts, give_up_after_s=HOLD_FROM_S + AFTER_S + QUARTER_HOUR_S)

    assert run.cause is None
    assert list(run.watch.told_s) == [Cause.BOWL_TOO_WARM, Cause.BOWL_DISTURBED]
    told_s = run.watch.told_s[Cause.BOWL_TOO_WARM] - run.since("hold", AFTER_S)
    assert 0.0 < told_s <= ADVISED_WITHIN_S
    assert complaints(run, texts) == []


@pytest.mark.parametrize(("fault", "fitted", "cause"), SEEN_AT_THE_HEATER)
def test_what_is_seen_at_the_heater_itself_ends_heat_within_seconds(
    fault: BenchFault, fitted: tuple[str, ...], cause: Cause
) -> None:
    texts = [f"{fault}@hold+{AFTER_S:g}s"]

    run = run_faulted("dark", texts, give_up_after_s=HOLD_FROM_S + AFTER_S, fitted=fitted)

    assert run.cause == cause
    trip_after_s = run.outcome.trips[0].at_s - run.since("hold", AFTER_S)
    waits_s = PULSE_S if cause is Cause.HEATER_LIVE_WHEN_OFF else PULSE_EVERY_S
    if fault is BenchFault.RELAY_CHATTERING:
        waits_s = CHATTER_S
    assert 0.0 < trip_after_s <= waits_s + AT_THE_HEATER_S
    assert complaints(run, texts) == []


def test_a_current_sensor_that_falls_silent_is_told_and_heat_goes_on() -> None:
    texts = [f"{BenchFault.CURRENT_LOST}@hold+{AFTER_S:g}s"]

    run = run_faulted("dark", texts, give_up_after_s=HOLD_FROM_S + AFTER_S, fitted=BY_CURRENT)

    assert run.cause is None
    assert list(run.watch.told_s) == [Cause.HEATER_UNSEEN]


def test_a_stop_button_that_is_pressed_ends_the_run_in_its_tick_and_is_no_trip() -> None:
    run = run_faulted("dark", ["stop-pressed@melt+120s"], fitted=("stop",))

    assert run.outcome.exit is Exit.STOPPED
    assert run.cause is None
    assert run.watch.heat_s == run.since("melt", 120.0)
    assert not run.watch.is_on


def test_a_batch_of_more_than_twice_what_the_file_says_is_told_before_it_is_cooled() -> None:
    run = run_faulted("dark", ["amount-wrong:220%"], give_up_after_s=HOLD_FROM_S)

    assert run.watch.told_s[Cause.AMOUNT_UNLIKELY] < run.since("cool", 0.0)


@pytest.mark.parametrize("fault", sorted(UNSEEN | HARMLESS))
def test_what_nothing_sees_trips_nothing_and_does_no_harm(fault: BenchFault) -> None:
    texts = [spec(fault, f"@hold+{AFTER_S:g}s")]

    run = run_faulted("dark", texts, give_up_after_s=HOLD_FROM_S + AFTER_S + QUARTER_HOUR_S)

    assert run.cause is None
    if fault in UNSEEN:
        assert run.watch.told_s == {}
    if fault is not BenchFault.POWER_CUT and not BEFORE_THE_RUN & set(fault.acts):
        assert run.outcome.lasted_s >= run.since("hold", AFTER_S) + QUARTER_HOUR_S / 2
    assert complaints(run, texts) == []


@pytest.mark.parametrize(
    "fault",
    [
        BenchFault.BATH_PROBE_OPEN,
        BenchFault.BATH_PROBE_NAN,
        BenchFault.BATH_PROBE_OUT_OF_RANGE,
        BenchFault.BOWL_PROBE_OPEN,
        BenchFault.LEVEL_LOST,
    ],
)
def test_heat_is_withheld_in_the_very_next_tick_after_a_sensor_is_lost(fault: BenchFault) -> None:
    # Early in melt the heater is on without a break.
    run = run_faulted("dark", [f"{fault}@melt+120s"])

    assert run.outcome.exit is Exit.TRIPPED
    assert run.watch.heat_s == run.since("melt", 120.0)


@pytest.mark.parametrize(
    ("machine", "size", "after_s", "within_s"),
    [
        ("drawn-611-661", "5K", 112.0, 920.0),
        # Under a bath that is kept 0.4 K under form V's melting a drift is told some seconds later.
        ("drawn-611-875", "-5K", 553.0, 680.0),
        # Before the hold has settled, so that it never does. Its guard's thermometer says more than
        # its bath's: the bath is kept so much lower, and the drift is told some seconds later.
        ("drawn-624-352", "-5K", 5.0, 730.0),
    ],
)
def test_a_bowls_thermometer_that_creeps_in_hold_is_seen_either_way(
    machine: str, size: str, after_s: float, within_s: float
) -> None:
    # On a machine of little transfer, what is believed of it creeps along with its thermometer.
    faults = (f"bowl-probe-drift:{size}@hold+{after_s:g}s",)

    outcome = run_trial(Trial(profile="dark", machine=machine, faults=faults))

    (hold,) = [phase for phase in outcome.phases if phase.name == "hold"]
    assert outcome.trips[0].cause == Cause.BOWL_UNLIKE_BATH
    assert outcome.trips[0].at_s - (hold.start_s + after_s) <= within_s


def test_a_welded_relay_in_hold_is_seen_before_the_chocolate_melts_out() -> None:
    faults = ("relay-welded@hold+10min",)

    outcome = run_trial(Trial(profile="dark", fitted=EVERYTHING, faults=faults))

    (hold,) = [phase for phase in outcome.phases if phase.name == "hold"]
    # On the reference machine a relay that welds at working temperature passes form V's melting
    # after about 4.6 min (own computation on the bench's constants).
    assert outcome.trips[0].cause == Cause.RELAY_STUCK_ON
    assert outcome.trips[0].at_s - (hold.start_s + 600.0) <= 150.0
    # No second switch here: software saw it, but the heater itself stays on. The summary says so.
    assert outcome.truth.bath_c > 40.0
    (row,) = [row for row in INTERLOCKS if row.cause is Cause.RELAY_STUCK_ON]
    assert "stuck closed" in row.action


def test_a_second_switch_spares_the_batch_a_welded_relay_and_welded_itself_it_does_not() -> None:
    fitted = (*EVERYTHING, "second-switch")
    spared, both = (
        run_trial(Trial(profile="dark", fitted=fitted, faults=faults))
        for faults in (
            ("relay-welded@hold+10min",),
            ("second-switch-welded@melt", "relay-welded@hold+10min"),
        )
    )
    assert spared.exit is Exit.DONE
    assert spared.truth.bath_c < 35.0
    assert both.trips[0].cause == Cause.RELAY_STUCK_ON
    assert both.truth.bath_c > 40.0


def test_a_guards_thermometer_that_never_spoke_ends_the_run_at_its_start() -> None:
    """The guard latches for it only in a run that was heated: else the run would wait all day."""
    run = run_faulted("dark", ["guard-probe-open"])
    assert run.outcome.exit is Exit.TRIPPED
    assert run.outcome.causes == ("guard-probe-missing",)
    assert run.outcome.lasted_s < 60.0
