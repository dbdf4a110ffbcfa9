"""A run behind its guard is the same run: with both healthy nothing is written differently."""

from pathlib import Path

from controller.core.profile import Profile, StopStirrer
from controller.core.state import EventName
from controller.files.machine_file import MachineFile
from controller.files.profile_file import load_profile
from controller.ports import Moment
from controller.wiring import Attached, guarded
from hardware.bench.attach import Bench, BenchFault
from tests.helpers.records import replace
from tests.helpers.runs import FaultAt, bench_for, bench_machine, finish, run_on_bench


def brisk() -> tuple[MachineFile, Profile, Bench, Attached]:
    """A quick machine with a guard beside it, and the classic curve."""
    machine_file = bench_machine("brisk")
    profile = load_profile("dark", machine_file.machine)
    bench = bench_for(machine_file, profile)
    return machine_file, profile, bench, guarded(bench, machine_file.machine)


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
        farewell=lambda _now_s, _tripped: None,
    )

    behind = run_on_bench("dark", tmp_path / "guarded")
    bare = finish(bare_file, profile, attached, tmp_path / "bare")

    # What is said at the start differs, of what nothing sees without a guard, and so their numbers.
    first, second = (
        [replace(sample, seq=0) for sample in run.record.samples] for run in (behind, bare)
    )
    assert first == second
    assert len(behind.record.samples) > 1000


def test_a_run_that_trips_leaves_its_guard_latched_with_the_trip_s_own_cause(
    tmp_path: Path,
) -> None:
    machine_file, profile, bench, attached = brisk()
    fault = FaultAt(bench, BenchFault.LEVEL_LOST, lambda state: state.run_s > 100.0)

    run = finish(machine_file, profile, attached, tmp_path, tellers=(fault,))

    assert run.causes == ["level-lost"]
    assert attached.devices.permit is not None
    permit = attached.devices.permit.read(0.0)
    assert permit.latched == "controller-tripped"
    assert permit.what == "a run tripped (level-lost)"


def test_the_guard_has_each_trip_in_its_own_tick_and_says_it_back_as_no_other(
    tmp_path: Path,
) -> None:
    machine_file, profile, bench, attached = brisk()
    assert attached.devices.permit is not None
    permit, latched = attached.devices.permit, []

    class Note:
        """What the guard has latched at the end of each tick."""

        def tell(self, moment: Moment) -> None:
            if any(event.name is EventName.TRIP_LATCHED for event in moment.events):
                latched.append(permit.read(moment.now_s).latched)

    faults = (
        FaultAt(bench, BenchFault.LEVEL_LOST, lambda state: state.run_s > 100.0),
        FaultAt(bench, BenchFault.BATH_PROBE_OPEN, lambda state: state.run_s > 100.0),
    )
    profile = replace(profile, stop_stirrer=StopStirrer.KEEP)

    run = finish(machine_file, profile, attached, tmp_path, tellers=(*faults, Note()))

    assert latched == ["controller-tripped"] * len(run.causes)
    assert run.causes[0] == "level-lost"
    assert "guard-latched" not in run.causes
