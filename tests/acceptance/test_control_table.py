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
from tests.benchmarks.control_measures import (
    entered_s,
    helpless_s,
    off_k,
    overshoot_k,
    rms_k,
    run_one,
)
from tests.benchmarks.control_table import LINES, TITLES, rivals_text, table_text
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
    assert word == "gain" or line.worst.startswith("drawn-1-2 ")
    assert "drawn-1-2" in table_text([line]) or word == "gain"


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
    rows = control.all_rows(SEED, 3, 1, table)
    assert [row[MACHINE] for row in rows] == list(MACHINES)
    monkeypatch.setattr(control, "run_one", failing_row)
    assert control.all_rows(SEED, 3, 1, table) == rows
    arguments = ["--machines", "3", "--seed", "7", "--processes", "1", "--daemon-s", "0"]
    assert control.main([*arguments, "--resume", str(table)]) == 2
    assert "another seed" in capsys.readouterr().err


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
