"""What surrounds a run, bent: clocks that jump or sleep, disks that fail, a bit turned over."""

import errno
from pathlib import Path

import pytest

from controller.clock import PowerCut, VirtualClock
from controller.core.records import replace
from controller.errors import AccessError
from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.journal.inspection import inspect_file
from controller.journal.reader import read_run
from controller.ports import Kind, Quality, Source, Verb
from controller.trials.bent import BentClock, BrokerSwitch, Disk, Flood, Memory, OnTrueTime
from controller.wiring import Bench, BenchFault
from hardware.bench.attach import attach
from tests.helpers.batch import a_header, a_moment, still_clock


@pytest.fixture
def bench() -> Bench:
    """A bench with nothing broken."""
    return attach(
        machine="reference",
        seed=1,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset({"level", "shaft", "load"}),
    )


@pytest.fixture
def clock(bench: Bench) -> BentClock:
    """A clock at 100 s that does as the bench says."""
    clock = BentClock(VirtualClock(), bench)
    clock.wait_until(100.0)
    return clock


def times(clock: BentClock) -> tuple[float, float]:
    """What it says, and what it should say."""
    return clock.now_s(), clock.other_s()


def test_a_clock_with_no_fault_is_right(clock: BentClock) -> None:
    assert times(clock) == (100.0, 100.0)
    clock.wake()


@pytest.mark.parametrize(
    ("fault", "then_s"), [(BenchFault.CLOCK_FORWARD, 161.0), (BenchFault.CLOCK_BACK, 41.0)]
)
def test_a_clock_jumps_in_its_next_wait_and_goes_on_from_there(
    fault: BenchFault, then_s: float, bench: Bench, clock: BentClock
) -> None:
    bench.inject(fault, 60.0)
    assert times(clock) == (100.0, 100.0)
    clock.wait_until(101.0)
    assert times(clock) == (then_s, 101.0)
    clock.wait_until(then_s + 1.0)
    assert times(clock) == (then_s + 1.0, 102.0)


def test_a_clock_stands_still_while_the_computer_sleeps_once(
    bench: Bench, clock: BentClock
) -> None:
    bench.inject(BenchFault.CLOCK_STALL, 60.0)
    clock.wait_until(101.0)
    assert times(clock) == (101.0, 161.0)
    clock.wait_until(102.0)
    assert times(clock) == (102.0, 162.0)


def test_every_tick_of_an_overworked_computer_is_late(bench: Bench, clock: BentClock) -> None:
    bench.inject(BenchFault.TICK_LATE, 3.0)
    clock.wait_until(101.0)
    assert times(clock) == (104.0, 104.0)
    bench.clear(BenchFault.TICK_LATE)
    clock.wait_until(105.0)
    assert times(clock) == (105.0, 105.0)


def test_no_moment_comes_after_a_power_cut_but_the_machine_cools_on(bench: Bench) -> None:
    clock = BentClock(VirtualClock(), bench, dark_s=180.0)
    bench.inject(BenchFault.POWER_CUT)
    with pytest.raises(PowerCut):
        clock.wait_until(1.0)
    assert clock.now_s() == 180.0


def a_journal(disk: Disk, path: Path) -> None:
    """Write ten ticks down, the disk failing as it may."""
    journal = disk.open(path, header=a_header(), clock_s=still_clock)
    for run_s in range(0, 40, 4):
        moment = a_moment(float(run_s))
        journal.tell(moment)
        disk.tell(moment)
    journal.finish(None, "complete")


@pytest.mark.parametrize(
    ("fault", "number"),
    [(BenchFault.DISK_FULL, errno.ENOSPC), (BenchFault.DISK_READ_ONLY, errno.EROFS)],
)
def test_a_disk_that_fails_keeps_all_that_was_told_before(
    fault: BenchFault, number: int, bench: Bench, tmp_path: Path
) -> None:
    path, disk = tmp_path / "run.jsonl", Disk(bench)
    journal = disk.open(path, header=a_header(), clock_s=still_clock)
    for run_s in range(0, 400, 4):
        if run_s == 200:
            bench.inject(fault)
            disk.tell(a_moment(float(run_s)))
        journal.tell(a_moment(float(run_s)))
    journal.finish(None, "complete")
    assert journal.failure is not None
    assert journal.failure.errno == number
    assert [sample.t_s for sample in read_run(path).samples] == [4.0 * n for n in range(50)]
    assert inspect_file(path).broken is None


def test_no_run_starts_on_a_disk_that_is_broken_already(bench: Bench, tmp_path: Path) -> None:
    bench.inject(BenchFault.DISK_FULL)
    with pytest.raises(AccessError, match="no run starts without one"):
        Disk(bench).open(tmp_path / "run.jsonl", header=a_header(), clock_s=still_clock)
    assert list(tmp_path.iterdir()) == []


def test_a_whole_disk_writes_everything(bench: Bench, tmp_path: Path) -> None:
    a_journal(Disk(bench), tmp_path / "run.jsonl")
    assert len(read_run(tmp_path / "run.jsonl").samples) == 10


def test_a_bit_of_a_limit_turns_over_once(bench: Bench) -> None:
    known = load_machine_file(bench_machine_path("reference")).machine
    machine = replace(known)
    memory = Memory(bench, machine)
    memory.tell(a_moment(0.0))
    assert machine == known
    bench.inject(BenchFault.MEMORY_BIT)
    for run_s in range(3):
        memory.tell(a_moment(float(run_s)))
        assert machine.bath_max_c in {2.0 * known.bath_max_c, 0.5 * known.bath_max_c}
    assert replace(machine, bath_max_c=known.bath_max_c) == known


class Switched:
    """A broker that writes down what it is told."""

    def __init__(self) -> None:
        """Told nothing yet."""
        self.told: list[str] = []

    def start(self) -> None:
        """Start."""
        self.told.append("start")

    def stop(self) -> None:
        """Stop."""
        self.told.append("stop")


def test_a_broker_goes_away_and_comes_back(bench: Bench) -> None:
    broker = Switched()
    switch = BrokerSwitch(bench, broker)
    switch.tell(a_moment(0.0))
    bench.inject(BenchFault.BROKER_AWAY)
    switch.tell(a_moment(1.0))
    switch.tell(a_moment(2.0))
    assert broker.told == ["stop"]
    bench.clear(BenchFault.BROKER_AWAY)
    switch.tell(a_moment(3.0))
    assert broker.told == ["stop", "start"]


def test_a_flood_brings_answers_that_nobody_asked_for_over_the_link(bench: Bench) -> None:
    flood = Flood(bench)
    assert flood.take(0.0, None) == ()
    bench.inject(BenchFault.BROKER_FLOOD)
    requests = flood.take(1.0, None)
    assert len(requests) == 20
    assert {request.source for request in requests} == {Source.LINK}
    assert {request.verb for request in requests} == {Verb.ANSWER}


def test_a_bench_lives_in_true_time_whatever_its_computer_believes(bench: Bench) -> None:
    now_s = [0.0]
    true = OnTrueTime(bench, lambda: now_s[0])
    devices = true.devices
    devices.heater.drive(on=True, now_s=1e6)
    devices.stirrer.drive(rpm=30.0, now_s=-1e6)
    now_s[0] = 60.0
    for sensor in (devices.bath, devices.bowl, devices.level, devices.shaft, devices.load):
        assert sensor is not None
        assert sensor.read(1e9).quality is Quality.GOOD
    assert true.guard_probe.read(-1e9).quality is Quality.GOOD
    assert true.operator.take(0.0, None) == ()
    assert true.truth().energy_j == pytest.approx(60.0 * 500.0)


def test_what_a_bench_is_not_fitted_with_is_not_there_in_true_time_either() -> None:
    bare = attach(
        machine="reference",
        seed=1,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset(),
    )
    devices = OnTrueTime(bare, lambda: 0.0).devices
    assert (devices.level, devices.shaft, devices.load) == (None, None, None)
