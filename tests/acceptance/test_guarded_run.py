"""A run behind its guard is the same run: with both healthy nothing is written differently."""

from pathlib import Path

from controller.files.profile_file import load_profile
from controller.wiring import Attached
from tests.helpers.records import replace
from tests.helpers.runs import bench_for, bench_machine, finish, run_on_bench


def test_the_record_of_a_guarded_run_equals_that_of_an_unguarded_one(tmp_path: Path) -> None:
    for name in ("guarded", "bare"):
        (tmp_path / name).mkdir()
    machine_file = bench_machine()
    profile = load_profile("dark", machine_file.machine)
    bench = bench_for(machine_file, profile)
    bare_file = replace(machine_file, machine=replace(machine_file.machine, has_guard=False))
    attached = Attached(
        devices=bench.devices,
        panels=(bench.operator,),
        truth=bench.truth,
        farewell=lambda _now_s: None,
    )

    guarded = run_on_bench("dark", tmp_path / "guarded")
    bare = finish(bare_file, profile, attached, tmp_path / "bare")

    assert guarded.record.samples == bare.record.samples
    assert len(guarded.record.samples) > 1000
