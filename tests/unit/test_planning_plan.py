"""A plan put together: hours, heat, cold water, seed and what the room forbids."""

import math

import pytest

from controller.core.machine import Machine
from controller.core.records import replace
from controller.core.waits import WAIT_S
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from controller.planning.plan import Plan, carrying, machine_for, plan_of, work_s
from controller.planning.room import Remark
from controller.planning.sheet import sheet
from controller.planning.times import course_of, done_s
from controller.planning.water import ice_in_kg
from controller.planning.wish import Words, piece_words, shell_words, wish_of

EGG = ("egg", shell_words("egg 160 x 110 mm, wall 3 mm"))
STICKS = ("sticks", piece_words("48 x 8 g at 40 %"))


@pytest.fixture(scope="module")
def machine() -> Machine:
    """The bench's reference."""
    return load_machine_file(None).machine


def planned(
    machine: Machine, *makes: tuple[str, Words], profile: str = "dark-seeded", **told: str
) -> Plan:
    """A plan of these, or of a batch."""
    words = {"tap": "15 C", "humidity": "50 %", **told}
    if not makes:
        words.setdefault("batch", "1.5 kg")
    wish = wish_of(words, makes, machine)
    own = load_profile(profile, carrying(wish, machine))
    return plan_of(wish, own, machine_for(wish, machine), machine.batch_kg)


def test_the_batch_is_what_the_order_of_use_asks_for(machine: Machine) -> None:
    egg_first = planned(machine, EGG, STICKS)
    sticks_first = planned(machine, STICKS, EGG)
    assert egg_first.batch_kg == pytest.approx(1.24)
    assert egg_first.better == ()
    assert sticks_first.batch_kg == pytest.approx(1.5)
    assert sticks_first.better_kg == pytest.approx(1.24)
    assert [use.name for use in sticks_first.better] == ["egg", "pieces"]
    assert "In another order 1.24 kg would do: egg, then 48 pieces." in sheet(sticks_first)
    assert "In another order" not in sheet(egg_first)


def test_a_batch_that_is_told_wins_and_what_it_lacks_is_said(machine: Machine) -> None:
    plan = planned(machine, EGG, STICKS, batch="1.1 kg")
    assert plan.batch_kg == 1.1
    assert "140 g too little" in sheet(plan)
    assert "too little" not in sheet(planned(machine, EGG, STICKS))


def test_the_profile_s_seed_is_weighed_out_and_the_balance_s_beside_it(machine: Machine) -> None:
    plan = planned(machine)
    assert [round(1000 * one.mass_kg) for one in plan.portions] == [135, 15]
    assert [one.bowl_c for one in plan.portions] == [None, 33.5]
    # By hand, 48 to 32 °C with a bowl of 0.45 x 700 J/K: gives 1.67 x 8 + 1.59 x 8 = 26.08, takes
    # 65.08 kJ/kg: (1.5 x 26.08 + 0.315 x 16) / 91.16 = 0.4844 kg, two thirds of it first.
    assert plan.seed.all_kg == pytest.approx(0.4844, abs=5e-4)
    assert plan.seed.first_kg == pytest.approx(0.3229, abs=5e-4)
    assert plan.seed.first_kg + plan.seed.late_kg == pytest.approx(plan.seed.all_kg)
    assert plan.seed.at_once_c == pytest.approx(32.0)
    assert plan.seed.after_first_c > plan.seed.at_most_c == 33.8


def test_milk_keeps_its_late_seed_only_in_a_cooler_bowl(machine: Machine) -> None:
    plan = planned(machine, profile="milk", chocolate="milk")
    assert plan.portions == ()
    assert plan.seed.at_most_c == pytest.approx(32.3)


def test_more_fat_takes_less_seed(machine: Machine) -> None:
    assert planned(machine, fat="42 %").seed.all_kg < planned(machine).seed.all_kg


def test_cold_water_is_made_with_ice_or_less_of_it_does(machine: Machine) -> None:
    warm, alike, cold = (planned(machine, tap=tap).cold[0] for tap in ("19 C", "15 C", "10 C"))
    assert warm.swap == alike.swap == cold.swap
    assert warm.swap.swap_kg == pytest.approx(1.95)  # the profile's 65 % of 3 kg
    # x (334 + 4.18 x 19) = 1.95 x 4.18 x 4, x = 78.9 g of ice among 1.95 kg
    assert warm.ice_kg == pytest.approx(0.0789, abs=5e-4)
    assert alike.ice_kg == cold.ice_kg == 0.0
    assert cold.by_tap_kg < alike.by_tap_kg < warm.by_tap_kg
    assert alike.by_tap_kg == pytest.approx(alike.swap.swap_kg)
    # The vessel stays as warm as it was: 700 J/K beside the water.
    held = 1.95 * 4.18 / (3.0 * 4.18 + 0.7)
    from_c = alike.swap.bath_from_c
    assert alike.swap.bath_to_c == pytest.approx(from_c - held * (from_c - 15.0))


def test_a_swap_that_the_run_works_out_is_worked_out_the_same_way(machine: Machine) -> None:
    cold, warm = (planned(machine, profile="dark", tap=tap).cold[0] for tap in ("12 C", "18 C"))
    assert cold.swap.is_computed
    assert (cold.swap.water_c, warm.swap.water_c) == (12.0, 18.0)
    assert 0.3 < cold.swap.swap_kg < warm.swap.swap_kg <= 2.7  # never more than 90 % of 3 kg
    assert warm.ice_kg == 0.0
    assert "The run works it out again" in sheet(planned(machine, profile="dark", tap="12 C"))
    by_tap = sheet(planned(machine, tap="10 C"))
    assert "of tap water at 10.0 °C do the same" in by_tap
    assert "The run works it out again" not in by_tap


def test_a_tap_too_warm_for_any_profile_is_helped_with_ice(machine: Machine) -> None:
    cold = planned(machine, profile="dark", tap="28 C").cold[0]
    assert cold.swap.water_c == 15.0
    assert cold.ice_kg == pytest.approx(ice_in_kg(cold.swap.swap_kg, tap_c=28.0, to_c=15.0))
    assert "from the tap at 28.0 °C" in sheet(planned(machine, profile="dark", tap="28 C"))


def test_a_profile_without_a_swap_needs_no_cold_water(machine: Machine) -> None:
    plan = planned(machine)
    dry = replace(plan.profile, phases=plan.profile.phases[:1])
    assert plan_of(plan.wish, dry, plan.machine, 1.5).cold == ()


def test_phases_follow_each_other_and_the_last_ends_when_it_is_ready(machine: Machine) -> None:
    profile = load_profile("dark", machine)
    course = course_of(profile, machine, 0.5)
    assert [leg.name for leg in course.legs] == ["melt", "cool", "rewarm", "hold"]
    for before, leg in zip(course.legs, course.legs[1:], strict=False):
        assert leg.begins_s == before.ends_s
        assert leg.reached_s > leg.begins_s
    melt = course.legs[0]
    assert melt.ends_s - melt.reached_s == pytest.approx(600.0)
    assert course.legs[-1].ends_s == course.ready_s
    assert course.ready_s < course.ready_p90_s == course.outlook.late_s
    seeded = course_of(load_profile("dark-seeded", machine), machine, 0.5).legs[1]
    assert seeded.ends_s - seeded.reached_s == pytest.approx(300.0 + WAIT_S)


def test_more_chocolate_takes_longer_and_more_heat(machine: Machine) -> None:
    small, large = planned(machine, batch="0.8 kg"), planned(machine, batch="1.6 kg")
    assert small.course.ready_s < large.course.ready_s
    assert small.course.heat_j < large.course.heat_j
    assert small.portions[0].mass_kg == pytest.approx(0.072)


def test_the_heat_is_what_water_and_chocolate_take_and_some_loss(machine: Machine) -> None:
    # From 20 to 49 °C: water 3 x 4.18 x 29, vessel 0.7 x 29, chocolate 1.35 (1.75 x 28 + 45) kJ;
    # then 1.95 kg of cold water that must come from 28 to 32 °C with the rest.
    held_kj = 3 * 4.18 * 29 + 0.7 * 29 + 1.35 * (1.75 * 28 + 45)
    assert 1.05 * held_kj < planned(machine).course.heat_j / 1000.0 < 1.6 * held_kj


def test_a_warm_dry_room_takes_less_heat_and_damp_air_less_vapour(machine: Machine) -> None:
    cool, warm = planned(machine), planned(machine, room="26 C")
    assert warm.course.heat_j < cool.course.heat_j
    dry, damp = planned(machine, humidity="20 %"), planned(machine, humidity="90 %")
    assert damp.course.vapour_kg < dry.course.vapour_kg


def test_work_is_thirty_seconds_a_piece_five_minutes_a_shell_and_setting(machine: Machine) -> None:
    plan = planned(machine, EGG, STICKS)
    assert plan.work_s == 48 * 30.0 + 300.0 + 1200.0
    assert plan.done_s == plan.course.ready_s + plan.work_s
    assert plan.done_p90_s > plan.course.ready_p90_s + plan.work_s
    assert work_s(planned(machine).wish) == 0.0
    slow = planned(machine, STICKS, work="2 h")
    assert slow.work_s == 7200.0 + 1200.0
    assert "have it longer" in sheet(slow)
    assert "have it longer" not in sheet(plan)
    likely_s, late_s = done_s(plan.course, 0.0)
    assert likely_s == plan.course.ready_s
    assert late_s == pytest.approx(plan.course.ready_p90_s)


def test_a_room_as_warm_as_working_temperature_forbids_it(machine: Machine) -> None:
    plan = planned(machine, room="32 C", humidity="40 %")
    assert Remark.NOTHING_SETS in plan.air.remarks
    assert "NO: Not in this room" in sheet(plan)


def test_a_phase_out_of_reach_is_named_instead_of_hours(machine: Machine) -> None:
    plan = planned(machine, room="32.5 C", profile="dark", tap="34 C")
    slow = replace(plan.machine, heater_w=20.0)
    plan = plan_of(plan.wish, plan.profile, slow, machine.batch_kg)
    assert math.isnan(plan.course.ready_s)
    page = sheet(plan)
    assert "None can be told. 50.0 °C won't be reached" in page
    assert "Unknown, as the hours are." in page
    assert "nan" not in page


@pytest.mark.parametrize(
    ("told", "remarks"),
    [
        ({"room": "20 C", "humidity": "45 %"}, {Remark.FIT, Remark.FRIDGE_SWEATS}),
        ({"room": "20 C", "humidity": "45 %", "fridge": "14 C"}, {Remark.FIT}),
        ({"room": "70 F", "humidity": "40 %", "fridge": "14 C"}, {Remark.FIT}),
        (
            {"room": "16 C", "humidity": "45 %"},
            {Remark.TOO_COLD_TO_WORK, Remark.FRIDGE_SWEATS},
        ),
        (
            {"room": "27 C", "humidity": "72 %", "tap": "18 C"},
            {
                Remark.TOO_WARM_TO_SET,
                Remark.DAMP,
                Remark.MOULDS_SWEAT,
                Remark.TAP_SWEATS,
                Remark.FRIDGE_SWEATS,
            },
        ),
    ],
)
def test_the_room_is_judged_by_its_dew_point(
    machine: Machine, told: dict[str, str], remarks: set[Remark]
) -> None:
    assert set(planned(machine, **told).air.remarks) == remarks


def test_a_bath_colder_than_the_dew_point_sweats_and_a_warm_room_needs_it(
    machine: Machine,
) -> None:
    remarks = planned(machine, profile="dark", room="27 C", humidity="90 %").air.remarks
    assert Remark.BATH_SWEATS in remarks
    assert Remark.NEEDS_COLD_WATER in remarks


def test_more_than_the_machine_s_batch_is_worth_a_second_look(machine: Machine) -> None:
    assert "2 rounds" in sheet(planned(machine, batch="1.9 kg"))
    assert " rounds" not in sheet(planned(machine, batch="1.6 kg"))


def test_seed_beyond_all_practice_is_said_to_be(machine: Machine) -> None:
    assert "more than is ever used" in sheet(planned(machine, seed="28 C"))
    assert "more than is ever used" not in sheet(planned(machine, seed="18 C"))


def test_the_page_is_one_page_and_speaks_either_scale(machine: Machine) -> None:
    plan = planned(machine, EGG, STICKS, room="27 C", humidity="72 %", altitude="850 m")
    for fahrenheit in (False, True):
        lines = sheet(plan, fahrenheit=fahrenheit).splitlines()
        assert len(lines) <= 60
        assert max(map(len, lines)) <= 78
    page = sheet(plan, fahrenheit=True)
    assert "80.6 °F" in page
    assert "°C" not in page
