"""Machines on one core, on several, and what is said when that can't be."""

import importlib.util
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.errors import CrashError, UsageError
from controller.report.table import Row
from controller.trials.sweep_work import RunOne
from controller.trials.sweep_workers import Workers, chunked, here, on_cluster, on_cores
from tests.helpers import sweeping


def swept(workers: Workers, run_one: RunOne, numbers: range) -> dict[int, Row]:
    """All rows; none may come twice."""
    found: dict[int, Row] = {}
    for rows in workers(sweeping.work(run_one), numbers):
        assert not found.keys() & rows.keys()
        found |= rows
    return found


def lack(monkeypatch: pytest.MonkeyPatch, library: str) -> None:
    """Let a library seem not to be installed."""
    found = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == library else found(name)
    )


@pytest.mark.parametrize(
    ("machines", "workers", "size", "portions"),
    [(1000, 2, 8, 125), (10, 2, 1, 10), (40, 2, 5, 8), (1, 8, 1, 1), (0, 2, 1, 0)],
)
def test_work_is_handed_out_in_portions_that_leave_nobody_idle(
    machines: int, workers: int, size: int, portions: int
) -> None:
    chunks = chunked(range(1, machines + 1), workers)
    assert len(chunks) == portions
    assert all(len(chunk) <= size for chunk in chunks)
    assert [number for chunk in chunks for number in chunk] == list(range(1, machines + 1))


@pytest.mark.parametrize("processes", [1, None])
def test_without_the_library_there_is_one_process(
    processes: int | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    lack(monkeypatch, "joblib")
    assert on_cores(processes) is here
    assert sorted(swept(on_cores(processes), sweeping.quick, range(1, 4))) == [1, 2, 3]


def test_more_processes_than_a_computer_can_bear_are_refused() -> None:
    cores = len(os.sched_getaffinity(0))
    with pytest.raises(UsageError, match=rf"too many .* give at most {8 * cores}, 8 for each"):
        on_cores(8 * cores + 1)


@pytest.mark.parametrize(
    ("make", "extra"), [(lambda: on_cores(2), "sweep"), (lambda: on_cluster("x:1"), "cluster")]
)
def test_a_missing_library_is_said_in_one_sentence_with_its_extra(
    make: Callable[[], Workers], extra: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    lack(monkeypatch, {"sweep": "joblib", "cluster": "distributed"}[extra])
    with pytest.raises(UsageError, match=rf"pip install '\.\[{extra}\]'"):
        make()


def test_a_worker_killed_with_minus_nine_costs_no_row_and_no_row_twice(tmp_path: Path) -> None:
    mark = tmp_path / "died"
    found = swept(on_cores(2), sweeping.dying_once_at(mark), range(1, 21))
    assert mark.exists()
    expected = swept(here, sweeping.quick, range(1, 21))
    assert str(sorted(found.items())) == str(sorted(expected.items()))  # a NaN is no other NaN


def test_a_machine_that_kills_every_worker_ends_the_sweep_once_the_others_are_done() -> None:
    # One or two: what shares the pool with it may be lost with it each time.
    with pytest.raises(CrashError, match=r"3 times in a row .* with [12] machines left"):
        swept(on_cores(2), sweeping.dying, range(1, 41))


def test_a_last_machine_that_kills_its_worker_leaves_this_process_alive() -> None:
    with pytest.raises(CrashError, match=r"3 times in a row .* with 1 machines left"):
        swept(on_cores(2), sweeping.dying, range(5, 6))


def test_an_address_where_no_scheduler_answers_is_said_in_one_sentence() -> None:
    with pytest.raises(UsageError, match="No Dask scheduler answers at nowhere"):
        list(on_cluster("nowhere://here")(sweeping.work(), range(1, 3)))
