"""Two faults at a time: which are drawn, what is right for both, and how they are run again."""

import math
from typing import Any

import pytest

from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.files.profile_file import load_profile
from controller.trials.ordeal_draws import WORST, drawn_pairs, paired_faults
from controller.trials.ordeal_summary import Tried, faults_text, replay_text
from controller.trials.ordeal_watch import Found
from controller.wiring import BenchFault

DARK = load_profile("dark", load_machine_file(bench_machine_path("reference")).machine)
HEATS_ON: dict[str, Any] = {"harm": "scalding", "harm_s": 60.0}


DEAD: dict[str, Any] = {"fault": "heater-dead", "phase": "hold", "leg": "hold"}


def tried(fittings: str = "", /, **changes: object) -> Tried:
    """A level switch that always says water, and then a bath that loses it."""
    facts: dict[str, object] = {
        "fault": "level-stuck",
        "size": math.nan,
        "phase": "cool",
        "after_s": 30.0,
        "leg": "cool",
        "second": "bath-probe-drift",
        "second_size": -5.0,
        "second_phase": "rewarm",
        "second_after_s": 4.0,
        "second_leg": "rewarm",
        "cause": "bath-probes-disagree",
        "said": {"bath-probes-disagree": 50.0},
        "bath_max_c": 38.0,
        "bowl_max_c": 33.5,
    }
    found = Found(**(facts | changes))  # type: ignore[arg-type] # as named
    return Tried(machine="drawn-1-7", fittings=frozenset(fittings.split()), found=found)


def test_the_same_machine_gets_the_same_pairs_and_another_one_others() -> None:
    assert drawn_pairs(1, 2, DARK, 20) == drawn_pairs(1, 2, DARK, 20)
    assert drawn_pairs(1, 2, DARK, 20) != drawn_pairs(1, 3, DARK, 20)
    assert drawn_pairs(1, 2, DARK, 20) != drawn_pairs(2, 2, DARK, 20)


def test_many_machines_get_every_two_of_the_worst_the_second_within_five_minutes() -> None:
    drawn = [one for number in range(1, 120) for one in drawn_pairs(1, number, DARK, 40)]
    seconds = [one.second for one in drawn if one.second is not None]
    assert len(seconds) == len(drawn)
    met = {(one.fault, second.fault) for one, second in zip(drawn, seconds, strict=True)}
    assert met == {(one, other) for one in WORST for other in WORST if one is not other}
    assert all(1.0 <= second.later_s <= 300.0 for second in seconds)
    assert {one.phase for one in drawn} == {phase.name for phase in DARK.phases}
    drifts = {one.size for one in seconds if one.fault is BenchFault.BATH_PROBE_DRIFT}
    assert drifts == {-5.0, 5.0}


def test_pairs_of_named_faults_are_of_those_alone_and_none_comes_before_its_run() -> None:
    named = (BenchFault.LID_OFF, BenchFault.AMOUNT_WRONG, BenchFault.WATER_LOW)
    assert paired_faults(named) == (BenchFault.LID_OFF, BenchFault.WATER_LOW)
    pairs = drawn_pairs(1, 1, DARK, 100, named)
    assert len(pairs) == 2 * len(DARK.phases)
    assert {one.fault for one in pairs} == {BenchFault.LID_OFF, BenchFault.WATER_LOW}


def test_a_pair_is_due_where_both_are_each_in_its_own_leg() -> None:
    assert tried(**DEAD).is_due
    assert not tried(**DEAD | {"leg": "cool"}).is_due
    assert not tried(**DEAD | {"second": "heater-dead", "second_leg": "cool"}).is_due
    assert tried(**DEAD | {"second": "heater-dead", "second_leg": "hold"}).is_due
    assert not tried().is_due
    assert tried(**DEAD | {"second": "", "second_leg": ""}).is_due
    assert not tried(**DEAD | {"second": "level-stuck"}).is_due


@pytest.mark.parametrize(
    ("changes", "right_s", "is_missed"),
    [
        ({}, 50.0, False),
        ({"said": {"bath-probes-disagree": 70.0}}, 70.0, True),
        ({"said": {"level-lost": 50.0}}, math.inf, True),
        ({"fault": "water-low", "said": {"level-lost": 50.0}}, 50.0, False),
        ({"second": "", "second_leg": ""}, math.inf, True),
        ({"fault": "water-boiling", "said": {}}, math.inf, False),
        ({"second": "water-boiling", "said": {}}, math.inf, False),
    ],
)
def test_what_is_right_for_either_is_right_for_both(
    changes: dict[str, Any], right_s: float, is_missed: bool
) -> None:
    one = tried(**(HEATS_ON | changes))
    assert one.right_s == right_s
    assert one.is_missed is is_missed


def test_the_cause_of_either_is_the_right_one() -> None:
    assert tried().is_right
    assert not tried(second="", second_leg="").is_right
    assert tried(fault="bath-probe-out", second="level-stuck").is_right
    assert not tried(cause="level-lost").is_right


def test_a_pair_is_run_again_with_both_and_one_that_came_alone_with_one() -> None:
    assert replay_text(tried("shaft level"), "dark") == (
        "bainward try dark --machine drawn-1-7 --fitted level,shaft "
        "--fault level-stuck@cool+30s --fault bath-probe-drift:-5K@rewarm+4s"
    )
    assert replay_text(tried(second=""), "dark").endswith("none --fault level-stuck@cool+30s")


def test_pairs_are_told_as_pairs_by_their_first_fault() -> None:
    text = faults_text([tried(), tried(second="", second_leg="")], "dark", in_pairs=True)
    lines = text.splitlines()
    assert lines[0] == "2 pairs of faults on 1 machines, dark"
    assert lines[1] == "In 1 of them the first had ended the run before the second came."
    (row,) = [line for line in lines if line.startswith("level-stuck")]
    assert row.split()[:4] == ["level-stuck", "2", "2", "1"]


def test_harm_of_pairs_of_which_one_can_not_be_seen_is_listed_apart() -> None:
    harm: dict[str, Any] = HEATS_ON | {"said": {}}
    text = faults_text([tried(**harm), tried(**harm), tried(**harm | DEAD)], "dark", in_pairs=True)
    could, _, could_not = text.partition("Harm with heat on and nobody told")[2].partition(
        "The same where one of the two could not, or not for sure: 2.\n"
    )
    assert could.startswith(", where it could be seen: 1.\n  bainward try dark ")
    assert could.count("--fault heater-dead@hold") == could.count("bainward try") == 1
    assert could_not.count("--fault level-stuck@cool") == could_not.count("bainward try") == 2
    alone = faults_text([tried(**harm)], "dark")
    assert "The same where it could not, or not for sure: 1.\n  bainward try dark" in alone
