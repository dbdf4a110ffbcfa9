"""The bench's thermometers by kind: step, age, tolerance, lag, and where they sit."""

import math
from dataclasses import replace

import pytest

from controller.ports import Kind
from hardware.bench.attach import Bench, attach
from hardware.bench.machines import REFERENCE
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant
from hardware.bench.probes import PROBES, fits_of


def a_bench(parameters: Parameters) -> Bench:
    """A bench of a machine of our own."""
    return attach(
        machine=parameters,
        seed=3,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset(),
    )


def a_plant(parameters: Parameters) -> Plant:
    """A plant at 20 °C at moment 0."""
    plant = Plant(parameters=parameters, kind=Kind.DARK, mass_kg=1.5, room_c=20.0)
    plant.advance(0.0)
    return plant


def with_kind(word: str) -> Parameters:
    """The reference machine with all its thermometers of one kind."""
    return replace(REFERENCE, bath_probe=word, bowl_probe=word, guard_probe=word)


@pytest.mark.parametrize("word", PROBES)
def test_every_reading_is_a_whole_number_of_its_kinds_steps(word: str) -> None:
    bench = a_bench(with_kind(word))
    kind = PROBES[word]
    for second in range(100):
        for sensor in (bench.devices.bath, bench.devices.bowl, bench.guard_probe):
            reading = sensor.read(float(second))
            steps = reading.value / kind.step_k
            assert steps == pytest.approx(round(steps), abs=1e-6)
            assert reading.age_s == kind.conversion_s


def test_a_platinum_converters_step_is_that_of_its_code() -> None:
    # 400 ohm over 32768 codes; IEC 60751: R = 100 (1 + 3.9083e-3 t - 5.775e-7 t^2), so that an ohm
    # is 1 / (0.39083 - 1.155e-4 t) K: 0.0316 K a code at 40 °C.
    by_hand_k = 400.0 / 32768.0 / (0.39083 - 1.155e-4 * 40.0)
    assert PROBES["pt100"].step_k == pytest.approx(by_hand_k, rel=0.01)


@pytest.mark.parametrize(
    ("word", "at_c", "class_k"), [("1-wire", 50.0, 0.5), ("pt100", 50.0, 0.55), ("pt100", 0.0, 0.3)]
)
def test_an_offset_is_a_share_of_the_class(word: str, at_c: float, class_k: float) -> None:
    # The data sheet of the 12 bit digital part: 0.5 K; IEC 60751 class B: 0.3 K + 0.005 |t|.
    fits = fits_of(replace(with_kind(word), bath_probe_off=1.0, guard_probe_off=-1.0))
    assert fits.bath.off_k + fits.bath.off_per_c * at_c == pytest.approx(class_k)
    assert fits.guard.off_k + fits.guard.off_per_c * at_c == pytest.approx(-class_k)
    assert (fits.bowl.off_k, fits.bowl.off_per_c) == (0.0, 0.0)


def test_a_thermometer_that_is_off_reads_off() -> None:
    bench = a_bench(replace(REFERENCE, bath_probe_off=1.0, bowl_probe_off=-0.5))
    assert bench.devices.bath.read(0.0).value == pytest.approx(20.5, abs=0.1)
    assert bench.devices.bowl.read(0.0).value == pytest.approx(19.75, abs=0.1)
    assert bench.guard_probe.read(0.0).value == pytest.approx(20.0, abs=0.1)


def test_the_guards_thermometer_is_another_one_than_the_baths() -> None:
    bench = a_bench(REFERENCE)
    pairs = {
        (bench.devices.bath.read(float(second)).value, bench.guard_probe.read(float(second)).value)
        for second in range(200)
    }
    assert any(one != other for one, other in pairs)


def test_the_guards_thermometer_has_a_place_and_a_lag_of_its_own() -> None:
    bench = a_bench(replace(REFERENCE, guard_probe="thermistor"))
    bench.devices.bath.read(0.0)
    bench.plant.swap_water(share=1.0, water_c=50.0)
    bath_c, guard_c = bench.devices.bath.read(3.0).value, bench.guard_probe.read(3.0).value
    assert guard_c > bath_c + 5.0


@pytest.mark.parametrize(("word", "lag_s"), [("1-wire", 5.0), ("pt100", 4.0), ("thermistor", 2.0)])
def test_a_kind_lags_by_its_own_time(word: str, lag_s: float) -> None:
    # A step of the bath: 1 - exp(-t / lag) of it is seen after t, closed solution.
    sealed = replace(
        with_kind(word), bath_bowl_w_per_k=0.0, water_surface_m2=0.0, pot_room_w_per_k=0.0
    )
    plant = a_plant(sealed)
    plant.swap_water(share=1.0, water_c=50.0)
    step_k = plant.bath_c - 20.0
    plant.advance(4.0)
    seen_k = step_k * (1.0 - math.exp(-4.0 / lag_s))
    assert plant.bath_probe_c(0.0) == pytest.approx(20.0 + seen_k, abs=1e-6)
    assert plant.guard_probe_c(0.0) == pytest.approx(20.0 + seen_k, abs=1e-6)


def test_a_probe_by_the_element_sees_part_of_its_heat() -> None:
    near, far = a_plant(replace(REFERENCE, bath_probe_at_element=0.01)), a_plant(REFERENCE)
    for plant in (near, far):
        plant.heat(500.0)
        plant.advance(300.0)
    # 500 W for a lag of 20 s lie in 60 J/K: 167 K over the bath, and a hundredth of that is seen.
    ahead_k = near.bath_probe_c(0.0) - far.bath_probe_c(0.0)
    assert ahead_k == pytest.approx(1.67, abs=0.02)
    assert near.guard_probe_c(0.0) == pytest.approx(far.guard_probe_c(0.0), abs=1e-9)
    assert near.element_c - near.bath_c == pytest.approx(166.7, abs=1.0)


def test_a_probe_at_the_wall_sees_part_of_the_film() -> None:
    at_wall, in_core = a_plant(replace(REFERENCE, bowl_probe_at_film=0.5)), a_plant(REFERENCE)
    for plant in (at_wall, in_core):
        plant.heat(500.0)
        plant.advance(900.0)
    film_k = in_core.film_c - in_core.content_c
    ahead_k = at_wall.bowl_probe_c(0.0) - in_core.bowl_probe_c(0.0)
    assert film_k > 10.0
    assert ahead_k == pytest.approx(0.5 * film_k, rel=0.1)
