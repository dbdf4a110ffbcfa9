"""The table of faults, and what those do that probes, water and stirrer can have besides."""

import math
import re

import pytest

from controller.ports import Fault, Quality, Sensor
from hardware.bench.attach import Bench, BenchFault
from hardware.bench.faults import BY_WORD
from hardware.bench.upsets import Part
from tests.helpers.whole_bench import whole_bench

MELTED_S = 1500.0
EVERYTHING = frozenset({"level", "shaft", "load", "second-switch", "mains-live", "current", "stop"})
# Parts that ask the bench from outside: tests/unit/test_trials_*.py hold those.
AROUND_IT = {
    Part.FILLING,
    Part.BATCH,
    Part.COMPUTER,
    Part.CLOCK,
    Part.SLEEP,
    Part.TICK,
    Part.DISK,
    Part.MEMORY,
    Part.BROKER,
    Part.INBOX,
}


def a_bench(fitted: frozenset[str] = EVERYTHING, *, filled: float = 1.0) -> Bench:
    """A whole bench, fitted with all that these rows break."""
    return whole_bench(fitted, filled=filled)


def melted() -> Bench:
    """A bench whose chocolate has melted in a hot bath, `MELTED_S` on."""
    bench = a_bench()
    bench.swap_water(share=1.0, water_c=75.0)
    read(bench.devices.bath, MELTED_S)
    read(bench.devices.bowl, MELTED_S)
    assert bench.truth().bowl_c > 36.0
    return bench


def just_heated() -> Bench:
    """The same bench a minute after its bath was made hotter."""
    bench = melted()
    bench.swap_water(share=0.5, water_c=75.0)
    read(bench.devices.bath, MELTED_S + 60.0)
    read(bench.devices.bowl, MELTED_S + 60.0)
    return bench


def read(sensor: Sensor | None, now_s: float) -> float:
    """A value that must be good."""
    assert sensor is not None
    reading = sensor.read(now_s)
    assert reading.quality is Quality.GOOD
    return reading.value


@pytest.mark.parametrize("fault", BenchFault)
def test_every_row_has_a_plain_word_a_place_and_a_sentence(fault: BenchFault) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)+", fault)
    assert fault.name == fault.replace("-", "_").upper()
    assert BY_WORD[str(fault)] is fault
    assert fault.acts
    assert fault.says[0].isupper()
    assert fault.says.endswith(".")
    assert "\n" not in fault.says


def test_every_part_can_be_broken() -> None:
    unbroken = {Part.LOAD, Part.LID}  # by no row yet, but one is enough: test_bench_rows.py
    assert {part for fault in BenchFault for part in fault.acts} >= set(Part) - unbroken


@pytest.mark.parametrize(
    "fault", [fault for fault in BenchFault if not set(fault.acts) <= AROUND_IT]
)
def test_every_fault_of_machine_and_cook_changes_something(fault: BenchFault) -> None:
    untouched, broken = melted(), melted()
    for bench in (untouched, broken):
        if fault in HIDDEN_BEHIND:
            bench.inject(HIDDEN_BEHIND[fault])
    broken.inject(fault)
    assert seen(broken) != seen(untouched)


# Alone they change nothing: that is their point.
HIDDEN_BEHIND = {
    BenchFault.RELAY_WELDED: BenchFault.SECOND_SWITCH_WELDED,
    BenchFault.SECOND_SWITCH_WELDED: BenchFault.RELAY_WELDED,
    BenchFault.LEVEL_STUCK: BenchFault.WATER_EMPTY,
}


def seen(bench: Bench) -> list[object]:
    """All that a bench shows in a few minutes, what its cook would do included."""
    devices, shown = bench.devices, list[object]()
    named = (devices.bath, devices.bowl, devices.level, devices.shaft, devices.load)
    sensors = (*named, devices.current, devices.stop, bench.mains_live)
    for second in range(round(MELTED_S) + 1, round(MELTED_S) + 200):
        now_s = float(second)
        devices.heater.drive(on=second % 60 < 30, now_s=now_s)
        devices.stirrer.drive(rpm=30.0, now_s=now_s)
        shown += [sensor.read(now_s) for sensor in (*sensors, bench.guard_probe) if sensor]
    cook = (Part.SEEDING, Part.SWAPPING, Part.ANSWERING, Part.CHOOSING)
    return [*shown, bench.truth(), *(bench.altered(part, 0.5) for part in cook)]


# Switches and heater


def power_w(bench: Bench, told: list[bool], begin_s: float = 10.0) -> list[float]:
    """What the element takes in each second of being told on or off."""
    powers = []
    for second, on in enumerate(told):
        bench.devices.heater.drive(on=on, now_s=begin_s + second)
        before_j = bench.truth().energy_j
        bench.devices.bath.read(begin_s + second + 1.0)
        powers.append(bench.truth().energy_j - before_j)
    return powers


def test_a_second_switch_spares_the_bath_a_welded_first_one() -> None:
    single, double = a_bench(frozenset()), a_bench(frozenset({"second-switch"}))
    for bench in (single, double):
        bench.inject(BenchFault.RELAY_WELDED)
    assert power_w(single, [False, True]) == [500.0, 500.0]
    assert power_w(double, [False, True]) == [0.0, 500.0]
    double.inject(BenchFault.SECOND_SWITCH_WELDED)
    assert power_w(double, [False, True], 20.0) == [500.0, 500.0]


def test_an_open_relay_never_heats_and_a_chattering_one_half_of_the_time() -> None:
    bench = a_bench()
    bench.inject(BenchFault.RELAY_OPEN)
    assert power_w(bench, [True, False]) == [0.0, 0.0]
    bench.clear(BenchFault.RELAY_OPEN)
    bench.inject(BenchFault.RELAY_CHATTERING)
    assert set(power_w(bench, [False] * 20, 20.0)) == {0.0}
    powers = power_w(bench, [True] * 400, 50.0)
    assert set(powers) == {0.0, 500.0}
    assert sum(powers) / len(powers) == pytest.approx(250.0, abs=50.0)


def test_an_element_may_be_of_another_power() -> None:
    bench = a_bench()
    bench.inject(BenchFault.HEATER_WRONG, 1.6)
    assert power_w(bench, [True, False]) == [800.0, 0.0]
    bench.inject(BenchFault.HEATER_HALF)
    assert power_w(bench, [True], 20.0) == [400.0]


def test_a_dip_takes_heat_and_stirrer_and_gives_them_back() -> None:
    bench = melted()
    assert power_w(bench, [True], MELTED_S) == [500.0]
    bench.inject(BenchFault.POWER_DIP)
    assert power_w(bench, [True] * 20, MELTED_S + 1.0) == [0.0] * 20
    assert read(bench.devices.shaft, MELTED_S + 21.0) == 0.0
    bench.clear(BenchFault.POWER_DIP)
    assert power_w(bench, [True] * 20, MELTED_S + 21.0)[1:] == [500.0] * 19
    assert read(bench.devices.shaft, MELTED_S + 41.0) == pytest.approx(30.0, abs=1.0)


# Thermometers

both = pytest.mark.parametrize("where", ["bath", "bowl"])


def probe_of(bench: Bench, where: str) -> Sensor:
    """The bath's or the bowl's thermometer."""
    return bench.devices.bath if where == "bath" else bench.devices.bowl


@both
@pytest.mark.parametrize(
    ("how", "fault"),
    [
        ("short", Fault.DEVICE),
        ("checksum", Fault.CHECKSUM),
        ("power-on", Fault.POWER_ON_VALUE),
        ("all-zero", Fault.ALL_ZERO),
    ],
)
def test_a_probe_that_gives_no_value_says_why(how: str, fault: Fault, where: str) -> None:
    bench = a_bench()
    bench.inject(BY_WORD[f"{where}-probe-{how}"])
    reading = probe_of(bench, where).read(10.0)
    assert reading.fault is fault
    assert math.isnan(reading.value)


@both
@pytest.mark.parametrize("off_k", [-5.0, 2.0])
def test_a_drifting_probe_creeps_away_and_an_offset_is_there_at_once(
    off_k: float, where: str
) -> None:
    right, drifts, is_off = a_bench(), a_bench(), a_bench()
    drifts.inject(BY_WORD[f"{where}-probe-drift"], off_k)
    is_off.inject(BY_WORD[f"{where}-probe-offset"], off_k)
    for now_s, share in ((10.0, 0.0), (310.0, 0.5), (610.0, 1.0), (5000.0, 1.0)):
        true_c = read(probe_of(right, where), now_s)
        drifted_k = read(probe_of(drifts, where), now_s) - true_c
        assert drifted_k == pytest.approx(share * off_k, abs=0.07)
        assert read(probe_of(is_off, where), now_s) - true_c == pytest.approx(off_k, abs=0.07)


def test_a_slow_probe_is_63_percent_there_after_its_time() -> None:
    bench = a_bench()
    bench.inject(BenchFault.BATH_PROBE_SLOW, 300.0)
    cold_c = read(bench.devices.bath, 10.0)
    bench.swap_water(share=1.0, water_c=60.0)
    read(bench.devices.bath, 40.0)  # the thermometer itself has followed by now
    for second in range(41, 311):
        read(bench.devices.bath, float(second))
    risen_k = read(bench.devices.bath, 311.0) - cold_c
    assert risen_k / (bench.truth().bath_c - cold_c) == pytest.approx(0.65, abs=0.05)


@both
def test_an_intermittent_probe_loses_its_share_of_values(where: str) -> None:
    bench = a_bench()
    bench.devices.stirrer.drive(rpm=0.0, now_s=0.0)  # it would warm set chocolate
    bench.inject(BY_WORD[f"{where}-probe-intermittent"], 0.2)
    readings = [probe_of(bench, where).read(10.0 + second) for second in range(1000)]
    lost = [reading for reading in readings if reading.fault is Fault.NO_ANSWER]
    assert len(lost) == pytest.approx(200, abs=50)
    assert all(abs(reading.value - 20.0) < 1.0 for reading in readings if reading not in lost)


@both
def test_a_wet_plug_fails_some_checksums_and_lets_some_wrong_values_pass(where: str) -> None:
    bench = a_bench()
    bench.devices.stirrer.drive(rpm=0.0, now_s=0.0)
    bench.inject(BY_WORD[f"{where}-probe-wet"])
    readings = [probe_of(bench, where).read(10.0 + second) for second in range(1000)]
    failed = [reading for reading in readings if reading.fault is Fault.CHECKSUM]
    passed = [reading.value for reading in readings if reading.fault is Fault.NONE]
    assert len(failed) == pytest.approx(150, abs=40)
    wrong = [value_c for value_c in passed if abs(value_c - 20.0) > 1.0]
    assert 20 < len(wrong) < 80
    assert all(abs(value_c - 20.0) < 11.0 for value_c in passed)


@both
def test_a_probe_out_of_its_place_comes_to_the_air_of_the_room(where: str) -> None:
    bench = melted()
    bench.inject(BY_WORD[f"{where}-probe-out"])
    assert read(probe_of(bench, where), MELTED_S + 1.0) > 35.0
    read(probe_of(bench, where), MELTED_S + 2.0)
    assert read(probe_of(bench, where), MELTED_S + 600.0) == pytest.approx(20.0, abs=0.3)


def test_swapped_probes_read_each_other_s_place_and_the_guard_s_its_own() -> None:
    bench = just_heated()
    bench.inject(BenchFault.PROBES_SWAPPED)
    truth, now_s = bench.truth(), MELTED_S + 61.0
    assert truth.bath_c - truth.bowl_c > 2.0
    assert read(bench.devices.bath, now_s) == pytest.approx(truth.bowl_c, abs=0.5)
    assert read(bench.devices.bowl, now_s) == pytest.approx(truth.bath_c, abs=0.5)
    assert read(bench.guard_probe, now_s) == pytest.approx(truth.bath_c, abs=0.5)


def test_a_bowl_probe_at_the_wall_reads_between_bowl_and_bath() -> None:
    bench = just_heated()
    bench.inject(BenchFault.BOWL_PROBE_AT_WALL)
    truth = bench.truth()
    assert truth.bowl_c + 1.0 < read(bench.devices.bowl, MELTED_S + 61.0) < truth.bath_c


# Water, lid and bowl


def test_a_dry_bath_opens_the_float_unless_the_float_is_stuck() -> None:
    bench = a_bench()
    assert read(bench.devices.level, 10.0) == 1.0
    bench.inject(BenchFault.WATER_EMPTY)
    assert bench.plant.water_kg == pytest.approx(0.0, abs=1e-9)
    assert read(bench.devices.level, 11.0) == 0.0
    bench.inject(BenchFault.LEVEL_STUCK)
    assert read(bench.devices.level, 12.0) == 1.0


def test_water_may_be_low_or_spilled_or_another_s() -> None:
    for fault, size, left_kg in (
        (BenchFault.WATER_LOW, 0.4, 1.2),
        (BenchFault.WATER_SPILLED, 0.4, 1.8),
        (BenchFault.WATER_SWAPPED, 0.4, 3.0),
    ):
        bench = a_bench()
        bench.inject(fault, size)
        assert bench.plant.water_kg == pytest.approx(left_kg)


def test_boiling_water_and_water_from_the_tap_change_the_bath_by_their_share() -> None:
    hot, cold = melted(), melted()
    before_c = hot.truth().bath_c
    hot.inject(BenchFault.WATER_BOILING, 0.3)
    cold.inject(BenchFault.WATER_SWAPPED, 0.3)
    # By hand, with the pot's 400 J/K: the share of the bath's heat that is water is 0.97 at 3 kg.
    assert hot.truth().bath_c - before_c == pytest.approx(0.291 * (100.0 - before_c), rel=0.02)
    assert cold.truth().bath_c - before_c == pytest.approx(0.291 * (15.0 - before_c), rel=0.02)


def test_lid_and_bowl_are_where_the_faults_put_them_and_go_back() -> None:
    bench = a_bench()
    bench.inject(BenchFault.LID_OFF)
    bench.inject(BenchFault.BOWL_LIFTED)
    assert (bench.plant.lid_open, bench.plant.bowl_in) == (True, False)
    bench.clear(BenchFault.LID_OFF)
    bench.clear(BenchFault.BOWL_LIFTED)
    assert (bench.plant.lid_open, bench.plant.bowl_in) == (False, True)


def test_water_splashed_in_and_chocolate_added_are_weighed() -> None:
    bench = melted()
    before_kg, water_kg = bench.plant.mass_kg, bench.plant.water_kg
    bench.inject(BenchFault.WATER_SPLASHED, 0.02)
    assert bench.plant.mass_kg == pytest.approx(before_kg + 0.02)
    assert bench.plant.water_kg == pytest.approx(water_kg - 0.02)
    bench.inject(BenchFault.CHOCOLATE_ADDED, 0.3)
    assert bench.plant.mass_kg == pytest.approx(before_kg + 0.32)


def test_a_bowl_may_be_filled_with_another_amount_than_was_said() -> None:
    assert a_bench(filled=1.5).plant.mass_kg == pytest.approx(1.5 * a_bench().plant.mass_kg)


# Stirrer


def turns_at_rpm(bench: Bench, begin_s: float) -> tuple[float, float]:
    """What the shaft's pulses say of a stirrer told to turn at 30 rpm, and how it really turns."""
    bench.devices.stirrer.drive(rpm=30.0, now_s=begin_s)
    return read(bench.devices.shaft, begin_s + 20.0), bench.plant.rpm


def test_pulses_do_not_say_which_way_a_stirrer_turns() -> None:
    bench = melted()
    bench.inject(BenchFault.STIRRER_REVERSED)
    pulses_rpm, really_rpm = turns_at_rpm(bench, MELTED_S)
    assert pulses_rpm == pytest.approx(30.0, abs=1.0)
    assert really_rpm == pytest.approx(-30.0, abs=1.0)


def test_a_motor_without_its_belt_turns_and_pulses_and_stirs_nothing() -> None:
    bench = melted()
    bench.inject(BenchFault.BELT_OFF)
    assert turns_at_rpm(bench, MELTED_S) == (30.0, 0.0)
    bench.devices.stirrer.drive(rpm=0.0, now_s=MELTED_S + 30.0)
    assert read(bench.devices.shaft, MELTED_S + 40.0) == 0.0


def test_a_shaft_s_sensor_may_fail_while_the_stirrer_turns() -> None:
    bench = melted()
    bench.inject(BenchFault.SHAFT_LOST)
    pulses_rpm, really_rpm = turns_at_rpm(bench, MELTED_S)
    assert pulses_rpm == 0.0
    assert really_rpm == pytest.approx(30.0, abs=1.0)


def test_a_wedged_lump_holds_the_stirrer_until_half_of_it_has_melted() -> None:
    bench = melted()
    bench.inject(BenchFault.STIRRER_BLOCKED, 0.1)
    held = []
    for second in range(1200):
        bench.devices.stirrer.drive(rpm=30.0, now_s=MELTED_S + second)
        held.append((bench.plant.solid_kg > 0.05, read(bench.devices.shaft, MELTED_S + second)))
    assert held[60] == (True, 0.0)
    assert held[-1][0] is False
    assert held[-1][1] == pytest.approx(30.0, abs=1.0)
