"""How long a machine has stood, by how far it has cooled: against worked figures and a solver."""

import math

import pytest
from scipy.integrate import solve_ivp

from controller.core.cooling import believed_gap_s, cooled_s
from controller.core.machine import Machine
from tests.helpers.batch import a_machine
from tests.helpers.records import replace


def test_newtons_law_gives_the_time_of_a_worked_example() -> None:
    # Newton's law of cooling by hand: 50 °C, 2 W/K, 12 940 J/K, room 20 °C; 20 + 30·exp(-2·3600 /
    # 12 940) = 37.198 °C after an hour.
    machine = replace(
        a_machine(), water_kg=3.0, vessel_j_per_k=400.0, batch_kg=0.0, loss_w_per_k=2.0, room_c=20.0
    )
    assert cooled_s(machine, 50.0, 37.198) == pytest.approx(3600.0, rel=1e-4)


# Own study of an unpowered machine, 4 kg water, 1 kg chocolate, room 22 °C: not published.
STUDY = replace(a_machine(), batch_kg=1.0, vessel_j_per_k=0.0, loss_w_per_k=2.49)


@pytest.mark.parametrize(
    ("start_c", "end_c", "minutes"),
    [
        (45.0, 44.1, 5),
        (45.0, 43.2, 10),
        (45.0, 40.0, 30),
        (45.0, 36.1, 60),
        (31.5, 31.1, 5),
        (31.5, 30.8, 10),
        (31.5, 29.4, 30),
        (31.5, 27.8, 60),
    ],
)
def test_the_study_of_unpowered_machines_is_borne_out(
    start_c: float, end_c: float, minutes: int
) -> None:
    gap_s = 60.0 * minutes
    before, after = (start_c, start_c), (end_c, end_c)
    assert believed_gap_s(STUDY, gap_s, before=before, after=after) == gap_s
    assert cooled_s(STUDY, start_c, end_c) == pytest.approx(gap_s, rel=0.1)


def two_bodies(machine: Machine, bath_c: float, bowl_c: float, gap_s: float) -> tuple[float, float]:
    """Bath and bowl after `gap_s` by an independent solver: two bodies, 7 W/K between them."""
    bowl_j_per_k = machine.batch_kg * 1590.0

    def slope(_t: float, c: list[float]) -> list[float]:
        across_w = 7.0 * (c[0] - c[1])
        lost_w = machine.loss_w_per_k * (c[0] - machine.room_c)
        return [(-across_w - lost_w) / machine.bath_j_per_k, across_w / bowl_j_per_k]

    found = solve_ivp(slope, (0.0, gap_s), [bath_c, bowl_c], rtol=1e-8)
    return float(found.y[0][-1]), float(found.y[1][-1])


@pytest.mark.parametrize("gap_s", [0.0, 10.0, 120.0, 600.0, 1800.0, 7200.0])
@pytest.mark.parametrize("before", [(32.0, 31.5), (55.0, 40.0), (58.0, 48.0), (29.0, 33.0)])
def test_a_true_gap_is_believed_and_one_far_off_is_not(
    before: tuple[float, float], gap_s: float
) -> None:
    after = two_bodies(a_machine(), *before, gap_s)
    assert believed_gap_s(a_machine(), gap_s, before=before, after=after) == gap_s
    told_s = 4.0 * gap_s + 3600.0  # a wall clock that jumped ahead
    assert believed_gap_s(a_machine(), told_s, before=before, after=after) is None
    if gap_s >= 1800.0:  # a clock that stood still
        assert believed_gap_s(a_machine(), gap_s / 4, before=before, after=after) is None


@pytest.mark.parametrize("gap_s", [None, -1.0, math.nan, math.inf])
def test_no_gap_or_an_impossible_one_is_unknown(gap_s: float | None) -> None:
    assert believed_gap_s(a_machine(), gap_s, before=(40.0, 40.0), after=(40.0, 40.0)) is None


def test_nothing_is_borne_out_without_temperatures_or_at_the_rooms() -> None:
    for before in ((math.nan, 31.5), (22.2, 22.2)):
        assert believed_gap_s(a_machine(), 60.0, before=before, after=(22.0, 22.0)) is None


def test_a_machine_at_the_rooms_temperature_may_have_stood_for_ever() -> None:
    assert cooled_s(a_machine(), 30.0, 22.0) == math.inf
    assert cooled_s(a_machine(), 30.0, 30.0) == 0.0
    assert believed_gap_s(a_machine(), 1e6, before=(30.0, 30.0), after=(22.0, 22.0)) == 1e6
