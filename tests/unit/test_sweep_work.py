"""What a worker does with its machines."""

import tempfile
from collections.abc import Mapping
from pathlib import Path

import pytest

from controller.errors import AccessError, ProfileError, UsageError
from controller.report.table import Cell
from controller.trials.sweep_work import build_text, run_numbers
from tests.helpers import sweeping


def test_each_number_becomes_a_row_that_begins_with_the_machines_name() -> None:
    rows = run_numbers(sweeping.work(seed=9), (4, 2))
    assert sorted(rows) == [2, 4]
    assert next(iter(rows[4].items())) == ("machine", "drawn-9-4")
    assert rows[4]["switches"] == 40
    assert rows[4]["failure"] == ""


def test_a_machine_whose_run_raises_is_a_row_with_its_sentence_and_the_others_go_on() -> None:
    rows = run_numbers(sweeping.work(sweeping.failing), (2, 3, 4))
    assert rows[3] == {
        "machine": "drawn-1-3",
        "exit": "failed",
        "failure": "ZeroDivisionError: the bowl holds nothing",
    }
    assert [rows[number]["exit"] for number in (2, 4)] == ["done", "done"]


def refused(machine: str, profile: str, faults: tuple[str, ...]) -> Mapping[str, Cell]:
    """Refuse the profile, as a machine in a hot room does."""
    raise ProfileError(f"{profile}, phase {faults}:\nno room for {machine}; add water")


def test_a_sentence_of_our_own_stands_as_it_is_on_one_line() -> None:
    row = run_numbers(sweeping.work(refused), (1,))[1]
    assert row["exit"] == "refused"
    assert row["failure"] == "water-trial, phase (): no room for drawn-1-1; add water"


def test_faults_and_the_profiles_name_reach_the_run() -> None:
    rows = run_numbers(sweeping.work(faults=("relay-welded@hold",)), (1,))
    assert rows[1]["told"] == "water-trial relay-welded@hold"


def test_a_file_of_the_users_own_runs_as_it_was_when_the_sweep_began() -> None:
    work = sweeping.work(
        sweeping.reading, profile="/not/on/this/worker/mine.toml", profile_text="title = '°'\n"
    )
    row = run_numbers(work, (1,))[1]
    assert row["told"] == "mine.toml"
    assert row["text"] == "title = '°'\n"


def test_a_worker_without_room_for_the_profile_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    with pytest.raises(AccessError, match=r"can't write the profile .*No such file"):
        run_numbers(sweeping.work(profile="mine.toml", profile_text="title = 1"), (1,))


def test_a_worker_of_another_build_takes_no_part() -> None:
    with pytest.raises(UsageError, match=r"another build .* than this sweep \(0\.0\.9 000\)"):
        run_numbers(sweeping.work(build="0.0.9 000"), (1,))


def test_a_build_is_told_by_version_files_python_and_processor() -> None:
    assert "Python 3." in build_text()
