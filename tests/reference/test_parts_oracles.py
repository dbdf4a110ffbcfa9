"""What advice on parts rests on, against standards, worked examples and an independent solver."""

import math

import pytest
from scipy.integrate import solve_ivp

from controller.core.machine import Machine
from controller.core.records import replace
from controller.core.thermal import BOWL_LOSS_W_PER_K, LN_R, loss_k_per_s
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from controller.planning.air import boiling_c, standard_hpa
from controller.planning.cut_out import SCALDS, scald_s
from controller.planning.heater import HUMIDITY, MAINS_HIGH, hold_w, stuck_on
from controller.planning.probe_budget import (
    PLATINUM,
    budget_at,
    expanded_k,
    probe_kind,
    worst_k,
)
from controller.planning.relay_life import batches, switches_per_h
from controller.planning.times import first_belief

SLOW_W_PER_K = 6.2  # bath to chocolate of the slow machine


@pytest.fixture(scope="module")
def machine() -> Machine:
    """The bench's reference, 500 W."""
    return load_machine_file(None).machine


@pytest.mark.parametrize(
    ("altitude_m", "hpa"),
    # ISO 2533:1975 (ICAO Doc 7488), table of the standard atmosphere (from memory, not checked).
    [(0.0, 1013.25), (500.0, 954.61), (1000.0, 898.76), (2000.0, 795.01), (3000.0, 701.21)],
)
def test_the_pressure_at_an_altitude_is_the_standard_atmosphere_s(
    altitude_m: float, hpa: float
) -> None:
    assert standard_hpa(altitude_m) == pytest.approx(hpa, abs=0.15)


@pytest.mark.parametrize(
    ("altitude_m", "boils_c"),
    # IAPWS-IF97 saturation with the standard atmosphere: the project's notes.
    [(0.0, 99.97), (500.0, 98.31), (1000.0, 96.65), (1500.0, 94.98), (2000.0, 93.32)],
)
def test_water_boils_at_altitude_where_iapws_says(altitude_m: float, boils_c: float) -> None:
    assert boiling_c(standard_hpa(altitude_m)) == pytest.approx(boils_c, abs=0.01)


@pytest.mark.parametrize(
    ("name", "at_0_k", "at_100_k"),
    # IEC 60751: table of tolerances; A and B at 100 °C as every table prints them (0.35, 0.80).
    [("AA", 0.10, 0.27), ("A", 0.15, 0.35), ("B", 0.30, 0.80), ("C", 0.60, 1.60)],
)
def test_platinum_errs_by_the_classes_of_iec_60751(
    name: str, at_0_k: float, at_100_k: float
) -> None:
    kind = probe_kind(f"platinum {name}")
    assert budget_at(kind, 0.0).sold_k == pytest.approx(at_0_k)
    assert budget_at(kind, 100.0).sold_k == pytest.approx(at_100_k)
    assert budget_at(kind, -100.0).sold_k == pytest.approx(at_100_k)  # by |t|


def test_a_reference_resistor_a_thousandth_off_is_0_29_k_at_31_5_degrees() -> None:
    # IEC 60751: 112.2538 ohm at 31.5 °C; 100 (3.9083e-3 - 2 x 5.775e-7 x 31.5) = 0.38719 ohm/K;
    # 0.001 x 112.2538 / 0.38719 = 0.2899 K. One code of 400/32768 ohm is 0.03153 K.
    budget = budget_at(probe_kind("platinum a"), 31.5)
    assert budget.converter_k == pytest.approx(0.2899, abs=1e-4)
    assert 2.0 * budget.step_k == pytest.approx(0.03153, abs=1e-5)


def test_errors_add_up_as_the_gum_adds_limits() -> None:
    # JCGM 100:2008, 4.3.7: u = a / sqrt(3); two of 0.3 K: 2 sqrt(2 x 0.03) = 0.4899 K with k = 2.
    assert expanded_k((0.3, 0.3)) == pytest.approx(0.4899, abs=1e-4)
    assert worst_k((0.3, 0.3)) == pytest.approx(0.6)


def test_every_class_is_wider_than_the_one_before() -> None:
    at_work = [budget_at(probe_kind(f"class {name}"), 31.8).sold_k for name in PLATINUM]
    assert at_work == sorted(at_work)


def test_a_relay_at_six_percent_with_pulses_of_five_seconds_switches_81_times_an_hour() -> None:
    # By hand: on for 5/0.94 = 5.32 s, off for 5/0.06 = 83.33 s; 3600/88.65 = 40.6 cycles.
    assert switches_per_h(0.06, 5.0) == pytest.approx(81.2, abs=0.1)


def test_the_life_of_a_relay_is_the_arithmetic_of_iso_13849() -> None:
    # ISO 13849-1:2015, annex C.4.2: T10D = B10D / n_op; 100 000 cycles at 50 a batch.
    assert batches(50.0, 100_000) == pytest.approx(2000.0)


def test_scald_times_are_those_of_their_source_and_in_between() -> None:
    # US CPSC, document 5098: 120 °F five minutes, 130 °F thirty, 140 °F six, 150 °F two seconds.
    for fahrenheit, seconds in ((120.0, 300.0), (130.0, 30.0), (140.0, 6.0), (150.0, 2.0)):
        water_c = (fahrenheit - 32.0) / 1.8
        assert scald_s(round(water_c, 1)) == pytest.approx(seconds, rel=1e-9)
    assert math.isinf(scald_s(45.0))
    assert scald_s(80.0) == SCALDS[-1][1]
    falling = [scald_s(50.0 + half / 2.0) for half in range(40)]
    assert falling == sorted(falling, reverse=True)
    assert 2.0 < scald_s(62.0) < 6.0


def test_a_relay_that_welds_on_the_slow_machine_spoils_held_chocolate_in_4_6_minutes(
    machine: Machine,
) -> None:
    # The project's notes on that machine: held at 31.5 °C, 500 W, 33.8 °C passed after 4.6 min.
    profile = load_profile("dark", machine)
    held = replace(profile.phases[-1], bowl_target_c=31.5)
    profile = replace(profile, phases=(*profile.phases[:-1], held))
    belief = first_belief(profile, machine, HUMIDITY)
    slow = math.log(SLOW_W_PER_K / belief.prior.bath_j_per_k)
    belief = replace(belief, other_transfer=(slow, 0.0))
    calm = replace(machine, heater_w=500.0 / MAINS_HIGH**2)
    assert stuck_on(belief, calm, profile, 100.0).spoils_s / 60.0 == pytest.approx(4.6, abs=0.4)


def test_what_stays_on_is_what_an_independent_solver_makes_of_two_lumps(machine: Machine) -> None:
    profile = load_profile("dark", machine)
    belief = first_belief(profile, machine, HUMIDITY)
    prior = belief.prior
    k = math.exp(belief.other_transfer[0])
    kr = k * math.exp(belief.mean[LN_R])
    heats = MAINS_HIGH**2 * machine.heater_w / prior.bath_j_per_k
    bowl_loss = BOWL_LOSS_W_PER_K / prior.bowl_j_per_k

    def slopes(_time_s: float, at: tuple[float, float]) -> tuple[float, float]:
        flows = k * (at[0] - at[1])
        bowl = flows * kr / k - bowl_loss * (at[1] - prior.room_c)
        return heats - flows - loss_k_per_s(prior, at[0]), bowl

    def boils(_time_s: float, at: tuple[float, float]) -> float:
        return at[0] - 99.97

    boils.terminal = True  # type: ignore[attr-defined] # as solve_ivp wants it
    work_c = profile.phases[-1].bowl_target_c
    solved = solve_ivp(slopes, (0.0, 4e4), (work_c + 0.6, work_c), events=boils, max_step=20.0)
    found = stuck_on(belief, machine, profile, 99.97)
    assert found.boils_s == pytest.approx(float(solved.t_events[0][0]), rel=0.02)


def test_the_hold_takes_what_the_machine_loses(machine: Machine) -> None:
    # The project's notes: 31 W at 31.5 °C on the reference; its file's owner counts more vapour.
    profile = load_profile("dark", machine)
    belief = first_belief(profile, machine, HUMIDITY)
    assert 0.8 * 31.0 <= hold_w(belief, machine, 31.5) <= 1.25 * 31.0
