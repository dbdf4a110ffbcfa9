"""The sweep on a Dask cluster: a real scheduler, real workers, one of them killed in the middle."""

from pathlib import Path

from controller.errors import Exit
from tests.helpers.process import end
from tests.helpers.sweep_process import cluster, start_sweep


def test_a_cluster_that_loses_a_worker_gives_the_bytes_of_one_process(tmp_path: Path) -> None:
    words = ("--machines", "10", "--fault", "relay-welded@hold+1min")
    with cluster(tmp_path, workers=2) as dask:
        process = start_sweep(tmp_path, "far.csv", *words, "--scheduler", dask.address)
        assert process.stdout is not None
        assert process.stdout.readline().startswith("1 of 10 machines")
        dask.workers[0].kill()
        code, out, err = end(process)
        assert (code, err) == (Exit.DONE, "")
        assert "10 of 10 machines" in out
        assert dask.workers[1].poll() is None
    code, _, _ = end(start_sweep(tmp_path, "near.csv", *words, "--processes", "1"))
    assert code == Exit.DONE
    assert (tmp_path / "far.csv").read_bytes() == (tmp_path / "near.csv").read_bytes()
    assert not list(tmp_path.glob("*.rows"))
