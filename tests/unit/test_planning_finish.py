"""How long what comes out of a fridge stays wrapped."""

import math

import pytest

from controller.planning.finish import warming


def test_a_bar_warms_up_by_newton_s_law() -> None:
    # By hand: dew point of 20 °C and 50 % is 9.26 °C (Magnus, Alduchov & Eskridge 1996), so dry
    # from 11.26; lag 1300 * 1590 * 0.01 / 2 / 4 = 2583.75 s; times ln(14 / 8.74) = 0.4712.
    found = warming(6.0, 20.0, 0.5, 0.010)
    assert found.dew_c == pytest.approx(9.26, abs=0.005)
    assert found.wait_s == pytest.approx(2583.75 * math.log(14.0 / (20.0 - found.dry_from_c)))
    assert found.wait_s == pytest.approx(1217.0, abs=5.0)


def test_what_is_warm_enough_need_not_wait() -> None:
    assert warming(13.0, 20.0, 0.5, 0.010).wait_s == 0.0


def test_in_a_room_at_its_dew_point_there_is_no_end_of_waiting() -> None:
    assert warming(6.0, 20.0, 0.95, 0.010).wait_s == math.inf
