"""What cooks do to a machine is no fault of the machine: it must not trip, nor go blind.

Amounts are own inventions; a run per case on the bench.
"""

from pathlib import Path

import pytest

from controller.clock import VirtualClock
from controller.core.interlocks import Cause
from controller.core.state import State
from controller.files.attach_shape import BenchAttach
from controller.files.profile_file import load_profile
from controller.ports import Moment
from controller.wiring import attach, guarded
from hardware.bench.attach import Bench, BenchFault
from tests.helpers.records import replace
from tests.helpers.runs import bench_for, bench_machine, finish


@pytest.mark.parametrize("machine", ["reference", "brisk"])
@pytest.mark.parametrize("profile", ["dark", "dark-seeded"])
@pytest.mark.parametrize("answer_after_s", [0.0, 300.0, 2400.0])
def test_a_cook_who_is_quick_or_slow_trips_nothing(
    answer_after_s: float, profile: str, machine: str, tmp_path: Path
) -> None:
    machine_file = bench_machine(machine)
    assert isinstance(machine_file.attach, BenchAttach)
    machine_file = replace(
        machine_file, attach=replace(machine_file.attach, answer_after_s=answer_after_s)
    )
    loaded = load_profile(profile, machine_file.machine)

    run = finish(machine_file, loaded, attach(machine_file, loaded, VirtualClock()), tmp_path)

    assert run.causes == []


class Pourer:
    """Swaps a share of the bath for cold water without a word, then may break the heater."""

    def __init__(self, bench: Bench, share: float, fault: BenchFault | None) -> None:
        """Act once, ten minutes into the hold."""
        self._bench = bench
        self._share = share
        self._fault = fault
        self.at_s: float | None = None

    def tell(self, moment: Moment) -> None:
        """Act when it is time."""
        if self.at_s is None and is_held(moment.state):
            self.at_s = moment.now_s
            self._bench.swap_water(share=self._share, water_c=15.0)
            if self._fault is not None:
                self._bench.inject(self._fault)


def is_held(state: State) -> bool:
    """Ten minutes into the hold of `dark`."""
    return state.progress.phase == 3 and state.progress.phase_s >= 600.0


@pytest.mark.parametrize("share", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("fault", [None, BenchFault.HEATER_DEAD])
def test_cold_water_that_nobody_announced_trips_nothing_and_hides_no_dead_heater(
    fault: BenchFault | None, share: float, tmp_path: Path
) -> None:
    machine_file = bench_machine("brisk")
    profile = load_profile("dark", machine_file.machine)
    bench = bench_for(machine_file, profile)
    pourer = Pourer(bench, share, fault)

    run = finish(
        machine_file, profile, guarded(bench, machine_file.machine), tmp_path, tellers=(pourer,)
    )

    assert pourer.at_s is not None
    assert run.causes == ([] if fault is None else [Cause.HEAT_WITHOUT_EFFECT])
