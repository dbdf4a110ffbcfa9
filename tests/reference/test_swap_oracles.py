"""The way down and the water for it, against heat balances and an independent solver."""

import math

import pytest
from scipy.integrate import solve_ivp

from controller.core.descent import Lumps, after, arrival_s, caught_after_s, trough_c
from controller.core.swap import Water, swapped

# A machine of our own invention, of the size of the bench's: 11 W/K, 500 W on 3 kg of water.
PLAIN = Lumps(
    bath_c=17.0,
    bowl_c=50.0,
    k_per_s=11.0 / 13_000.0,
    kr_per_s=11.0 / 2_700.0,
    p_k_per_s=500.0 / 13_000.0,
    lag_s=20.0,
    element_share=0.0,
    loss_per_s=2.5 / 13_000.0,
    bowl_loss_k_per_s=0.4 * 8.0 / 2_700.0,
    room_c=20.0,
    target_c=28.0,
    apart_k=0.2,
)


def test_water_alone_cools_by_newtons_law() -> None:
    # 3 kg of water (4180 J/(kg K)) in a vessel of 400 J/K lose 2 W/K to a room of 20 °C: from 50 °C
    # to 20 + 30 exp(-3600 · 2 / 12940) = 37.198 °C in an hour (Newton's law of cooling).
    lone = PLAIN._replace(
        bath_c=50.0, k_per_s=1e-12, kr_per_s=1e-9, bowl_loss_k_per_s=0.0, loss_per_s=2.0 / 12_940.0
    )
    assert after(lone, 0.0, 3600.0)[0] == pytest.approx(37.198, abs=5e-4)


def test_cold_water_is_swapped_by_the_heat_balance() -> None:
    # 3 kg of bath come from 50 to 28 °C by swapping 3 · 22 / 38 = 1.737 kg for water at 12 °C.
    whole = Water(1.0, 12.0)
    hot = PLAIN._replace(bath_c=50.0)
    assert swapped(hot, whole, 1.737 / 3.0).bath_c == pytest.approx(28.0, abs=5e-3)


def test_a_vessel_keeps_its_heat_in_a_swap() -> None:
    # 3 kg of water swapped whole for 15 °C in a vessel of 1254 J/K, a tenth of the water's: by
    # balance (12540 · 15 + 1254 · 48) / 13794 = 18 °C.
    hot = PLAIN._replace(bath_c=48.0)
    part = Water(12_540.0 / 13_794.0, 15.0)
    assert swapped(hot, part, 1.0).bath_c == pytest.approx(18.0)


def solved(lumps: Lumps, full_from_s: float, span_s: float) -> list[float]:
    """The bowl each second by an independent solver, element and all, °C."""

    def slopes(at_s: float, now: list[float]) -> list[float]:
        share, bath_c, bowl_c = now
        on = 1.0 if at_s >= full_from_s else 0.0
        lead_k = bath_c + lumps.apart_k - bowl_c
        loss = lumps.loss_per_s * (bath_c - lumps.room_c)
        return [
            (on - share) / lumps.lag_s,
            lumps.p_k_per_s * share - lumps.k_per_s * lead_k - loss,
            lumps.kr_per_s * lead_k - lumps.bowl_loss_k_per_s,
        ]

    begin = [lumps.element_share, lumps.bath_c, lumps.bowl_c]
    seconds = [float(second) for second in range(round(span_s) + 1)]
    way = solve_ivp(
        slopes, (0.0, span_s), begin, t_eval=seconds, rtol=1e-8, atol=1e-9, max_step=2.0
    )
    return [float(bowl_c) for bowl_c in way.y[2]]


@pytest.mark.parametrize("heat_k_per_s", [0.0, 0.02])
@pytest.mark.parametrize("span_s", [30.0, 400.0, 3600.0])
def test_two_lumps_go_as_an_independent_solver_has_them(heat_k_per_s: float, span_s: float) -> None:
    steady = PLAIN._replace(
        element_share=heat_k_per_s / PLAIN.p_k_per_s, lag_s=1e9
    )  # an element that never changes
    assert after(PLAIN, heat_k_per_s, span_s)[1] == pytest.approx(
        solved(steady, math.inf, span_s)[-1], abs=1e-4
    )


@pytest.mark.parametrize("bowl_c", [34.0, 40.0, 50.0])
@pytest.mark.parametrize("bath_c", [12.0, 17.0, 22.0])
def test_the_bowl_turns_where_an_independent_solver_has_it(bath_c: float, bowl_c: float) -> None:
    lumps = PLAIN._replace(bath_c=bath_c, bowl_c=bowl_c)
    # The heat that the element still takes is counted as missing from the start, which is on the
    # safe side: 20 s of a rise that full power makes.
    coldest = min(solved(lumps, 0.0, 1800.0))
    assert trough_c(lumps) == pytest.approx(coldest, abs=0.05)
    assert trough_c(lumps) <= coldest + 1e-3


def test_the_last_moment_for_heat_and_the_arrival_come_true() -> None:
    least_c, high_c = 27.85, 28.3
    lumps = PLAIN._replace(bath_c=21.0)
    from_s = caught_after_s(lumps, least_c)
    went = solved(lumps, from_s, 2400.0)
    assert min(went) == pytest.approx(least_c, abs=0.08)
    came_s = next(second for second, bowl_c in enumerate(went) if bowl_c <= high_c)
    assert arrival_s(lumps, high_c, least_c) == pytest.approx(came_s, abs=5.0)
