"""How sure a verdict is: what came true of such chances, and nothing less than that is told."""

from itertools import pairwise

import pytest

from controller.core.claims import LEAST_CONFIDENCE, claimed, verdict_of
from controller.core.tempering import UNSURE, Temper

VERDICTS = (Temper.IN_TEMPER, Temper.UNDER, Temper.OVER, Temper.MELTED_OUT, Temper.NOT_YET)
CHANCES = tuple(0.01 * step for step in range(101))


@pytest.mark.parametrize("is_narrow", [True, False])
@pytest.mark.parametrize("verdict", VERDICTS)
def test_a_better_chance_is_claimed_surer_and_never_quite_sure(
    verdict: Temper,
    is_narrow: bool,
) -> None:
    claims = [claimed(verdict, chance, is_narrow=is_narrow) for chance in CHANCES]
    assert claims[0] == 0.0
    assert all(low < high for low, high in pairwise(claims))
    assert claims[-1] <= 1.0 - UNSURE / 2.0


def test_melted_out_needs_a_better_chance_than_the_rest_until_it_is_nearly_sure() -> None:
    for chance in (0.6, 0.7, 0.75, 0.8):
        for rest in (Temper.UNDER, Temper.IN_TEMPER, Temper.OVER, Temper.NOT_YET):
            least = claimed(rest, chance, is_narrow=True) - 0.05
            assert claimed(Temper.MELTED_OUT, chance, is_narrow=True) < least


def test_in_temper_is_called_sure_only_at_a_better_chance_than_under_tempered_or_not_yet() -> None:
    assert claimed(Temper.IN_TEMPER, 0.77, is_narrow=True) < 0.8
    assert claimed(Temper.IN_TEMPER, 0.79, is_narrow=True) >= 0.8
    for rest in (Temper.UNDER, Temper.NOT_YET):
        assert claimed(rest, 0.72, is_narrow=True) >= 0.8


def test_by_temperatures_alone_a_middling_chance_is_no_verdict() -> None:
    chances = {Temper.IN_TEMPER: 0.7, Temper.UNDER: 0.3}
    assert verdict_of(chances, is_narrow=True)[0] is Temper.IN_TEMPER
    verdict, sure = verdict_of(chances, is_narrow=False)
    assert verdict is Temper.UNKNOWN
    assert sure < LEAST_CONFIDENCE
