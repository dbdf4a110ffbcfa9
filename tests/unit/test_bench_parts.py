"""The bench's sensors and drives: noise, quanta, pulses and repeatability."""

import statistics

import pytest

from controller.ports import Devices, Kind, Reading
from hardware.bench.attach import attach
from hardware.bench.machines import REFERENCE


def devices_of(seed: int = 1, kind: Kind = Kind.DARK) -> Devices:
    """Devices of a fully fitted reference bench."""
    return attach(
        machine="reference",
        seed=seed,
        kind=kind,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset({"level", "shaft", "load"}),
    ).devices


def a_run(devices: Devices) -> list[Reading]:
    """Readings of ten minutes, heating and stirring."""
    assert devices.load is not None
    readings = []
    for second in range(600):
        now_s = float(second)
        readings += [devices.bath.read(now_s), devices.bowl.read(now_s), devices.load.read(now_s)]
        devices.heater.drive(on=second % 3 > 0, now_s=now_s)
        devices.stirrer.drive(rpm=30.0, now_s=now_s)
    return readings


def test_the_same_seed_gives_the_same_readings() -> None:
    assert a_run(devices_of(7)) == a_run(devices_of(7))


def test_another_seed_gives_other_noise() -> None:
    assert a_run(devices_of(7)) != a_run(devices_of(8))


def test_reading_twice_in_one_moment_is_one_conversion() -> None:
    once, twice = devices_of(), devices_of()
    assert once.load is not None
    assert twice.load is not None
    for devices in (once, twice):
        devices.stirrer.drive(rpm=30.0, now_s=0.0)
    for second in range(50):
        now_s = float(second)
        twice.bath.read(now_s)
        twice.load.read(now_s)
        assert once.bath.read(now_s) == twice.bath.read(now_s)
        assert once.load.read(now_s) == twice.load.read(now_s)


def test_the_noise_of_one_probe_does_not_hang_on_reading_the_other() -> None:
    both, one = devices_of(), devices_of()
    for second in range(50):
        both.bowl.read(float(second))
        assert both.bath.read(float(second)) == one.bath.read(float(second))


def test_noise_is_small_and_without_bias() -> None:
    values = [devices_of().bath.read(0.0).value]
    values += [devices_of(seed).bath.read(0.0).value for seed in range(400)]
    assert statistics.fmean(values) == pytest.approx(20.0, abs=0.01)
    assert 0.0 < statistics.pstdev(values) < 0.06


def test_the_shaft_reads_0_when_pulses_come_too_slowly() -> None:
    # Four pulses a turn, waited for 1.5 s: slower than 10 rpm can't be told from standing.
    devices = devices_of()
    assert devices.shaft is not None
    devices.stirrer.drive(rpm=9.9, now_s=0.0)
    assert devices.shaft.read(30.0) == Reading(0.0)
    devices.stirrer.drive(rpm=10.1, now_s=30.0)
    assert devices.shaft.read(60.0) == Reading(10.1)


def test_water_hardly_loads_the_stirrer() -> None:
    water, dark = devices_of(kind=Kind.WATER), devices_of()
    assert water.load is not None
    assert dark.load is not None
    for devices in (water, dark):
        devices.stirrer.drive(rpm=30.0, now_s=0.0)
    assert 0.0 < water.load.read(30.0).value < 0.1 * dark.load.read(30.0).value


def test_drives_act_from_their_own_moment_on() -> None:
    devices = devices_of()
    devices.heater.drive(on=True, now_s=0.0)
    devices.heater.drive(on=False, now_s=60.0)
    cold = devices_of()
    assert devices.bath.read(120.0).value > cold.bath.read(120.0).value + 1.0


def test_the_level_switch_opens_when_the_element_begins_to_show() -> None:
    bench = attach(
        machine="reference",
        seed=1,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset({"level"}),
    )
    level = bench.devices.level
    assert level is not None
    bench.plant.spill(share=0.59)
    assert level.read(1.0) == Reading(1.0)
    bench.plant.spill(share=0.1)
    assert level.read(2.0) == Reading(0.0)
    bench.plant.pour_water(mass_kg=1.0, water_c=20.0)
    assert level.read(3.0) == Reading(1.0)


@pytest.mark.parametrize(
    ("fitted", "carries_w_per_k", "sink_c"), [("pump", 70.0, 15.0), ("fan", 12.0, 20.0)]
)
def test_a_cooling_output_takes_heat_towards_what_it_brings(
    fitted: str, carries_w_per_k: float, sink_c: float
) -> None:
    bench, twin = (
        attach(
            machine=REFERENCE,
            seed=1,
            kind=Kind.WATER,
            batch_kg=0.05,
            seed_share=0.0,
            fitted=frozenset({part}) if part else frozenset(),
        )
        for part in (fitted, "")
    )
    for one in (bench, twin):
        one.plant.advance(0.0)
        one.plant.swap_water(share=1.0, water_c=40.0)
    plant, cooler = bench.plant, bench.devices.cooler
    assert cooler is not None
    assert twin.devices.cooler is None
    before_c = plant.bath_c
    for second in range(11):
        cooler.drive(on=second < 10, now_s=float(second))
    twin.plant.advance(10.0)
    carried_k = 10.0 * carries_w_per_k * (before_c - sink_c) / (3.0 * 4180.0 + 400.0)
    assert twin.plant.bath_c - plant.bath_c == pytest.approx(carried_k, rel=0.05)
    stood_c = plant.bath_c
    cooler.drive(on=False, now_s=10.0)
    assert plant.bath_c == stood_c
    assert plant.water_kg == pytest.approx(3.0, abs=1e-3)  # as much in as out
