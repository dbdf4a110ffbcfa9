"""What follows from points at known temperatures, and when a reading may be believed."""

import math
import random

import pytest

from controller.commissioning.calibration import (
    BOIL_SD_K,
    ICE_SD_K,
    Point,
    beside_point,
    boiling_point,
    calibrated,
    ice_point,
    is_enough,
)
from controller.commissioning.steady import (
    PATIENCE_S,
    WINDOW_S,
    Glance,
    UnsteadyError,
    watched,
)
from controller.ports import Fault, Reading, missing
from tests.helpers.commissioned import Minutes


def off(true_c: float) -> float:
    """What a thermometer reads that is 0.2 K low at 0 °C, and 0.01 K more for each kelvin."""
    return true_c - 0.2 + 0.01 * true_c


def test_ice_and_boiling_water_find_offset_and_slope() -> None:
    # IAPWS-IF97 (region 4): 99.974 °C at 1013.25 hPa.
    boiling = boiling_point(off(99.974), 0.01, pressure_hpa=1013.25, altitude_m=None)
    assert boiling.true_c == pytest.approx(99.974, abs=0.001)
    found = calibrated((ice_point(off(0.0), 0.01), boiling))
    assert found.offset_k == pytest.approx(31.0 - off(31.0), abs=1e-4)
    assert found.slope == pytest.approx(0.01, abs=1e-5)
    assert [round(found.residual_k(point), 6) for point in found.points] == [0.0, 0.0]
    assert found.left_k(boiling) == pytest.approx(0.01 * (99.974 - 31.0), abs=1e-3)


def test_the_band_of_two_points_is_each_ones_share_of_the_way() -> None:
    boiling = boiling_point(100.0, 0.0, pressure_hpa=1013.25, altitude_m=None)
    found = calibrated((ice_point(0.0, 0.0), boiling))
    share = 31.0 / boiling.true_c
    sd_k = math.hypot((1.0 - share) * ICE_SD_K, share * boiling.sd_k)
    assert found.sure_k == pytest.approx(1.96 * sd_k, rel=1e-6)
    assert boiling.true_sd_k > BOIL_SD_K  # a barometer's hectopascal on top


def test_an_altitude_alone_is_less_sure_than_a_barometer() -> None:
    # The standard atmosphere (ISO 2533) has 954.61 hPa at 500 m; water boils at 98.32 °C there by
    # IAPWS-IF97.
    high = boiling_point(98.3, 0.01, pressure_hpa=None, altitude_m=500.0)
    assert high.true_c == pytest.approx(98.32, abs=0.01)
    measured = boiling_point(98.3, 0.01, pressure_hpa=954.61, altitude_m=None)
    assert measured.true_c == pytest.approx(high.true_c, abs=1e-3)
    assert high.sd_k > 4.0 * measured.sd_k
    with pytest.raises(ValueError, match="as the pressure"):
        boiling_point(98.3, 0.01, pressure_hpa=None, altitude_m=None)


def test_one_point_beside_another_thermometer_will_do_near_31_degrees() -> None:
    found = calibrated((beside_point(31.4, 0.01, true_c=31.2, sure_k=0.1),))
    assert found.offset_k == pytest.approx(-0.2, abs=1e-6)
    assert found.sure_k == pytest.approx(0.1, abs=0.01)
    far = calibrated((beside_point(40.2, 0.01, true_c=40.0, sure_k=0.1),))
    assert far.sure_k > found.sure_k  # its slope is unknown


def test_three_points_are_weighed_by_how_sure_they_are() -> None:
    points = (
        ice_point(0.10, 0.01),
        beside_point(31.0, 0.01, true_c=31.0, sure_k=1.0),
        boiling_point(100.07, 0.01, pressure_hpa=1013.25, altitude_m=None),
    )
    found = calibrated(points)
    assert found.offset_k == pytest.approx(-0.1, abs=0.01)
    assert abs(found.residual_k(points[1])) > 0.08


@pytest.mark.parametrize(
    ("names", "enough"),
    [
        ((), False),
        ((0.0,), False),
        ((99.0,), False),
        ((31.0,), True),
        ((0.0, 99.0), True),
        ((0.0, 12.0), False),
        ((20.9, 41.1), True),
        ((20.9, 33.0), True),
    ],
)
def test_points_are_enough_once_31_degrees_lies_among_them(
    names: tuple[float, ...], enough: bool
) -> None:
    assert is_enough([Point("", true_c, 0.01, true_c, 0.01) for true_c in names]) is enough


def test_points_that_contradict_each_other_are_refused() -> None:
    points = (
        ice_point(0.0, 0.01),
        beside_point(31.5, 0.01, true_c=31.0, sure_k=0.1),
        boiling_point(99.974, 0.01, pressure_hpa=1013.25, altitude_m=None),
    )
    with pytest.raises(ValueError, match="contradict each other"):
        calibrated(points)


def test_a_thermometer_too_far_off_is_not_corrected_but_replaced() -> None:
    with pytest.raises(ValueError, match=r"off by \+2\.50 K .* replace it"):
        calibrated((beside_point(33.5, 0.01, true_c=31.0, sure_k=0.1),))


class Thermometer:
    """Reads what the test says of its moments."""

    def __init__(self, clock: Minutes, noise_k: float, step_k: float, seed: int = 1) -> None:
        """At 20 °C, resting."""
        self.clock, self.noise_k, self.step_k = clock, noise_k, step_k
        self.random = random.Random(seed)  # noqa: S311 - noise, not cryptography
        self.rests_c, self.from_c, self.lag_s = 20.0, 20.0, 1e-3
        self.drift_k_per_min, self.bad = 0.0, 0.0

    def read(self, now_s: float) -> Reading:
        """One conversion."""
        if self.random.random() < self.bad:
            return missing(Fault.CHECKSUM)
        here_c = self.rests_c + (self.from_c - self.rests_c) * math.exp(-now_s / self.lag_s)
        here_c += self.drift_k_per_min * now_s / 60.0 + self.random.gauss(0.0, self.noise_k)
        return Reading(round(here_c / self.step_k) * self.step_k)


def test_a_thermometer_that_comes_to_rest_is_believed_then_and_not_before() -> None:
    clock = Minutes()
    sensor = Thermometer(clock, 0.02, 0.0625)
    sensor.rests_c, sensor.lag_s = 0.1, 20.0
    glances: list[Glance] = []
    found = watched(sensor, clock, glances.append)
    assert abs(found.mean_c - 0.1) < 0.02
    assert clock.at_s > WINDOW_S
    assert abs(found.drift_k_per_min) < 0.015 < abs(glances[125].drift_k_per_min)


def test_the_stated_deviation_of_a_mean_holds_for_noise_and_steps() -> None:
    over = []
    for seed in range(60):
        clock = Minutes()
        sensor = Thermometer(clock, 0.02, 0.0625, seed)
        sensor.rests_c = sensor.from_c = 20.0 + seed / 400.0
        found = watched(sensor, clock)
        over.append((found.mean_c - sensor.rests_c) / found.sd_k)
    spread = math.sqrt(sum(z * z for z in over) / len(over))
    assert 0.6 < spread < 1.3


def test_a_reading_that_never_changes_is_no_surer_than_a_step() -> None:
    clock = Minutes()
    found = watched(Thermometer(clock, 0.0, 0.1), clock)
    assert found.sd_k == pytest.approx(0.1 / math.sqrt(12.0), rel=0.01)


@pytest.mark.parametrize(
    ("noise_k", "drift", "bad", "said"),
    [
        (0.02, 0.3, 0.0, r"still drifts by \+0\.3"),
        (0.4, 0.0, 0.0, "still spread over"),
        (0.02, 0.0, 0.5, "too few values"),
    ],
)
def test_what_never_rests_is_refused_with_what_was_seen(
    noise_k: float, drift: float, bad: float, said: str
) -> None:
    clock = Minutes()
    sensor = Thermometer(clock, noise_k, 0.0625)
    sensor.drift_k_per_min, sensor.bad = drift, bad
    with pytest.raises(UnsteadyError, match=said):
        watched(sensor, clock)
    assert clock.at_s >= PATIENCE_S


class Zero(Thermometer):
    """Its driver takes exactly 0 °C for a shorted wire."""

    def read(self, now_s: float) -> Reading:
        """One conversion."""
        reading = super().read(now_s)
        return reading if reading.value else missing(Fault.ALL_ZERO)


@pytest.mark.parametrize("in_ice", [True, False])
def test_exactly_nought_is_believed_in_ice_after_another_value_near_it(in_ice: bool) -> None:
    clock = Minutes()
    sensor = Zero(clock, 0.01, 0.0625)
    sensor.rests_c, sensor.lag_s = 0.0, 8.0
    if in_ice:
        assert abs(watched(sensor, clock, in_ice=True).mean_c) < 0.01
        sensor.from_c = 0.0  # a short from the beginning
        with pytest.raises(UnsteadyError, match="too few"):
            watched(sensor, Minutes(), in_ice=True)
    else:
        with pytest.raises(UnsteadyError, match="too few"):
            watched(sensor, clock)
