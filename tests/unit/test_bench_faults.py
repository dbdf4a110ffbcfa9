"""Each fault of the bench, as it shows from outside."""

import math

import pytest

from controller.ports import Fault, Kind, Quality, Reading, Sensor
from hardware.bench.attach import Bench, BenchFault, attach
from hardware.bench.faults import BY_WORD
from tests.helpers.whole_bench import whole_bench

STEP_K = 0.0625


@pytest.fixture
def bench() -> Bench:
    """Everything fitted, stirring, read for a while."""
    bench = whole_bench(frozenset({"level", "shaft", "load"}))
    for second in range(10):
        bench.devices.bath.read(float(second))
        bench.devices.bowl.read(float(second))
    return bench


def probe_of(bench: Bench, where: str) -> Sensor:
    """The bath's or the bowl's thermometer."""
    return bench.devices.bath if where == "bath" else bench.devices.bowl


def read_on(bench: Bench, where: str, seconds: int = 20) -> list[Reading]:
    """Readings of the next seconds, heating at full power."""
    bench.devices.heater.drive(on=True, now_s=9.0)
    return [probe_of(bench, where).read(10.0 + second) for second in range(seconds)]


def there(sensor: Sensor | None) -> Sensor:
    """A sensor that is fitted."""
    assert sensor is not None
    return sensor


def test_a_welded_relay_heats_though_told_off(bench: Bench) -> None:
    bench.inject(BenchFault.RELAY_WELDED)
    bench.devices.heater.drive(on=False, now_s=20.0)
    bench.devices.heater.drive(on=False, now_s=30.0)
    assert bench.truth().energy_j == pytest.approx(500.0 * 21.0)
    bench.clear(BenchFault.RELAY_WELDED)
    bench.devices.bath.read(60.0)
    assert bench.truth().energy_j == pytest.approx(500.0 * 21.0)


def test_a_dead_heater_stays_cold_though_told_on(bench: Bench) -> None:
    bench.inject(BenchFault.HEATER_DEAD)
    bench.devices.heater.drive(on=True, now_s=20.0)
    bench.devices.bath.read(60.0)
    assert bench.truth().energy_j == 0.0


def test_a_dead_heater_behind_a_welded_relay_stays_cold(bench: Bench) -> None:
    bench.inject(BenchFault.RELAY_WELDED)
    bench.inject(BenchFault.HEATER_DEAD)
    bench.devices.bath.read(60.0)
    assert bench.truth().energy_j == 0.0


def test_a_stopped_stirrer_gives_no_pulses_and_takes_no_load(bench: Bench) -> None:
    shaft, load = there(bench.devices.shaft), there(bench.devices.load)
    assert shaft.read(20.0).value == pytest.approx(30.0)
    assert load.read(20.0).value > 0.0
    bench.inject(BenchFault.STIRRER_STOPPED)
    bench.devices.stirrer.drive(rpm=30.0, now_s=21.0)
    assert shaft.read(40.0) == Reading(0.0)
    assert load.read(40.0).value == 0.0
    bench.clear(BenchFault.STIRRER_STOPPED)
    assert shaft.read(60.0).value == pytest.approx(30.0)


def test_a_lost_level_opens_the_float_switch(bench: Bench) -> None:
    level = there(bench.devices.level)
    assert level.read(20.0) == Reading(1.0)
    bench.inject(BenchFault.LEVEL_LOST)
    assert level.read(21.0) == Reading(0.0)


both = pytest.mark.parametrize("where", ["bath", "bowl"])


@both
def test_a_probe_that_is_open_gives_no_answer(bench: Bench, where: str) -> None:
    bench.inject(BY_WORD[f"{where}-probe-open"])
    for reading in read_on(bench, where):
        assert reading.fault is Fault.NO_ANSWER
        assert math.isnan(reading.value)


@both
def test_a_frozen_probe_repeats_one_code_and_looks_fresh(bench: Bench, where: str) -> None:
    last = probe_of(bench, where).read(9.0)
    bench.inject(BY_WORD[f"{where}-probe-frozen"])
    assert set(read_on(bench, where, 300)) == {last}
    assert last.age_s == 0.75


@both
def test_a_stale_probe_grows_old(bench: Bench, where: str) -> None:
    last = probe_of(bench, where).read(9.0)
    bench.inject(BY_WORD[f"{where}-probe-stale"])
    readings = read_on(bench, where)
    assert {reading.value for reading in readings} == {last.value}
    assert [reading.age_s for reading in readings] == [
        pytest.approx(0.75 + 1.0 + second) for second in range(len(readings))
    ]
    assert readings[-1].quality is Quality.UNCERTAIN


@both
def test_a_probe_out_of_range_reads_what_no_kitchen_has(bench: Bench, where: str) -> None:
    bench.inject(BY_WORD[f"{where}-probe-out-of-range"])
    assert {reading.value for reading in read_on(bench, where)} == {-127.0, 120.0}


@both
def test_a_jumping_probe_reads_up_to_10_k_off(bench: Bench, where: str) -> None:
    true_c = probe_of(bench, where).read(9.0).value
    bench.inject(BY_WORD[f"{where}-probe-jumping"])
    offs = [reading.value - true_c for reading in read_on(bench, where)]
    assert min(offs) < -3.0
    assert max(offs) > 3.0
    assert all(abs(off) < 11.0 for off in offs)


@both
def test_a_probes_nan_comes_without_a_fault(bench: Bench, where: str) -> None:
    bench.inject(BY_WORD[f"{where}-probe-nan"])
    for reading in read_on(bench, where):
        assert math.isnan(reading.value)
        assert reading.fault is Fault.NONE
        assert reading.quality is Quality.BAD


@both
def test_the_other_thermometer_is_not_touched(bench: Bench, where: str) -> None:
    other = "bowl" if where == "bath" else "bath"
    bench.inject(BY_WORD[f"{where}-probe-open"])
    assert all(reading.quality is Quality.GOOD for reading in read_on(bench, other))


@both
def test_a_mended_probe_reads_the_present_again(bench: Bench, where: str) -> None:
    bench.inject(BY_WORD[f"{where}-probe-stale"])
    read_on(bench, where)
    bench.clear(BY_WORD[f"{where}-probe-stale"])
    reading = probe_of(bench, where).read(600.0)
    truth = bench.truth()
    true_c = truth.bath_c if where == "bath" else truth.bowl_c
    assert reading.value == pytest.approx(true_c, abs=1.0)
    assert reading.quality is Quality.GOOD


@both
def test_an_open_circuit_wins_over_what_was_there_before(bench: Bench, where: str) -> None:
    bench.inject(BY_WORD[f"{where}-probe-jumping"])
    bench.inject(BY_WORD[f"{where}-probe-open"])
    assert read_on(bench, where, 1)[0].fault is Fault.NO_ANSWER


@both
def test_a_probe_frozen_before_the_first_reading_holds_the_first(where: str) -> None:
    cold = attach(
        machine="reference",
        seed=6,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset(),
    )
    cold.inject(BY_WORD[f"{where}-probe-frozen"])
    readings = read_on(cold, where, 600)
    assert len(set(readings)) == 1
    assert readings[0].value == pytest.approx(20.0, abs=2 * STEP_K)
