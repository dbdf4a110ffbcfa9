"""Machines of which an ordeal has nothing to judge: refused, failed, or tripping though whole."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from controller.commands.main import main
from controller.core import thresholds
from controller.errors import Exit
from controller.report.table_file import read_table
from controller.trials.ordeal_summary import (
    drawn_of,
    faults_text,
    lost_text,
    rough_text,
    tried_of,
)

if TYPE_CHECKING:
    from controller.report.table import Row

DARK = Path(__file__).resolve().parents[2] / "profiles" / "dark.toml"
ALONE = ["--processes", "1"]


def own(tmp_path: Path, changes: dict[str, str]) -> str:
    """A profile file of somebody's own: the shipped dark one, changed."""
    text = DARK.read_text(encoding="utf-8")
    for before, after in changes.items():
        assert before in text
        text = text.replace(before, after, 1)
    path = tmp_path / "own.toml"
    path.write_text(text.replace('name = "dark"', 'name = "own"'), encoding="utf-8")
    return str(path)


def test_machines_that_refuse_the_profile_are_told_with_why_and_judged_no_further(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fast = own(tmp_path, {'bowl = "50 C"': 'bowl = "50 C"\nrate_limit = "1.6 K/min"'})
    words = ["ordeal", fast, "--machines", "2", "--each", "1", "--table", str(tmp_path / "t.csv")]
    assert main([*words, *ALONE]) == Exit.BAD_FILE
    said = capsys.readouterr().out
    assert "machines refused: " in said
    assert "0 faults on 0 machines" in said


def test_one_that_is_done_counts_beside_others_that_are_not() -> None:
    rows: list[Row] = [
        {
            "machine": "drawn-1-1",
            "exit": "refused",
            "found": "",
            "failure": "too fast",
            "hours": "",
        },
        {"machine": "drawn-1-2", "exit": "failed", "found": "", "failure": "Oops", "hours": ""},
        {"machine": "drawn-1-3", "exit": "refused", "found": "", "failure": "too fast"},
        {"machine": "drawn-1-4", "exit": "done", "found": "[]", "drawn": 5, "failure": ""},
    ]
    assert tried_of(rows) == []
    assert drawn_of(rows) == 5
    assert lost_text(rows, "dark") == (
        "drawn-1-2 failed: Oops\n2 of 4 machines refused: too fast\n"
    )
    assert "0 h of dark" in rough_text(rows, "dark")
    assert "Of 5 drawn the others never came" in faults_text([], "dark", drawn=5)
    assert "drawn" not in faults_text([], "dark", drawn=0)


def test_a_machine_that_trips_before_anything_is_broken_is_told_and_its_faults_count_for_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    late = own(tmp_path, {'late_after = "2 h"': 'late_after = "12 min"', '"warn"': '"trip"'})
    table = tmp_path / "t.csv"
    words = ["ordeal", late, "--machines", "1", "--each", "12", "--table", str(table)]
    assert main([*words, *ALONE]) == Exit.TRIPPED
    said = capsys.readouterr().out
    assert "drawn-1-1 tripped though nothing was broken (phase-late)" in said
    assert "0 faults on 0 machines" in said
    assert read_table(table).words("whole") == ("phase-late",)


def test_a_run_that_lasts_too_long_for_the_kitchen_is_no_false_trip(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(thresholds, "RUN_MAX_S", 600.0)
    table = tmp_path / "t.csv"
    words = ["ordeal", "dark", "--machines", "1", "--each", "12", "--table", str(table)]
    assert main([*words, *ALONE]) == Exit.DONE
    read = read_table(table)
    assert read.words("whole") == ("none",)
    assert len(tried_of(read.rows)) < 12


def test_rough_handling_takes_no_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["ordeal", "water-trial", "--rough", "--fault", "relay-welded", "--machines", "1"]
    assert main([*words, "--table", str(tmp_path / "t.csv"), *ALONE]) == Exit.USAGE
    assert "--rough breaks nothing" in capsys.readouterr().err


def test_a_fault_that_is_named_twice_is_drawn_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    twice = ["--fault", "memory-bit", "--fault", "memory-bit"]
    words = ["ordeal", "water-trial", *twice, "--machines", "1", "--each", "9", *ALONE]
    assert main([*words, "--table", str(tmp_path / "t.csv")]) == Exit.DONE
    phases = 2  # of the water trial: each fault once in each
    assert f"{phases} faults on 1 machines, water-trial" in capsys.readouterr().out
