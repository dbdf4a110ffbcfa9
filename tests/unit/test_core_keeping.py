"""How long a batch keeps: orders of the trade, and the estimate that says it."""

import math

import pytest

from controller.core.batches import COUNT, EVEN, NO_SPREAD, TRAITS, TemperState
from controller.core.crystallising import Crystals, grown
from controller.core.keeping import LONGEST_S, keeps_s
from controller.core.tempering import MOST_V, Temper
from controller.core.words import headline, keeps_text
from controller.link.tree import tree
from tests.helpers.moments import moment, state
from tests.helpers.moments import profile as told_profile
from tests.helpers.tempers import HOLD, Batch


def alike(form_v: float) -> tuple[Crystals, ...]:
    """All possible batches with as much solid."""
    return ((form_v, 0.0, 0.8, 0.0, form_v),) * COUNT


def test_it_keeps_the_longer_the_warmer_it_is_held() -> None:
    # Held at working temperature it thickens for hours, and the trade warms it in steps of 0.3 to
    # 1 K (common practice, no source).
    likely_s = [keeps_s(alike(0.015), EVEN, bowl_c)[1] for bowl_c in (30.0, 31.0, 32.0)]
    assert likely_s == sorted(likely_s)
    assert likely_s[0] < 2400.0 < likely_s[2]
    assert keeps_s(alike(0.015), EVEN, 34.0)[1] == math.inf


def test_it_keeps_the_shorter_the_thicker_it_is_and_no_more_once_it_is_over() -> None:
    likely_s = [keeps_s(alike(form_v), EVEN, 31.0)[1] for form_v in (0.01, 0.02, 0.03, MOST_V)]
    assert likely_s == sorted(likely_s, reverse=True)
    assert likely_s[-1] == 0.0


def test_the_band_is_that_of_the_possible_batches() -> None:
    early_s, likely_s, late_s = keeps_s(alike(0.02), EVEN, 31.0)
    assert early_s < likely_s < late_s
    one = (1.0, *(0.0,) * (COUNT - 1))
    assert len(set(keeps_s(alike(0.02), one, 31.0))) == 1


def test_it_is_the_moment_at_which_the_same_batch_in_small_steps_is_over() -> None:
    for trait, at in zip(TRAITS[:5], range(5), strict=True):
        only = tuple(float(at == other) for other in range(COUNT))
        said_s = keeps_s(alike(0.02), only, 30.5)[1]
        crystals, run_s = alike(0.02)[0], 0.0
        for _ in range(round(LONGEST_S / 10.0)):
            if crystals[0] >= MOST_V:
                break
            crystals = grown(crystals, trait, 30.5, 10.0, is_stirred=True)
            run_s += 10.0
        assert said_s == pytest.approx(run_s, rel=0.1)


@pytest.mark.parametrize(
    ("span_s", "text"),
    [
        ((1800.0, 3000.0, 5400.0), ", good for another 40 min (20 min to 80 min)"),
        ((1800.0, 3000.0, math.inf), ", good for another 40 min (20 min to 4 h or more)"),
        ((1800.0, math.inf, math.inf), ", good for another 20 min to 4 h or more"),
        ((math.inf, math.inf, math.inf), ", good for hours"),
        ((300.0, 900.0, 1200.0), ", good for another 5 min (0 min to 10 min)"),
        (NO_SPREAD, ""),
    ],
)
def test_it_is_said_in_minutes_from_now(span_s: tuple[float, float, float], text: str) -> None:
    temper = TemperState(verdict=Temper.IN_TEMPER, keeps_s=span_s, keeps_at_s=1000.0)
    assert keeps_text(temper, 1600.0) == text
    reached = state(run_s=1600.0, reached=True, temper=temper)
    assert headline(reached, told_profile()).count(text or "no words") == bool(text)


def test_the_tree_shows_the_working_time_that_is_left() -> None:
    rows = {row.path: row for row in tree(told_profile(), run_id="r")}
    temper = TemperState(keeps_s=(1800.0, math.inf, math.inf), keeps_at_s=1000.0)
    given = moment(state(run_s=1600.0, temper=temper))
    assert rows["temper/working-time-least"].value(given) == "1200"
    assert rows["temper/working-time"].value(given) is None


def test_a_batch_in_temper_that_is_held_says_how_long_it_keeps() -> None:
    batch = Batch().melted()
    batch.go(28.0, 5.0, phase=1)
    assert math.isnan(batch.temper.keeps_s[1])
    for step in range(1, 11):
        batch.solid = 0.002 * step
        batch.go(30.8, 1.0, phase=HOLD)
    batch.go(30.8, 12.0)
    early_s, likely_s, late_s = batch.temper.keeps_s
    assert 0.0 < early_s < likely_s <= late_s
    assert batch.run_s - batch.temper.keeps_at_s <= 600.0
