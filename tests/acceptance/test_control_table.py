"""The benchmark of control in short: a handful of machines, and only what must never get worse.

The limits here are no goals, which stand in the table; they are far enough from what is reached
that only a fault of control crosses them. Machines are of a seed for neither tuning nor judging.
"""

import math
from array import array
from collections.abc import Mapping
from pathlib import Path

import pytest

from controller.report.table import MACHINE, Cell, Row
from tests.benchmarks import control
from tests.benchmarks.control_goals import MET, lost, won
from tests.benchmarks.control_measures import (
    entered_s,
    helpless_s,
    off_k,
    overshoot_k,
    rms_k,
    run_one,
    runs_of,
)
from tests.benchmarks.control_profiles import cooling
from tests.benchmarks.control_runs import run, subject
from tests.benchmarks.control_sides import TITLES, rivals_text, structures_text
from tests.benchmarks.control_structures import STRUCTURES, structured
from tests.benchmarks.control_table import LINES, Line, table_text
from tests.benchmarks.rivals.stage import Trace

SEED = 1002
MACHINES = (f"drawn-{SEED}-1", f"drawn-{SEED}-2", f"drawn-{SEED}-3")


@pytest.fixture(scope="module", params=MACHINES)
def row(request: pytest.FixtureRequest) -> Mapping[str, Cell]:
    """One machine's row, without the slow relay and the cooling."""
    return run_one(request.param, "curve rivals", ())


def number(row: Mapping[str, Cell], column: str) -> float:
    """A cell that holds a number."""
    cell = row[column]
    assert not isinstance(cell, str)
    return float(cell)


@pytest.mark.parametrize("leg", ["melt", "rewarm"])
def test_no_machine_goes_far_over_and_none_is_faster_than_physics(
    row: Mapping[str, Cell], leg: str
) -> None:
    assert row["curve_end"] in {"done", "not-in-temper"}
    assert number(row, f"{leg}_over_k") <= 0.6
    assert number(row, f"{leg}_bound_s") > 60.0
    time_s = number(row, f"{leg}_time_s")
    assert math.isnan(time_s) or time_s >= 0.99 * number(row, f"{leg}_bound_s")
    assert number(row, f"{leg}_over_k") < number(row, f"thermostat_{leg}_over_k")


def test_every_machine_is_held_for_two_hours(row: Mapping[str, Cell]) -> None:
    assert number(row, "hold_off_k") <= 0.4
    assert number(row, "hold_rms_k") <= 0.1


def row_of(machine: str, **columns: Cell) -> Row:
    """A row of a table, all of it good but for what is said."""
    good: dict[str, Cell] = {MACHINE: machine, "relay_switches_per_h": 10.0}
    for leg in ("melt", "rewarm"):
        good |= {f"{leg}_bound_s": 1000.0, f"{leg}_time_s": 1010.0}
        for who in ("", "thermostat_", "single_pi_", "cascade_"):
            good[f"{who}{leg}_over_k"] = 0.002 if not who else 5.0
            good[f"{who}hold_off_k"] = 0.01
        good[f"{leg}_true_over_k"] = 0.002
    for column in ("hold_true_off_k", "hold_rms_k", "still_over_k", "still_under_k"):
        good[column] = 0.001
    good["hold_helpless_s"] = 0.0
    good |= {"relay_ripple_k": 0.05, "relay_off_k": 0.05, "cool_time_s": 300.0, "cool_under_k": 0.1}
    return {**good, **columns}


def test_a_good_machine_meets_every_goal() -> None:
    for judge, _ in LINES.values():
        assert judge([row_of("good")]).is_met


@pytest.mark.parametrize(
    ("word", "column", "bad"),
    [
        ("melt", "melt_over_k", 0.31),
        ("rewarm", "rewarm_over_k", math.nan),
        ("melt-time", "melt_time_s", 1160.0),
        ("rewarm-time", "rewarm_time_s", math.nan),
        ("hold", "hold_off_k", 0.11),
        ("relay", "relay_off_k", 0.11),
        ("cooling", "cool_under_k", 0.36),
        ("stirrer", "still_over_k", 0.07),
        ("gain", "melt_over_k", 0.2),
    ],
)
def test_a_bad_machine_misses_its_goal_and_is_named(word: str, column: str, bad: float) -> None:
    judge, _ = LINES[word]
    line = judge([row_of("drawn-1-1"), row_of("drawn-1-2", **{column: bad})] * 2)
    line_of_one = judge([row_of("drawn-1-2", **{column: bad})])
    assert not line_of_one.is_met
    assert line.worst.startswith("drawn-1-2 ")
    assert "drawn-1-2" in table_text([line])


def test_the_second_table_names_every_controller() -> None:
    text = rivals_text([row_of("drawn-1-1")])
    assert all(title in text for title in TITLES.values())
    assert text.splitlines()[2].endswith("| 100.0% |")
    assert text.splitlines()[3].endswith("| 0.0% |")


def test_a_trace_is_judged_from_its_last_moment_out_of_the_band() -> None:
    temps = [20.0, 49.95, 50.2, 50.05, 49.95]
    assert entered_s(temps, 50.0, 0.1) == 4.0
    assert entered_s([50.0], 50.0, 0.1) == 1.0
    assert math.isnan(entered_s([50.0, 51.0], 50.0, 0.1))
    assert math.isnan(entered_s([], 50.0, 0.1))
    assert overshoot_k(temps, 50.0) == pytest.approx(0.2)
    assert off_k(temps[1:], 50.0) == pytest.approx(0.2)
    assert rms_k([50.3, 49.6], 50.0) == pytest.approx(math.sqrt(0.125))


def test_a_bowl_over_the_band_with_the_heater_long_off_is_helpless() -> None:
    seen = array("d", [50.2] * 700)
    cold = Trace(target_c=50.0, seen=seen, heated=bytearray([0] * 700))
    assert helpless_s(cold) == 101.0
    assert helpless_s(Trace(target_c=50.0, seen=seen, heated=bytearray([0, 1] * 350))) == 0.0
    assert helpless_s(Trace(target_c=50.15, seen=seen, heated=bytearray([0] * 700))) == 0.0


def line(*met: bool) -> Line:
    """A line of goals that are met, or not."""
    return Line(title="hold", goals=tuple("abc"[: len(met)]), met=met, reached="all but b")


def test_a_goal_that_was_met_and_is_not_any_more_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.benchmarks.control_goals.MET", {"hold": (True, True, False)})
    assert lost({"hold": line(True, True, False)}) == []
    (sentence,) = lost({"hold": line(True, False, False)})
    assert sentence == "hold: b was met before, and now it is all but b."
    assert won({"hold": line(True, False, False)}) == []
    (sentence,) = won({"hold": line(True, True, True)})
    assert sentence.startswith("hold: c is met now")


def test_every_goal_but_those_of_speed_is_kept_once_met() -> None:
    good = {word: judge([row_of("good")]) for word, (judge, _) in LINES.items()}
    assert set(MET) == set(LINES) | {"addition", "ready-reference", "ready-brisk"}
    assert {word: len(one.goals) for word, one in good.items()} == {
        word: len(MET[word]) for word in LINES
    }


def test_a_plan_asks_some_things_of_every_so_manieth_machine() -> None:
    plan = "curve relay/2 film/20"
    assert runs_of("drawn-1001-1", plan) == ["curve"]
    assert runs_of("drawn-1001-2", plan) == ["curve", "relay"]
    assert runs_of("drawn-1001-40", plan) == ["curve", "relay", "film"]
    assert runs_of("brisk", "curve cooling") == ["curve", "cooling"]


def test_a_line_judges_only_the_machines_that_were_tried_and_says_how_many() -> None:
    untried: Row = {MACHINE: "drawn-1-1", "runs": "curve", "melt_over_k": 0.01}
    tried = row_of("drawn-1-2", runs="curve relay rivals")
    relay = LINES["relay"][0]([untried, tried])
    assert relay.is_met
    assert "1 of 1 tried, of 2 machines" in relay.reached
    failed: Row = {MACHINE: "drawn-1-3", "failure": "it broke"}
    assert "1 of 2 tried, of 2 machines" in LINES["relay"][0]([failed, tried]).reached
    assert not LINES["melt"][0]([failed, tried]).is_met
    assert "(1 of 2 machines)" in LINES["gain"][0]([untried, tried]).reached
    assert rivals_text([untried, tried]).startswith("| 1 of 2 machines |")


def test_machines_built_differently_stand_apart_from_the_others() -> None:
    odd = {f"film_{column}": cell for column, cell in row_of("odd", melt_over_k=0.2).items()}
    rows = [row_of("drawn-1-1", runs="curve"), row_of("drawn-1-20", runs="curve film", **odd)]
    first, _, as_drawn, film, *_ = structures_text(rows).splitlines()
    assert first.startswith("| bainward on ")
    assert as_drawn.endswith("| 100.0% |")
    assert film.endswith("| 0.0% |")
    assert "0.200" in film


@pytest.mark.parametrize("name", STRUCTURES)
def test_a_structure_is_another_machine_for_control_and_the_same_for_its_owner(name: str) -> None:
    one = subject(MACHINES[0])
    other = structured(one, name)
    assert other.machine == one.machine
    assert (other.parameters, other.law) != (one.parameters, one.law)
    alike, odd = (run(each, cooling()).legs["melt"].trace.seen for each in (one, other))
    assert alike[-1] == pytest.approx(odd[-1], abs=1.0)
    assert list(alike) != list(odd)


def test_the_check_has_machines_of_its_own_and_fails_when_a_goal_is_lost(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[tuple[str, int, int]] = []

    def rows(plan: str, seed: int, machines: int, _processes: int, _table: Path) -> list[Row]:
        asked.append((plan, seed, machines))
        return [row_of("good")]

    lines = {word: line(*met) for word, met in MET.items()}
    monkeypatch.setattr(control, "all_rows", rows)
    monkeypatch.setattr(control, "judged", lambda _rows, _daemon: lines)
    assert control.main(["--check", "--machines", "3", "--seed", "7"]) == 0
    assert asked == [(control.CHECK_PLAN, 1001, 100)]
    lines["rewarm"] = line(True, False)
    assert control.main(["--check"]) == control.GOAL_LOST
    assert "b was met before" in capsys.readouterr().out


def fake_row(machine: str, runs: str, faults: tuple[str, ...]) -> Mapping[str, Cell]:  # noqa: ARG001 - as a sweep's worker calls it
    """A machine that takes no time."""
    return {"melt_over_k": 0.0}


def failing_row(machine: str, runs: str, faults: tuple[str, ...]) -> Mapping[str, Cell]:  # noqa: ARG001 - as a sweep's worker calls it
    """A machine that must not be run."""
    raise AssertionError


def test_finished_machines_are_kept_and_other_seeds_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "table"
    monkeypatch.setattr(control, "run_one", fake_row)
    rows = control.all_rows(control.PLAN, SEED, 3, 1, table)
    assert [row[MACHINE] for row in rows] == list(MACHINES)
    monkeypatch.setattr(control, "run_one", failing_row)
    assert control.all_rows(control.PLAN, SEED, 3, 1, table) == rows
    arguments = ["--machines", "3", "--processes", "1", "--daemon-s", "0", "--table", str(table)]
    assert control.main([*arguments, "--seed", "7"]) == 2
    assert f"(seed: {SEED}; now 7)" in capsys.readouterr().err
    monkeypatch.setattr(control, "PLAN", "curve")
    assert control.main([*arguments, "--seed", str(SEED)]) == 2
    assert "now curve)" in capsys.readouterr().err
    monkeypatch.setattr(control, "harness_text", lambda: "of today")
    assert control.main([*arguments, "--seed", str(SEED)]) == 2
    assert "Give this one another --table" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"), [(("--table", "rows"), "kept beside rows"), ((), "give it --table FILE")]
)
def test_an_interruption_says_what_became_of_finished_machines(
    words: tuple[str, ...],
    said: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def broken_off(*_given: object) -> list[Row]:
        raise KeyboardInterrupt

    monkeypatch.setattr(control, "all_rows", broken_off)
    assert control.main(["--daemon-s", "0", *words]) == 5
    assert said in capsys.readouterr().err


def test_a_machine_is_replayed_by_its_name_to_the_same_numbers(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert control.main(["--only", MACHINES[0], "--row", "cooling"]) == 0
    first = capsys.readouterr().out
    assert float(dict(line.split() for line in first.splitlines())["cool_under_k"]) >= 0.0
    assert control.main(["--only", MACHINES[0], "--row", "cooling"]) == 0
    assert capsys.readouterr().out == first


def test_what_cannot_be_replayed_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert control.main(["--only", "drawn-", "--row", "melt"]) == 6
    assert control.main(["--row", "melt"]) == 2
    assert "--only" in capsys.readouterr().err
