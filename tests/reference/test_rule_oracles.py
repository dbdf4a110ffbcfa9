"""Worked examples of two published rules: tuning a loop, and calibrating between two points.

Responsible for the rules' own numbers; not for how the loops behave (test_pid_closed_loop).
"""

import pytest

from controller.commissioning.calibration import Point, calibrated, ice_point
from tests.benchmarks.rivals import controllers
from tests.helpers.records import replace
from tests.helpers.scene import machine


class Loops:
    """Takes a PI controller's settings in its place."""

    def __init__(self) -> None:
        """None yet."""
        self.told: list[tuple[float, float]] = []

    def __call__(self, gain: float, ti_s: float, integral: float) -> "Loops":
        """Take note of one."""
        del integral
        self.told.append((gain, ti_s))
        return self


def test_the_textbook_s_cascade_has_the_gain_and_time_of_its_rule(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Skogestad's SIMC, J. Process Control 13:291 (2003), integrating process: Kc = 1 / (k' (tau_c +
    # delay)), Ti = 4 (tau_c + delay). 3 kg of water (4180 J/(kg K)) in a pot of 500 J/K under 500 W
    # is k' = 500 / 13040 K/s; with tau_c = delay = 45 s: Kc = 0.290 duty/K and Ti = 360 s.
    loops = Loops()
    monkeypatch.setattr(controllers, "Loop", loops)
    # Half of the element's lag, the thermometer's and the sampling make up the delay.
    rest_s = controllers.NOMINAL_BATH_PROBE_LAG_S + controllers.SAMPLING_S
    monkeypatch.setattr(controllers, "NOMINAL_ELEMENT_LAG_S", 2.0 * (45.0 - rest_s))
    pot = replace(machine(), water_kg=3.0, vessel_j_per_k=500.0, heater_w=500.0)
    assert pot.bath_j_per_k == pytest.approx(13_040.0)
    controllers.Cascade(pot, 32.0)
    gain, ti_s = loops.told[0]
    assert gain == pytest.approx(0.290, abs=5e-4)
    assert ti_s == pytest.approx(360.0)


def test_two_points_calibrate_as_the_straight_line_between_them() -> None:
    # Ice reads 0.40, steam 98.90 where it is 98.33 (IAPWS, some 490 m up): gain 98.33 / 98.50 =
    # 0.998274, so what reads 31.5 is (31.5 - 0.40) 0.998274 = 31.046.
    found = calibrated((ice_point(0.40, 0.0), Point("boiling", 98.33, 0.04, 98.90, 0.0)))
    assert 1.0 / (1.0 + found.slope) == pytest.approx(0.998274, abs=1e-6)
    assert 31.5 + found.offset_k == pytest.approx(31.046, abs=1e-3)
