"""What is learned of a melt from the stirrer's load, and what crystals that are left do to it."""

import math

import pytest

from controller.core.load_evidence import SLOPES, Melt, excess, learned, thinned
from tests.helpers.tempers import load_w

RPM = 30.0


def taught(*said: tuple[float, float]) -> Melt:
    """A melt after readings at these temperatures, °C, with so much of its fat solid."""
    melt = Melt()
    for bowl_c, solid in said:
        melt = learned(melt, load_w(bowl_c, solid), bowl_c, RPM)
    return melt


def over(melt: Melt, solid: float) -> float:
    """What the load at 32 °C with so much solid seems to be over the melt's."""
    found = excess(melt, load_w(32.0, solid), 32.0, RPM)
    assert found is not None
    return found[0]


CLEAN = tuple((bowl_c, 0.0) for bowl_c in (50.0, 48.0, 46.0, 44.0, 42.0, 40.0, 38.0))


def test_a_clean_melt_shows_as_much_as_is_solid() -> None:
    melt = taught(*CLEAN)
    assert over(melt, 0.0) == pytest.approx(0.0, abs=0.02)
    assert over(melt, 0.02) == pytest.approx(30.0 * 0.02, abs=0.02)


def test_crystals_that_are_slow_to_melt_teach_little_once_it_is_seen_without() -> None:
    # They only ever thicken it, so the thinnest that was seen is the melt.
    slow = tuple((47.0, 0.06 * math.exp(-0.1 * one)) for one in range(30))
    assert over(taught(*slow, *CLEAN), 0.0) == pytest.approx(0.0, abs=0.08)


def test_no_crystals_make_it_take_a_slope_that_no_chocolate_has() -> None:
    # 20 to 40 kJ/mol is what melts of chocolate have (own engineering value): 2.4 to 4.8.
    least, most = SLOPES
    melting = tuple((37.0 + 0.1 * one, 0.06 - 0.0005 * one) for one in range(120))
    assert least <= taught(*melting).slope <= most


def test_once_it_is_seen_without_crystals_their_slope_is_forgotten_too() -> None:
    # Crystals that melt while it warms look like a melt that warmth thins a lot.
    melting = tuple((40.0 + 0.5 * one, 0.03 * (1.0 - one / 12.0)) for one in range(12))
    melt = taught(*melting, *((48.0, 0.0),) * 20)
    assert over(melt, 0.0) == pytest.approx(0.0, abs=0.1)


def test_a_line_is_thinned_to_what_was_seen_and_no_further_than_it_can_be_used() -> None:
    melt = taught(*CLEAN)
    for by in (-0.2, -2.0):
        thin = thinned(melt, by)
        assert over(thin, 0.0) - over(melt, 0.0) == pytest.approx(-by)
        assert thin.var_level > 10.0 * melt.var_level


def test_a_reading_below_the_line_counts_for_more_than_one_above() -> None:
    melt = taught(*CLEAN)
    above = learned(melt, 1.2 * load_w(40.0, 0.0), 40.0, RPM)
    below = learned(melt, load_w(40.0, 0.0) / 1.2, 40.0, RPM)
    assert melt.level - below.level > 3.0 * (above.level - melt.level) > 0.0


def test_another_speed_is_learned_anew() -> None:
    melt = taught(*CLEAN)
    assert excess(melt, load_w(32.0, 0.0), 32.0, 2.0 * RPM) is None
    again = learned(melt, 5.0 * load_w(40.0, 0.0), 40.0, 2.0 * RPM)
    assert again.level == pytest.approx(math.log(5.0 * load_w(40.0, 0.0)), abs=0.01)
