"""The bench's second crystal law against closed solutions of growth over counted nuclei.

Responsible for the form of that law; not for the orders that every law must show.
"""

import math
from itertools import pairwise

import pytest
from scipy.integrate import quad

from hardware.bench import nuclei
from hardware.bench.crystals import Law

LAW: Law = nuclei.counted_nuclei(0.0)
STILL, STIRRED = LAW.shear(0.0), LAW.shear(12.5)
State = tuple[float, float, float]


def follow(
    state: State, temp_c: float, span_s: float, step_s: float = 1.0, *, stirred: bool = False
) -> State:
    """The state after a time at one temperature (Heun)."""
    sheared = STIRRED if stirred else STILL
    for _ in range(round(span_s / step_s)):
        first = LAW.rates(temp_c, *state, sheared)
        ahead = [value + step_s * rate for value, rate in zip(state, first, strict=True)]
        second = LAW.rates(temp_c, ahead[0], ahead[1], ahead[2], sheared)
        unstable, form_v, memory = (
            value + 0.5 * step_s * (one + two)
            for value, one, two in zip(state, first, second, strict=True)
        )
        state = (unstable, form_v, memory)
    return state


@pytest.mark.parametrize("stirred", [False, True])
@pytest.mark.parametrize(("temp_c", "span_s"), [(31.0, 3600.0), (29.0, 900.0), (28.5, 300.0)])
def test_growth_takes_the_time_that_its_surface_and_its_room_allow(
    temp_c: float, span_s: float, *, stirred: bool
) -> None:
    # By quadrature (scipy.integrate.quad): t = integral of dV / (k s V'^(2/3) (S - V)²), all
    # nuclei there, V' = V + their own size. Surface: N spheres of volume V' together have one
    # that goes with N^(1/3) V'^(2/3). Constants: own engineering values, not published.
    z = (35.5 - temp_c) / 5.5
    room_at_start = 0.85 * z**3 / (1.0 + z**3)
    growth = 1.0 + 12.5 ** (1 / 3) if stirred else 1.0

    def slowness_s(form_v: float) -> float:
        return 1.0 / (
            8.5e-4 * growth * math.pow(form_v + 2e-3, 2 / 3) * (room_at_start - form_v) ** 2
        )

    grown = follow((0.0, 0.01, 1.0), temp_c, span_s, stirred=stirred)
    taken_s, _ = quad(slowness_s, 0.01, grown[1], epsabs=0.0, epsrel=1e-10)
    assert grown[1] > 0.011
    assert taken_s == pytest.approx(span_s, rel=1e-5)


def steepness(form_v: list[float], times_s: list[float]) -> list[float]:
    """The exponents of time between neighbours."""
    points = list(zip(times_s, form_v, strict=True))
    return [
        math.log(later_v / earlier_v) / math.log(later_s / earlier_s)
        for (earlier_s, earlier_v), (later_s, later_v) in pairwise(points)
    ]


def test_growth_from_nuclei_that_are_there_goes_with_the_third_power_of_time() -> None:
    # Avrami, J. Chem. Phys. 7:1103 (1939): exponent 3 for spheres from nuclei all there at first.
    # Their own size is taken off the way it enters: as time already spent.
    temp_c, memory = 31.0, 1.0
    own = nuclei.NUCLEI_SOLID ** (1 / 3)
    roots = [
        (follow((0.0, 0.0, memory), temp_c, span_s)[1] + nuclei.NUCLEI_SOLID) ** (1 / 3) - own
        for span_s in (300.0, 600.0, 1200.0)
    ]
    assert roots[1] / roots[0] == pytest.approx(2.0, rel=0.01)
    assert roots[2] / roots[0] == pytest.approx(4.0, rel=0.01)


def test_growth_from_nuclei_that_keep_coming_goes_with_the_fourth_power_of_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Avrami 1939: exponent 4 for spheres from nuclei born at a steady rate, early on. Nuclei of no
    # size, none broken off and none unstable, so that births alone are seen.
    monkeypatch.setattr(nuclei, "NUCLEI_SOLID", 1e-12)
    monkeypatch.setattr(nuclei, "BROKEN_PER_S", 0.0)
    monkeypatch.setattr(nuclei, "GROW_UNSTABLE_PER_S", 0.0)
    times_s = [240.0, 480.0, 960.0]
    grown = [follow((0.0, 0.0, 0.0), 27.5, span_s)[1] for span_s in times_s]
    assert grown[-1] < 0.02
    for exponent in steepness(grown, times_s):
        assert exponent == pytest.approx(4.0, abs=0.1)


def test_births_follow_classical_nucleation() -> None:
    # Classical nucleation: ln(rate) falls with 1 / undercooling² (from memory, not checked); the
    # room for them is taken off. B = 9 K² below 30.5 °C: own engineering values, not
    # published.
    logs, places = [], []
    for temp_c in (22.0, 25.0, 27.0, 29.0):
        born = LAW.rates(temp_c, 0.0, 0.0, 0.0, STILL)[2] / LAW.solid(temp_c)[1]
        logs.append(math.log(born))
        places.append((30.5 - temp_c) ** -2)
    for (one, near), (other, far) in pairwise(zip(logs, places, strict=True)):
        assert (other - one) / (far - near) == pytest.approx(-9.0, rel=1e-9)


def test_births_rise_in_proportion_to_shear_where_the_first_law_has_its_root() -> None:
    # Own engineering value, not published: half as much again per 1/s.
    still, slow, fast = (
        LAW.rates(26.0, 0.0, 0.0, 0.0, LAW.shear(per_s))[2] for per_s in (0.0, 10.0, 20.0)
    )
    assert (slow - still) / still == pytest.approx(0.5 * 10.0)
    assert (fast - still) / (slow - still) == pytest.approx(2.0)


def test_growth_rises_with_the_third_root_of_shear() -> None:
    # Transfer to a small sphere in shear: third root of the shear rate (from memory, not checked).
    still, slow, fast = (
        LAW.rates(30.0, 0.0, 0.05, 1.0, LAW.shear(per_s))[1] for per_s in (0.0, 8.0, 64.0)
    )
    assert slow / still == pytest.approx(1.0 + 2.0)
    assert fast / still == pytest.approx(1.0 + 4.0)


def test_turning_into_form_v_neither_makes_nor_loses_solid_fat() -> None:
    # Nothing is left to solidify and nothing melts here: all that moves changes form, so that the
    # plant's latent heat has no part in it.
    d_unstable, d_form_v, _ = LAW.rates(24.0, 0.2, 0.6, 1.0, STIRRED)
    assert d_form_v > 0.0
    assert d_unstable == pytest.approx(-d_form_v, rel=1e-12)


def test_stirring_breaks_nuclei_off_only_where_there_are_crystals() -> None:
    # Own engineering value, not published; at 33 °C births without a parent are nothing.
    assert LAW.rates(33.0, 0.0, 0.0, 0.2, STIRRED)[2] == pytest.approx(0.0, abs=1e-15)
    still, stirred = (LAW.rates(33.0, 0.0, 0.02, 0.2, sheared)[2] for sheared in (STILL, STIRRED))
    assert still == pytest.approx(0.8 * 2e-4 * 0.02)
    assert stirred == pytest.approx(13.5 * still)


def test_nuclei_left_over_regrow_what_was_melted_out() -> None:
    # van Langevelde et al., J. Am. Oil Chem. Soc. 78:919 (2001): a melt only just past the end of
    # melting recrystallises from leftovers; one that was held hot does not.
    warm = follow(follow((0.0, 0.02, 1.0), 36.0, 300.0), 30.0, 1800.0)
    hot = follow(follow((0.0, 0.02, 1.0), 50.0, 600.0), 30.0, 1800.0)
    assert warm[1] > 0.005
    assert hot[1] < 1e-4
