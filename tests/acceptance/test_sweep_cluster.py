"""The sweep on a Dask cluster: a real scheduler and real workers, which get lost."""

from pathlib import Path

import pytest

from controller.errors import CrashError, Exit, UsageError
from controller.trials import sweep_workers
from controller.trials.sweep_workers import on_cluster
from tests.helpers import sweeping
from tests.helpers.process import end
from tests.helpers.sweep_process import cluster, start_sweep

# What may happen to a task before Dask gives it up, and leaves it to us to give it out again.
PATIENT = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "3"}
IMPATIENT = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0"}

WORDS = ("--machines", "8", "--fault", "relay-welded@hold+1min")


@pytest.fixture(scope="module")
def near(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The table as one process writes it."""
    folder = tmp_path_factory.mktemp("near")
    assert end(start_sweep(folder, "t.csv", *WORDS, "--processes", "1"))[0] == Exit.DONE
    return (folder / "t.csv").read_bytes()


@pytest.mark.parametrize("settings", [PATIENT, IMPATIENT], ids=["by Dask", "by us"])
def test_a_cluster_that_loses_a_worker_gives_the_bytes_of_one_process(
    settings: dict[str, str], near: bytes, tmp_path: Path
) -> None:
    with cluster(tmp_path, 2, **settings) as dask:
        process = start_sweep(tmp_path, "far.csv", *WORDS, "--scheduler", dask.address)
        assert process.stdout is not None
        assert process.stdout.readline().startswith("1 of 8 machines")
        dask.workers[0].kill()
        code, out, err = end(process)
        assert (code, err) == (Exit.DONE, "")
        assert "8 of 8 machines" in out
        assert dask.workers[1].poll() is None
    assert (tmp_path / "far.csv").read_bytes() == near
    assert not list(tmp_path.glob("*.rows"))


def test_a_scheduler_without_a_worker_is_said_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sweep_workers, "WORKER_WAIT_S", 0.1)
    with (
        cluster(tmp_path, 0) as dask,
        pytest.raises(UsageError, match="has no worker; start one there"),
    ):
        list(on_cluster(dask.address)(sweeping.work(), range(1, 3)))


def test_a_cluster_without_bainward_is_said_in_one_sentence(tmp_path: Path) -> None:
    shadow = tmp_path / "controller"
    shadow.mkdir()
    (shadow / "__init__.py").write_text("raise ModuleNotFoundError('No module')\n", "utf-8")
    with (
        cluster(tmp_path, 1, PYTHONPATH=str(tmp_path)) as dask,
        pytest.raises(UsageError, match=r"No module.*install the same bainward on"),
    ):
        list(on_cluster(dask.address)(sweeping.work(), range(1, 3)))


def test_the_loss_of_the_last_worker_ends_the_sweep_with_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sweep_workers, "LOOK_S", 0.1)
    with (
        cluster(tmp_path, 1) as dask,
        pytest.raises(CrashError, match="has no worker any more"),
    ):
        list(on_cluster(dask.address)(sweeping.work(sweeping.dying), range(1, 13)))


def test_the_loss_of_the_scheduler_ends_the_sweep_with_a_sentence(tmp_path: Path) -> None:
    with cluster(tmp_path, 1) as dask:
        going = on_cluster(dask.address)(sweeping.work(), range(1, 100))
        next(going)
        dask.scheduler.kill()
        with pytest.raises(CrashError, match=r"scheduler at .* has gone"):
            list(going)
